"""Fitted coefficients of the confidences; written by `scripts/fit_confidence.py`."""

PANEL_WEIGHTS = (-3.0, 2.0, 3.0, -3.0, 2.0, -0.5, 0.0, -1.0, -0.5)
PAGE_WEIGHTS = (-4.0, 3.0, 2.0, -1.5, 0.5, 0.5, 0.0, -1.0)
