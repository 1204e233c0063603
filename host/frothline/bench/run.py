"""A run: foam while it is made, live or from a recording, and the watch over it."""

from __future__ import annotations

from .run_state import PHASES, FlowViews, Output, RunState, SampleTaken

__all__ = ["PHASES", "FlowViews", "Output", "RunState", "SampleTaken"]
