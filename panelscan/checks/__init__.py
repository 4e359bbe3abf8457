"""Looking a page over before inking, and what moved between two stages."""
