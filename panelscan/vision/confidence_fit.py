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
    0.2557,  # one
    1.7977,  # least_panel
    0.3225,  # mean_panel
    -0.7401,  # left_out
    0.5835,  # gap
    0.4597,  # ground
    -0.9739,  # many
    0.0000,  # none
    -0.4617,  # disputed
    2.1655,  # all_panels
    -1.0570,  # borders_left
)
