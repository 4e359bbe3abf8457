"""Fitted coefficients of the confidences; written by `scripts/fit_confidence.py`."""

PANEL_WEIGHTS = (
    -0.4006,  # one
    2.1897,  # least_side
    1.4592,  # mean_side
    -0.2051,  # blocked
    0.4675,  # stable
    -1.7705,  # divided
    0.3151,  # round
    -0.9146,  # open
    -2.5946,  # small
)

PAGE_WEIGHTS = (
    -0.7022,  # one
    0.9971,  # least_panel
    0.3267,  # mean_panel
    -1.4196,  # left_out
    -0.1173,  # gap
    1.0799,  # ground
    -0.1268,  # many
    0.0000,  # none
)
