"""Fitted coefficients of the confidences; written by `scripts/fit_confidence.py`."""

PANEL_WEIGHTS = (
    -0.4514,  # one
    1.8965,  # least_side
    1.5621,  # mean_side
    -0.2634,  # blocked
    0.6571,  # stable
    -1.6304,  # divided
    0.3461,  # round
    -1.0634,  # open
    -2.5637,  # small
)

PAGE_WEIGHTS = (
    -0.6737,  # one
    1.0179,  # least_panel
    0.2983,  # mean_panel
    -1.3213,  # left_out
    -0.4409,  # gap
    0.8429,  # ground
    0.1348,  # many
    0.0000,  # none
)
