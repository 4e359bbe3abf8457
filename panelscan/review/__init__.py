"""A local page for looking at pages and putting doubtful ones right."""
