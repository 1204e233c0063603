"""Words of the source page: titles, buttons, labels and sentences. Why a replay has none is in ``bench``."""

from __future__ import annotations

from collections.abc import Sequence

QUESTION = "What can this air source deliver?"
INTERVALS = "Ranges are 95 % intervals"
PRESSURE, FLOW, AIR_POWER = "pressure", "flow", "air power"
CHART_ABOUT = (
    "Pressure over flow: the curve of the air source with its 95 % band, the points, and the current reading. The "
    "figures next to the chart show the same values."
)
COMPARE = "Compare with other sources"
TREND, TREND_ABOUT, TREND_RANGE = "Live trend", "Pressure, flow and air power over time.", "time range of the trend"
PERFORMANCE = "Performance at this site"
RESULTS = (
    ("fit-shut_off", "shut-off pressure"),
    ("fit-free_delivery", "free delivery"),
    ("fit-air_power", "peak air power"),
)
GUIDED_SWEEP = "Guided sweep"
NO_CURVE = "No curve yet:<br>press “Guided sweep” to measure it"
NO_CURVE_IN_REPLAY = "No curve:<br>none is measured during a replay"
NO_FIT, NO_FIT_IN_REPLAY = "Measure the curve with a guided sweep.", "No curve is measured during a replay."
CALCULATING, MORE_POINTS, NOT_KNOWN = "calculating the curve", "more points are needed", "not known yet"
POINT, NO_POINT, NONE_IN_REPLAY = "point", "no point yet", "no curve in a replay"
WAITING = "waiting for the first readings"

# --- recording and notes
RECORDING, START_RECORDING = "Recording and notes", "Start recording"
RECORDING_NAME, RECORDING_EXAMPLE = "recording name", "by date and time"
NO_RECORDING = "No recording was running"
NOTE, NOTE_EXAMPLE, ADD_NOTE = "Note", "hose kinked, bucket full", "Add note"
NOTE_ADDED, NOTE_NOT_SAVED = "Note added to the recording", "Note not saved: no recording is running"

# --- the throttle of a simulated rig
THROTTLE, BLEED = "Throttle", "Bleed"
HAND_FOLLOWS = "A simulated hand follows the guide. Move the slider to do it yourself."
YOU_TURN = "You turn it. Follow the guide."
LET_HAND = "Let the simulated hand do it"

# --- comparison with other sweeps
HERE = "Measured here"
NO_OTHER = "No other sweep in the folder of the recordings yet."
READING = "reading"
OTHER_TABLE = "Performance, with 95 % intervals"
OTHER_HEADS = ("source", "shut-off pressure", "free delivery", "peak air power")
CALCULATING_DRIVE = "calculating"
DRIVE_TABLE = "Wet, with the build on the generator page; best first"
DRIVE_HEADS = ("source", "drives it", "operating point", "")
SHUT_OFF, FREE_DELIVERY = "shut-off", "free delivery"
SIMULATED_MARK = " (simulated)"


def move_slider(name: str) -> str:
    return f"Move the slider and watch the dot: {name.lower()} closed on the left, fully open on the right."


def simulated(name: str) -> str:
    return f"{name} (simulated)"


def recording_stopped(path: object) -> str:
    return f"Recording stopped. Saved in {path}"


def recording_to(path: object) -> str:
    return f"Recording to {path}"


def no_curve_yet(why: str) -> str:
    return f"No curve yet: {why}"


def standard_air_unknown(why: str) -> str:
    return f"In standard air, 1.2 kg/m³: not known, {why}"


def standard_air(found_in: float, figures: str) -> str:
    return f"In standard air, 1.2 kg/m³ (here: {found_in:.2f} kg/m³): {figures}"


def show_on_chart(most: int) -> str:
    return f"show on chart, up to {most}"


def which_drive(generator: str) -> str:
    return f"Which of these can drive the generator “{generator}”?"


def at(pressure_and_flow: list[str]) -> str:
    return " at ".join(pressure_and_flow)


# --- sources as files
FILES = "Sources without the rig, and files to pass on"
BY_HAND = "Enter points by hand"
BY_HAND_ABOUT = (
    "Drilled plates with a U-tube, or a maker's table of orifice, suction and flow. The source can then be chosen "
    "wherever a recorded sweep can."
)
SOURCE_NAME, SOURCE_EXAMPLE = "name of the source", "leaf blower"
TABLE = "table of points"
TABLE_EXAMPLE = "hole (mm); U-tube (mm)\n16; 480\n24; 430\n32; 350\n40; 250\n50; 120"
TABLE_HINT = (
    "First line: columns with units. Known: hole, pressure, U-tube, suction, flow, thickness, room temperature, room "
    "pressure. Five points or more."
)
TABLE_FILE = "or from a file (CSV)"
SAVE_POINTS = "Save points"
KEEP, SAVE_CURVE = "Pass the measured curve on", "Save curve as a file"
KEEP_ABOUT = "One file with the points, their errors and the figures. Others can use it in place of a recording."
GROUP, GROUP_EXAMPLE = "kind", "workshop vacuum"
UNMEASURED, SAVE_UNMEASURED = "A source of this kind, unmeasured", "Use an unmeasured one"
UNMEASURED_ABOUT = (
    "From the measured sources in the folder “sources”: their mean curve, with the spread between units as its "
    "interval."
)
NO_KIND, CHOOSE_KIND = "no kind is chosen", "Choose a kind"
WHEN_SAVED = "when the curve was saved"
FILTER = "Loaded filter"


def of_kind(name: str, number: int) -> str:
    return f"{name} ({number} measured)"


def saved(path: object) -> str:
    return f"Saved in {path}."


def points_saved(path: object, shut_off: str, free_delivery: str, notes: Sequence[str]) -> str:
    """``notes`` : what was assumed"""
    return ". ".join([f"Saved in {path}: shut-off {shut_off}, free delivery {free_delivery}", *notes])


def loaded(name: str, words: str, shut_off: str, free_delivery: str) -> str:
    return f"{name}: {words}. With it: shut-off {shut_off}, free delivery {free_delivery}"
