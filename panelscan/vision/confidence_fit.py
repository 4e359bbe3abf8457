"""Fitted coefficients of the confidences; written by `scripts/fit_confidence.py`."""

PANEL_WEIGHTS = (
    0.4041,  # one
    1.5579,  # least_side
    1.3951,  # mean_side
    -0.6329,  # blocked
    0.7938,  # stable
    0.0140,  # divided
    0.3335,  # round
    -0.5320,  # open
    -1.8633,  # small
    1.9812,  # voted
    1.2918,  # agreed
)

PAGE_WEIGHTS = (
    0.6937,  # one
    1.5777,  # least_panel
    0.5009,  # mean_panel
    -0.1808,  # left_out
    1.2775,  # gap
    0.6130,  # ground
    -0.6036,  # many
    0.0000,  # none
    -0.2409,  # disputed
    1.7329,  # all_panels
    -1.0921,  # borders_left
)
