"""Fitted coefficients of the confidences; written by `scripts/fit_confidence.py`."""

PANEL_WEIGHTS = (
    0.1584,  # one
    1.8983,  # least_side
    0.7508,  # mean_side
    -0.2356,  # blocked
    0.6286,  # stable
    0.0000,  # divided
    0.1000,  # round
    -0.6510,  # open
    -1.9436,  # small
    2.5109,  # voted
    0.5099,  # agreed
)

PAGE_WEIGHTS = (
    0.1477,  # one
    1.5740,  # least_panel
    0.3506,  # mean_panel
    -0.6110,  # left_out
    -0.0848,  # gap
    0.0917,  # ground
    -0.5827,  # many
    0.0000,  # none
    -1.3517,  # disputed
    1.6961,  # all_panels
)
