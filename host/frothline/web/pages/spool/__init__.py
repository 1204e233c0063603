"""The spool page: channels, uncertainties and calibration."""
