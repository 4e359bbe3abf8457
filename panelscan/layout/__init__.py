"""Polygons -> order, tiers, gutters and the other measures: pure geometry, no pixels."""
