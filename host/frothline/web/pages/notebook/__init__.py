"""The notebook page: trials, effects, plan and recordings."""
