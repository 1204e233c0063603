"""From a recording to SI values: times, tables, exports."""
