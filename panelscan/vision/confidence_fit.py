"""Fitted coefficients of the confidences; written by `scripts/fit_confidence.py`."""

PANEL_WEIGHTS = (
    -0.0620,  # one
    2.3117,  # least_side
    0.4354,  # mean_side
    -0.1053,  # blocked
    1.0803,  # stable
    0.0000,  # divided
    0.2490,  # round
    -0.8568,  # open
    -2.0601,  # small
    3.1776,  # voted
    0.0114,  # agreed
)

PAGE_WEIGHTS = (
    0.2143,  # one
    3.0065,  # least_panel
    0.3951,  # mean_panel
    -1.9122,  # left_out
    -0.1377,  # gap
    0.2486,  # ground
    -0.8776,  # many
    0.0000,  # none
    -1.6109,  # disputed
    0.1322,  # all_panels
)
