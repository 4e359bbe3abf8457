"""Fitted coefficients of the confidences; written by `scripts/fit_confidence.py`."""

PANEL_WEIGHTS = (
    -0.5812,  # one
    1.3278,  # least_side
    1.0692,  # mean_side
    -0.1446,  # blocked
    1.2339,  # stable
    0.0000,  # divided
    0.2464,  # round
    -1.1262,  # open
    -0.6955,  # small
    2.3363,  # voted
    0.3649,  # agreed
)

PAGE_WEIGHTS = (
    1.1749,  # one
    0.9566,  # least_panel
    1.0874,  # mean_panel
    -0.4564,  # left_out
    0.2069,  # gap
    -0.0465,  # ground
    0.5960,  # many
    0.0000,  # none
    -0.4613,  # disputed
    0.4652,  # all_panels
    -1.0775,  # borders_left
)
