"""Fitted coefficients of the confidences; written by `scripts/fit_confidence.py`."""

PANEL_WEIGHTS = (
    0.2777,  # one
    1.1647,  # least_side
    0.8489,  # mean_side
    0.2076,  # blocked
    0.3662,  # stable
    0.0000,  # divided
    -0.0451,  # round
    -0.9829,  # open
    -1.0018,  # small
    2.4901,  # voted
    0.9008,  # agreed
)

PAGE_WEIGHTS = (
    0.8698,  # one
    0.8952,  # least_panel
    0.9874,  # mean_panel
    -0.7927,  # left_out
    0.2323,  # gap
    -0.2558,  # ground
    0.8528,  # many
    0.0000,  # none
    -0.0508,  # disputed
    0.6500,  # all_panels
    -1.1371,  # borders_left
)
