"""Words of the full-screen guide: buttons, labels and sentences. Instructions are in ``sweep.guide_state``."""

from __future__ import annotations

# Text of the large button for each instruction.
BUTTONS = {
    "close": "Throttle is closed",
    "hold": "Settling",
    "steady": "Point saved",
    "open": "Fully open",
    "open_fully": "Fully open",
    "go_back": "Ready",
    "full": "This is full air",
    "foam": "Foam flows evenly",
    "little": "Fully turned",
    "more": "This is full air",
    "full_again": "This is full air",
}

BEFORE = (
    "A bleed is an open branch with a valve between air source and spool. Open, it gives the generator less air; "
    "closed, all of it. Without one, turn the source itself down and up."
)

OPEN_GUIDE = "Open full-screen guide"

NEXT, CLOSE, REDO, END = "Next", "Close", "Redo this point", "End sweep"
GUIDED_SWEEP = "Guided sweep"
SHOW_CURVE, SHOW_LINE = "Show the curve", "Show the line"
MEASURE_DRY, MEASURE_WET = "Measure dry", "Measure wet"
DRY_AND_WET = (
    "Dry: reservoir empty, packing dry. Wet: while it makes foam. About two minutes each. The model is then fitted to "
    "the measured points."
)
PROGRESS, GUIDE = "progress of the steady reading", "guided sweep"  # for screen readers
NO_POINT, TARGET = "no point yet", "target"


def points(count: int, wanted: int) -> str:
    return f"{count} of about {wanted} points"


def running(sweep: str) -> str:
    return f"{sweep} is running"


def until(pressure: str) -> str:
    return f"until about {pressure}"


def chart_about(count: int) -> str:
    return f"pressure over flow, {count} points"


def pressure_axis(unit: str) -> str:
    return f"pressure, {unit}"


def flow_axis(unit: str) -> str:
    return f"flow, {unit}"


def target_between(low: str, high: str, unit: str) -> str:
    return f", {TARGET} {low} to {high} {unit}"
