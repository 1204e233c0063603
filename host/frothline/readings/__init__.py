"""SI values from a recording: time axis, series, tables, exports."""
