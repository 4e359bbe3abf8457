"""Habits: what an artist's own pages say about how they lay out."""
