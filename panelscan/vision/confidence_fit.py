"""Fitted coefficients of the confidences; written by `scripts/fit_confidence.py`."""

PANEL_WEIGHTS = (
    0.4507,  # one
    1.0586,  # least_side
    1.0258,  # mean_side
    0.2678,  # blocked
    0.5274,  # stable
    0.0000,  # divided
    -0.3753,  # round
    -0.8852,  # open
    -1.1467,  # small
    2.0320,  # voted
    1.2320,  # agreed
)

PAGE_WEIGHTS = (
    0.8199,  # one
    0.8303,  # least_panel
    0.9222,  # mean_panel
    -0.7733,  # left_out
    0.0706,  # gap
    0.0698,  # ground
    0.6810,  # many
    0.0000,  # none
    -0.0723,  # disputed
    0.7534,  # all_panels
    -1.1555,  # borders_left
)
