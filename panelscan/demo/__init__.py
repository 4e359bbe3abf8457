"""An invented book with exact truth, drawn on the spot."""
