"""The run page: foam run, alarms and samples."""
