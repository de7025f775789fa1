"""Learning heel depth from reports: features, estimator, calibration, suggestion."""
