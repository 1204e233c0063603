"""Words of the run page: titles, buttons, labels and sentences. Those of the timer are in ``bench.sample_timer``."""

from __future__ import annotations

QUESTION = "How much foam, is all well, how long?"
INTERVALS = "Ranges are 95 % intervals"

# The three figures that answer the question: name in ``RunFigures``, title
ANSWERS = (("foam_rate", "Foam rate"), ("foam_total", "Foam made"), ("time_left", "Solution lasts"))

# Rows of the chart over time: name in ``RunCourse``, title, quantity
CHART = (
    ("pressure", "Pressure", "pressure"),
    ("foam_rate", "Foam rate", "foam_rate"),
    ("solution_left", "Solution left", "volume"),
)
CHART_ABOUT = (
    "Pressure, foam rate and solution left over the whole run, each with its 95 % interval; dashed: what source curve "
    "and build sheet let expect; crosses: alarms; diamonds: samples and notes"
)
CHART_TIME, MINUTES = "Minutes since the run began", "min"
EXPECTED = "predicted"
ALARMS, EVENTS = "Alarms", "Samples and notes"
CHART_KEY = (("measured", "measured"), ("predicted", "predicted"), ("alarm", "alarm"), ("event", "sample or note"))
SIDE_VIEW = "The generator of the build sheet, side view to scale"
SAMPLE = "Foam sample"
DETAILS = "Foam, solution and air in detail"
ALARM_LOG = "Alarm log"
FAULTS = "Try a fault (simulation)"

# --- the run
RUN_NAME, RUN_NAME_EXAMPLE = "Run name", "optional; default: date and time"
START, START_AGAIN, MAKE_FOAM, STOP = "Start a run", "Start another run", "Make foam (simulated)", "Stop the run"
MAKE_FOAM_ABOUT = (
    "This simulated line ends at a throttle. The button puts the simulated generator there, with the same air source, "
    "and starts a run."
)
REFILLED, SILENCE, FALSE_ALARM = "Refilled", "Silence", "False alarm"
MARKED_FALSE = "Marked as a false alarm"
DO, SEEN, LIKELY = "Do: ", "Seen: ", "Likely: "
NO_SOURCE, SWEPT_SOURCE = "no air source measured yet", "the measured air source"
ALL_WELL = "No alarm"


def calculated_with(build: str, source: str) -> str:
    return f"Generator: {build}. Calculated with: {source}."


def sample_event(density: str) -> str:
    return f"sample: {density}"


# --- details
NO_RUN = (
    "A run shows foam and solution while they are made, and detects faults on the line. It takes the generator from "
    "the build sheet and the air source from its sweep. Both may be missing; this page then lists the faults that "
    "cannot be detected."
)
# name of the figure, its title, its quantity
MORE = (
    ("density", "Foam density, in the bucket", "density"),
    ("density_in_line", "Foam density, in the generator at its pressure", "density"),
    ("expansion", "Expansion ratio", "1"),
    ("capture", "Air retained in foam", "%"),
    ("foam_left", "Foam remaining", "volume"),
    ("solution_left", "Solution left", "volume"),
    ("solution_rate", "Solution rate", "foam_rate"),
    ("air_used", "Air used, as free air", "air_volume"),
)
MORE_TABLE, VIEWS_TABLE = "Foam and solution", "Cross-check of air flow"
VIEWS = (("anemometer", "Anemometer"), ("by_source", "Source curve"), ("by_build", "Build sheet"))
NOT_KNOWN = "not known"
LOG_TABLE, LOG_HEADS = "Alarms of this run", ("at", "alarm", "seen", "state")
ACTIVE, FALSE = "active", "false alarm"


def over_after(time: str) -> str:
    return f"over after {time}"


# --- simulated faults
FAULTS_ABOUT = "Press once to start a fault, again to end it."
CLEAR_FAULTS, REFILL = "Clear all faults", "Refill the reservoir"

# --- samples
TAKE_SAMPLE, CONTINUE_SAMPLE = "Take a sample", "Continue the sample"
NO_RUN_SAMPLE = (
    "Without a run the air that went into the bucket is not known: the sample gives density and drainage, but not "
    "the air retained in the foam."
)
SAMPLES_TABLE = "Samples, newest first"
SAMPLE_ROWS = (
    ("density", "Foam density", "density"),
    ("expansion", "Expansion ratio", "1"),
    ("gas_fraction", "Gas in the foam", "%"),
    ("output", "Foam rate", "foam_rate"),
    ("capture", "Air retained in foam", "%"),
    ("drainage", "25 % drainage time", "time"),
    ("half_drainage", "50 % drainage time", "time"),
    ("drained_share", "Drained after 5 min", "%"),
)
SAMPLE_WHY = {
    "output": "not timed",
    "capture": "no air flow known",
    "half_drainage": "three readings needed",
}
NOT_READ = "not read yet"
LIMITS_TABLE = "Latest sample against typical limits"
LIMITS_HEADS = ("result", "limits", "applies to", "source")
VERDICTS = {"inside": "inside", "below": "below", "above": "above", "open": "borderline"}
CORRECT_SAMPLES = "Correct a saved sample"
CORRECT_ABOUT = (
    "The recording stores the sample as it was, and each correction with its date. Pages, reports and the notebook use "
    "the corrected values."
)
SAVE_CORRECTION, CLOSE_CORRECTION = "Save correction", "Close"
WITHDRAW, COUNT_AGAIN = "Withdraw this sample", "Count this sample again"
CORRECTION_HINTS = {
    "fill": "s, or: not timed",
    "start": "s since the recording began",
    "end": "s since the recording began",
    "drained": "since full, in all, like 60 s: 14 mL; 120 s: 27 mL; three or more give the drainage curve",
    "depth": "optional",
    "note": "optional",
}
DRAINAGE_TABLE = "Drainage curve of the readings, with 95 % intervals"
QUARTER_TIME, HALF_TIME, DRAINAGE_RATE = "25 % drainage time", "50 % drainage time", "foam height over 25 % time"
NO_DEPTH = "the depth of the foam is not given"
NOT_RECORDED = "No recording was running: the sample is available in this session only."


def sample_head(number: int, counts: bool) -> str:
    return f"sample {number}" if counts else f"sample {number}, withdrawn"


def correct_sample(number: int) -> str:
    return f"Correct sample {number}"


def correcting(number: int, corrections: int) -> str:
    again = f", corrected {'once' if corrections == 1 else f'{corrections} times'}" if corrections else ""
    return f"Sample {number}{again}"


def was(text: str) -> str:
    return f"not saved yet; was {text or 'empty'}"


def saved_in(name: str) -> str:
    return f"Saved in {name}."


def not_reached(time: str) -> str:
    return f"not reached in {time} min"


# --- the timer
MINIMISE, DONE, CANCEL, USE_ANYWAY = "Minimise", "Done", "Cancel", "Use it as it is"
BEFORE = "weigh the empty bucket first; press when the foam flows in"
UNTIL = "press when the bucket is full"
CHECK, CHECK_ABOUT = "check the sample", "not used yet: correct a value and press Save weight, or use it as it is"
LEVEL = "level with the rim, outside wiped"
SIMULATED_BUCKET = "simulated bucket: weight and fill time come from the simulation"
ALL_READ = "all read"
FILL_EXAMPLE, OPTIONAL = "s, or: not timed", "optional"


def filled_in(seconds: float) -> str:
    return f"filled in {seconds:.1f} s"


def next_reading(at: str) -> str:
    return f"next reading {at}"


def read_now(at: str) -> str:
    return f"read it now, {at}"


def total_drained(done: int, readings: int) -> str:
    return f"Total drained ({done} of {readings} read)"


def between(low: str, high: str, unit: str) -> str:
    return f"{low} to {high} {unit}" if high else f"{low} {unit} or more"


def at_minute(minute: float) -> str:
    return f"at {minute:.0f} min"


def in_time(time: str) -> str:
    return f"in {time}"
