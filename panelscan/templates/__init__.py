"""A grid, cleaned up, as a layered page to draw on."""
