"""Words of the notebook page: titles, buttons, table heads, hints and sentences; figures: ``trials.figures``."""

from __future__ import annotations

from frothline.bubble_size.photo_notes import SHORTEST

QUESTION = "What did I try, what made a difference, what next?"
TRIALS, COMPARISON, NEXT_TRIAL, PLAN = "Trials", "Comparison", "Next trial", "Plan"
EFFECTS, ALL_RECORDINGS = "What made a difference", "All recordings"
CALCULATING, NOT_KNOWN, READING_FOLDER = "calculating", "not known", "reading the folder"
INTERVAL = "95 % interval"

# --- folder
OWN_RECORDINGS, EXAMPLE_DATA = "My recordings", "Example data (simulated)"
WHICH_RECORDINGS = "which recordings"  # for screen readers
SIMULATED = "Simulated: no real generators and no weighed foam."

# --- trials
NO_TRIAL_YET = "A trial is a run with its build sheet and its weighed samples. Record a run to see it here."
TRIAL = "trial"
REPORT, REPORT_OF_ALL = "report", "Report of all trials"
NO_DEPTH = "depth of foam not recorded"

# --- comparison
NO_TRIAL, SELECT_SECOND = "No trial yet", "Select a second trial to see the changes."
VALUES_AND_DRAWING = "Values of each trial, and drawing"
CHANGE_HEADS = ("", "change, 95 % interval", "before → after")
VALUES_TABLE = "Figures with 95 % intervals"
PARTS_HEADS = ("part", "before", "after")
PHOTO_GONE = ": missing or unreadable"
SAVE_NOTE = "Save note"

# --- recordings
KINDS = {
    "all": "all",
    "sweep": "sweeps",
    "generator sweep": "generators swept",
    "run": "runs",
    "trouble": "damaged or unreadable",
}
STATES = {
    "open": "being written or incomplete",
    "newer": "written by a newer version",
    "unreadable": "damaged, cannot be read",
}
SEARCH, WHICH_KIND = "search in title, build, source, notes", "which kind of recordings"
RECORDINGS_TABLE, RECORDING_HEADS = (
    "Recordings, the newest first",
    ("recording", "kind", "length", "source", "state", "", ""),
)
NOTHING_FOUND = "nothing found"
SIMULATED_MARK = " (simulated)"

# --- how to measure the bubbles of a photo
MEASURE_PHOTO, SAVE_PHOTO, PIXELS = "Measure its bubbles", "Measure", "pixels across and down, like 120, 300"
MEASURE_ABOUT = (
    "Without a printed target: two marks of a ruler at the pane, and the length between them. The ruler is beside "
    "the foam; bubbles are measured in the middle of the photo."
)
NOT_MEASURED_YET = "No printed target was found in this photo, and no scale is given."
MEASURE_ASKED = f"{NOT_MEASURED_YET} {MEASURE_ABOUT}"
PHOTO_NOTES = {
    "first": "First mark",
    "second": "Second mark",
    "length": "Length between the marks",
    "jar": "Inner diameter of a round wall, empty for a flat pane",
    "ruler": "Printed ruler of a target, as measured",
}

# --- two marks of a ruler set on the photo
SET_MARKS, MARKS_DONE = "Set the marks on the photo", "Done"
MARKS_STEPS = {
    "first": "Tap the ruler at the first mark.",
    "second": "Tap the ruler at the second mark, as far from the first as the ruler goes.",
    "both": "Correct a mark by the magnified picture or the arrows, then enter the length between the marks.",
}
MARKS_NEAR = f"The marks are less than {SHORTEST:.0f} pixels apart: take marks that are farther apart."
MARKS_GONE = "The photo is missing or unreadable."
MARKS_PHOTO = "The photo with the ruler"
MARKS_STAGE = "Photo. Arrow keys move the chosen mark by one pixel, with Shift by 50."
MARKS_LENS = "Magnified surroundings of the chosen mark; drag them to move it"
WHICH_MARK, MOVE_MARK, NOT_SET = "Mark to move", "Move the mark by one pixel", "not set"
MARK_MOVES = {"up": (0, -1, "↑"), "left": (-1, 0, "←"), "right": (1, 0, "→"), "down": (0, 1, "↓")}

# --- notes, photos and reports: errors
NO_PHOTO, NO_REPORT = "No photo", "No report"
PHOTO_UNKNOWN, RECORDING_UNKNOWN = "this photo is not in the notebook", "this recording is not in the notebook"
OWN_ONLY, EMPTY_NOTE, NOTE = "notes can be added to your own recordings only", "the note is empty", "note"
NO_DATA = "no data for a report yet"

# --- effects
CLEAR, NOT_CLEAR, UNKNOWN = "clear effect", "not clear", "unknown"
OR_DRIFT = "effect or drift"
WHICH_FIGURE = "which figure"  # for screen readers
CHANGE, FROM_TO, EFFECTS_CHART = "change", "from, to", "effects"
SEPARATING_RUNS = "Runs that would separate them:"
NONE_SEPARATED = "no effect can be separated"

# --- next trial
NO_PLAN = "No plan in this folder yet. Name targets and parts in the part Plan; it is saved as plan.toml."
MAKE_PLAN, REMOVE, UNDO = "Make a plan", "Remove it from the plan", "Undo the last change"
TARGET = "Target: "
SAME = "same"
SETTINGS, SETTINGS_AND_EXPECTED = "Settings to build", "Settings to build, and expected results"
EXPECTED, EXPECTED_HEADS = "Expected results", ("figure", "expected", INTERVAL)
PLAN_UNREADABLE, NO_PLAN_YET = "the plan cannot be read", "no plan yet"
FIRST_RUNS, FIRST_RUNS_HEADS = "Make these runs first, in this order", ("", "solution", "settings", "why")

# --- plan
PLAN_ABOUT = (
    "Name what is to become better, and which parts may be changed between which sizes. The next trial is then "
    "proposed from the trials of this folder. Sizes have units, like 250 mm or 1/2 in."
)
NOT_OWN = "The plan of the example data cannot be changed. Choose “My recordings” to make a plan."
NO_BUILD, GENERATOR = "A plan begins with a build: save one on the generator page.", "Generator"
UNREADABLE, NONE_YET, NOT_SAVED = "cannot be read", "none yet", "not saved yet"
REFERENCE, BATCHES = "Build to begin with", "Solution batches for the first trials"
SAVE_PLAN = "Save plan"
TARGETS, AT_LEAST, AT_MOST, TIME_EXAMPLE = "What is to become better", "At least", "At most", "like 10 min"
PARTS = "Parts that may be changed"
SMALLEST, LARGEST, BETWEEN = "Smallest size", "Largest size", "Sizes between"
BETWEEN_HINT = "optional, divided by semicolons"


def report_of(title: str) -> str:
    return f"report of {title}"


def batch(number: object) -> str:
    return f"batch {number}"


def select_trials(most: int) -> str:
    return f"Trials, the newest first; select up to {most} to compare"


def change_between(before: str, after: str) -> str:
    return f"Change from “{before}” to “{after}”"


def entries_changed(title: str, count: int) -> str:
    return f"{title}: {count} {'entry' if count == 1 else 'entries'} changed"


def changed_view(build: str, parts: str) -> str:
    return f"side view of {build}, the changed parts heavy: {parts}"


def selected(count: int) -> str:
    return f"{count} selected"


def with_problems(count: int) -> str:
    return f"{count} with problems"


def damaged(count: int) -> str:
    return f"{count} damaged or unreadable"


def notes(count: int, *, alarms: bool) -> str:
    return f"Notes and alarms ({count})" if alarms else f"Notes ({count})"


def photo(name: str) -> str:
    return f"photo {name}"


def outlines(name: str) -> str:
    return f"outlines of the bubbles in photo {name}"


def bubble_diameter(value: str) -> str:
    return f"Bubble diameter {value}"


def photos_of(photos: str, title: str) -> str:
    return f"{photos} of {title}"


def note_on(title: str) -> str:
    return f"a note on {title}"


def none_yet(word: str) -> str:
    return f"no {word} yet"


def found(recordings: str) -> str:
    return f"{recordings} found"


def more_found(count: int) -> str:
    return f"and {count} more: use the search to find them"


def saved_in(path: object) -> str:
    return f"Saved in {path}"


def correct(samples: str) -> str:
    return f"Correct {samples}"


def effect_by(figure: str) -> str:
    return f"{figure} by"


def change_of(figure: str, unit: str) -> str:
    return f"change of the {figure}, {unit}"


def effects_about(figure: str) -> str:
    return f"effects on the {figure} with their intervals; the table shows the same values"


def effects_table(figure: str, trials: str) -> str:
    return f"Effects on the {figure}, {trials}"


def clear_effects(clear: int, effects: str) -> str:
    return f"{clear} of {effects} clear"


def excluded(trials: str) -> str:
    return f"{trials} excluded"


def target(figure: str, low: str, high: str, unit: str) -> str:
    words = f"{low} to {high}" if low and high else f"{low} or more" if low else f"{high} or less"
    return f"{figure} {words} {unit}".strip()


def planned_after(names: str) -> str:
    return f"Planned after it: {names}."


def settings_heads(title: str) -> tuple[str, ...]:
    return ("part", "setting", f"in “{title}”")


def next_view(title: str, parts: str) -> str:
    return f"side view of the build to try; heavy lines: what differs from “{title}”: {parts}"


def missing(build: str) -> str:
    return f"{build}: missing or unreadable"


def target_number(number: int) -> str:
    return f"Target {number}"


def part_number(number: int) -> str:
    return f"Part {number}"


def size_now(size: str) -> str:
    return f"now {size}"


# --- agents
AGENTS, AGENTS_TABLE = "Foaming agents", "Foaming agents of this folder"
AGENT_HEADS = ("", "surface tension", "as written")
NOT_MEASURED = "not measured"
NO_AGENTS = (
    "No agent is written down in this folder. `frothline agents --new NAME` writes a file to fill in: dilution, water, "
    "and the weight of drops, which gives the surface tension."
)


def not_compared(why: str) -> str:
    return f"Agents are not compared: {why}"


def compared(figure: str, days: str) -> str:
    return f"Agents compared: {figure}, {days} as blocks"


# --- a recording over time
LOOK_AT, RECORDING_OVER_TIME = "Look at it", "A recording over time"
NO_LOOK, CHOOSE_LOOK = "none chosen", "Choose “Look at it” in the list of all recordings."
LOOK_ABOUT = "lowest and highest values of the recording over time; the table shows them for the part that is drawn"
MOVES = {"shorter": "Shorter", "longer": "Longer", "earlier": "← Earlier", "later": "Later →", "whole": "All of it"}
MOVE_PART = "which part of the recording"
PART_READ, STILL_RECORDED = (
    "the part is being read",
    "It is still being recorded. It can be shown here when it is closed.",
)
NO_SERIES = "No pressure, flow, mass or temperature in this recording"
LOWEST, HIGHEST, MARKS = "lowest", "highest", "marks"
EXTREMES, EXTREME_HEADS = "Lowest and highest values of this part", ("", LOWEST, HIGHEST)
SECONDS, MINUTES, HOURS = "s", "min", "h"
ALARM_KINDS = ("alarm", "warning")


def look_at(title: str) -> str:
    return f"look at {title}"


def being_read(percent: float) -> str:
    return f"The recording is being read for the first time: {percent:.0f} %"


def part_shown(begin: str, end: str, length: str) -> str:
    return f"From {begin} to {end} of {length}"


def beyond_end(begin: str, length: str) -> str:
    return f"the part begins at {begin}, and the recording ends at {length}"


def time_axis(unit: str) -> str:
    return f"time in the recording, {unit}"


def mark(kind: str, text: str) -> str:
    words = text.partition(": ")[2] if kind in {*ALARM_KINDS, "notice"} else text
    return f"{kind}: {words}" if words and words != kind else words or kind


def more_marks(count: int) -> str:
    return f"and {count} more marks: show a shorter part to read them"
