"""The page of the spool and its calibration."""
