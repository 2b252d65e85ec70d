"""The gain-curve model, calibration, posterior draws and attribution."""
