"""Words of the spool page: titles, buttons, table heads, sentences. Names of procedures: ``sensors.procedures``."""

from __future__ import annotations

QUESTION = "Is everything working, and how accurate is it?"
# --- live readings, health, notes, budget
CHANNELS, CHANNEL_HEADS = (
    "Live readings",
    ("channel", "reading", "95 % interval, or reason", "state", "sensor", "basis"),
)
HEALTH, HEALTH_TABLE = "Health of the link", "Health of the link, since the program started"
NOTES, NOTES_TABLE, NOTES_HEADS = "Notes and events", "Notes and events, newest first", ("when", "what", "words")
BUDGET, BUDGET_TABLE = "Uncertainty budget", "Standard uncertainty of each contribution and its share"
BUDGET_HEADS = ("figure", "contribution", "size", "share", "from")
# Common names of parts; a part not listed here is shown by its protocol name.
SENSORS = {
    "mpx5050": "MPX5050",
    "mpx5010": "MPX5010",
    "mpxv7025": "MPXV7025",
    "mpxv7007": "MPXV7007",
    "mpxv7002": "MPXV7002",
    "linear_pressure": "linear sensor",
    "pulse_rotor": "pulse rotor",
    "thermal_module": "hot-film module",
    "ntc_10k_3950": "NTC 10 kΩ, B 3950",
    "ntc_10k_3977": "NTC 10 kΩ, B 3977",
    "ntc_10k_3435": "NTC 10 kΩ, B 3435",
    "bandgap_1v1": "the chip's own reference",
    "bme280": "BME280",
    "bmp280": "BMP280",
    "hx711_a128": "HX711",
}
DERIVED, DATA_SHEET, OUTSIDE_RANGE = "calculated", "data sheet", ", outside its range"
NO_SIGNAL, NO_VALUE, SOUND = "no signal", "no value", "OK"
NO_DATA_LOST = "no data lost"
EVENT, NO_EVENT = "event", "none yet"
BOARD, LAST_START, PORT, FRAMES = "board", "last start", "port", "frames"
CLOCK_DRIFT, VIEWERS = "board clock against this computer", "open viewers"

# --- calibrations at rest
CALIBRATION, CALIBRATE, HISTORY = "Calibration", "Calibrate", "Calibration history"
NEEDS = {  # equipment of each procedure, in one line
    "pressure": "water manometer (clear hose bent to a U), ruler, thermometer",
    "flow-bag": "a bag of known volume, and a hand to put it over the end of the line",
    "flow-plates": "the set of drilled plates, a calliper",
    "thermal-plates": "the set of drilled plates with a blind one, a calliper",
    "scale-masses": "three or more known masses",
    "scale-water": "a measuring jug, a bucket, water",
    "temperature": "crushed ice, warm water, a thermometer",
    "supply": "a multimeter",
}
NAMES = {
    "pressure": "pressure at the tap",
    "differential": "pressure across the orifice",
    "rotor": "flow, by the rotor",
    "thermal": "flow, by the hot film",
    "scale": "scale",
    "temperature": "temperature in the spool",
    "supply": "supply of the board",
    "plate": "drilled plate",
}
ZERO_ONLY, ZERO_ONLY_ABOUT = "zero only", "reading with the source at rest; data-sheet slope"
PREVIOUS_NOT_USED = "previous calibration not in use"
NOTHING_CALIBRATED = "Nothing is calibrated yet: data-sheet figures are used, and their intervals are wide."
UNDATED, DATE_NOT_KNOWN, POINTS_NOT_RECORDED = "undated", "date not known", "points not recorded"
FOR_ANY_BOARD = "for any board"
NO_CALIBRATION = "No calibration was made yet"
HISTORY_HEADS = ("when", "channel", "change", "by", "board", "details")
FUTURE, TODAY = "date in the future: check this computer's clock", "today"
SHOW_LARGE = "Show full-screen"
AGAINST_REFERENCE, YOUR_NAME = "Calibrate against a reference", "Your name (saved in the file)"
ZERO, ZERO_ABOUT = "Zero", "With the source stopped and the line open to the room, or the pan empty."

# --- a calibration under way
CANCEL, REDO_POINT = "Cancel calibration", "Redo this point"
BAG_ON, TAKE_READING, BAG_FULL = "Bag on – start", "Ready – take reading", "Bag full – stop"
PROGRESS_OF_HOLD = "progress of the hold"
SAVE, ANOTHER_POINT, DROP_POINT = "Save calibration", "Another point", "Drop the last point"
FILLING, HOLD_SETTING, POINT_SAVED = "Filling", "Hold the setting", "Point saved"
PRESS_WHEN_FULL, WHEN_STEADY = "press when the bag is full", "the reading is taken when it is steady"
MORE_POINTS = "More points over a wide range reduce the uncertainty"
POINTS_SO_FAR = "Points so far; the residual is the distance of each point from the fitted line"
POINT_HEADS = ("", "reference", "reading", "residual")
SAVED, BACK, RESIDUALS = "Saved and in use", "Back to the spool", "Residuals of the fitted line"
KINGS_LAW = "King's law"
ORDERS, ANY_ORDER = {1: "one constant", 2: "a straight line", 3: "a quadratic"}, "a line"
TAKING_ZERO = "Taking the zero: five seconds. It is saved automatically"
NONE_UNDER_WAY, START_ONE = "no calibration is under way", "Start one below"
CALIBRATION_PLACE, CALIBRATED_WORD = "calibration", "calibrated"


def lost(count: int) -> str:
    return f"{count} lost or damaged" if count else NO_DATA_LOST


def firmware(board: str, version: str) -> str:
    return f"{board}, firmware {version}"


def start(cause: str, number: int) -> str:
    return f"{cause}, start number {number}"


def frames(count: int, rate: float) -> str:
    return f"{count}, {rate:.0f} a second"


def drift(value: str, interval: str, *, fast: bool) -> str:
    return f"{value} ppm {'fast' if fast else 'slow'}, {interval}"


def ago(seconds: float) -> str:
    return f"{seconds:.0f} s ago"


def use_previous(channel: str, before: str) -> str:
    return f"Use previous: {channel} ({before})"


def previous_in_use(channel: str, path: object) -> str:
    return f"{channel}: previous calibration in use, saved in {path}"


def saved_in(path: object) -> str:
    return f"Saved in {path}"


def zeroed_since(reading: float) -> str:
    return f"zeroed since: {reading:.5g}"


def for_board(board: str, *, here: bool) -> str:
    return f"for board {board}" if here else f"for board {board}: not this board, not used"


def calibrated_on(when: str, by: str) -> str:
    return f"calibrated {when}{by}"


def residuals_up_to(size: str) -> str:
    return f"residuals up to {size}"


def calibrations_in(path: object) -> str:
    return f"Calibrations in {path}, newest first"


def of_channels(count: int, fitted: int) -> str:
    return f"{count} of {fitted} channels calibrated"


def calibrate_again(age: str) -> str:
    return f"{age}: calibrate again"


def under_way(title: str, problem: str) -> str:
    return f"A calibration is under way: {title}. {problem} "


def zero_of(channel: str) -> str:
    return f"Zero the {channel}"


def points_of(points: int, fewest: int) -> str:
    return f"{points} of at least {fewest} points"


def of_date(date: str) -> str:
    return f"of {date}"


def by_person(who: str) -> str:
    return f"by {who}"


def what_of(what: str, of: str) -> str:
    return f"{what} (of {of})" if of else what


def days(count: int) -> str:
    return f"{count} day{'s' if count > 1 else ''}"


def months(count: float) -> str:
    return f"{count:.0f} months"


def years(count: float) -> str:
    return f"{count:.0f} years"
