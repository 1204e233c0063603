"""Labels, hints and examples of the entries of a build sheet."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from frothline.bench.workspace_state import WorkspaceState
from frothline.curve.operating_point import NoCrossing, OperatingPoint
from frothline.estimate import Estimate
from frothline.formatting import RATIO, Shown, show_estimate_in, unit_of
from frothline.generator.build import entries
from frothline.generator.entry_words import entry_words
from frothline.generator.evaluation import Evaluation
from frothline.generator.prediction_result import Prediction
from frothline.label_case import label_case
from frothline.quantities import EXAMPLES
from frothline.web.elements import Node, node

FORM, DESK, SIZE = "sheet", "desk", "size"
QUESTION = "What pressure and flow will it run at, and what if I change a part?"
INTERVALS = "Ranges are 95 % intervals"
POINT, FLOW, FOAM = "operating point", "flow", "foam"
SIDE_VIEW = "Side view to scale"
CHART_ABOUT = (
    "Pressure over flow: the curve of the air source, the lines of the generator dry and wet, the operating point with "
    "its 95 % region, and the current reading. The tables show the same values."
)
WHAT_IF_TITLE = "What if: change an entry"
CALCULATING = "calculating"

# --- chart
WET, DRY, MEASURED, PREDICTED, IF_CHANGED = "wet", "dry", "measured", "predicted", "if changed"
OPERATING_POINT_THEN, OTHER_SOURCE = "operating point then", "other source"

# --- head of the form, saved builds
NO_CHANGES, DISCARD, DISCARDED = "no changes", "Discard changes", "Changes discarded"
INVALID_ENTRY, NEXT_TRIAL, CORRECT_ENTRY = "an entry is invalid", "next trial", "Correct the marked entry first"
UNSAVED, NOT_SAVED = "unsaved changes", "not saved"
NEW_BUILD, BUILD_NAME, SAVE_BUILD, PLAN_TRIAL = (
    "New build",
    "name of the build",
    "Save build",
    "Plan this as next trial",
)
RECEIVED, RECEIVED_NAME, OWN = "generator received from another builder", "name of your build", "Use as a build of mine"
RECEIVED_ABOUT = (
    "It becomes a new build sheet; no file is replaced. Its measured points stay in the received file: they are of the "
    "other builder's generator."
)
NAME_KEPT = "without a name, it keeps its own"
OPEN_BUILD, OPEN = "open build", "Open"
LEAVE, LEAVE_AND_OPEN, CANCEL = (
    "Unsaved changes. Opening another build discards them.",
    "Discard changes and open",
    "Cancel",
)

# --- air source and sweeps of the generator
LATEST_SWEEP, SAME_SOURCE, NOT_MEASURED = "latest sweep", "the same source", "not measured"
SOURCE_ENTRY, SOURCE_HINT = "air source", "recorded sweep, or this session's"
OTHER_ENTRY, OTHER_HINT = "compare with source", "another source's sweep"
SWEEP_HINTS = {"dry": "dry, without solution", "wet": "while making foam"}
HOW_TO_MEASURE = (
    "A dry and a wet sweep measure the back-pressure. You can also choose a sweep recorded by hand: ten openings "
    "of the bleed, about five seconds each."
)
ONE_PROBLEM = "1 problem"

# --- size search
PART, BRINGS, TO, FIND, TRY, GIVES = "part", "brings", "to", "Find", "Try", " gives "
TARGET_INSIDE = "The target is inside the interval of this size."
NUMBER_EXAMPLE = "Enter a number like 5.5"

# --- tables and cautions
AS_BUILT, WHAT_IF, CHANGE = "as built", "what if", "change"
POINT_TABLE, SHARES_TABLE = "Operating point", "Pressure loss by part"
LOCAL_CODES = "Local codes and licensed practice take precedence."
PRESSURE, STANDARD_FLOW = "pressure", "flow (standard air, 1.2 kg/m³)"
AIR_RATE, HOLE_SPEED, AIR_TO_SOLUTION = "air rate (free air)", "air speed in holes", "air-to-solution ratio"
MARGIN, STABILITY = "margin to shut-off", "stability"
NO_OPERATING_POINT, REMOVED, NO_DROP = "no operating point", "→ removed", "nothing"
SLIDERS = {"outlet.bore": "Outlet bore", "packing.length": "Packing length"}


TITLES = {
    "connection": ("connection", "air inlet"),
    "hose": ("hose", "from the spool to the generator"),
    "tube": ("diffusion tube", "with its holes"),
    "body": ("body", "the pipe the foam is made in"),
    "packing": ("packing", "what makes the bubbles small"),
    "outlet": ("outlet", "and the foam hose after it"),
    "reservoir": ("reservoir", "where the solution waits"),
    "solution": ("solution", "what is foamed"),
}


# Entries whose typed values are shown next to the name of a closed group
BRIEF = {
    "connection": ("bore", "fittings"),
    "hose": ("bore", "length"),
    "tube": ("bore", "length", "hole"),
    "body": ("bore", "length"),
    "packing": ("kind", "length"),
    "outlet": ("bore", "hose"),
    "reservoir": ("volume", "filling"),
    "solution": ("agent", "dilution"),
}


NO_CURVE = "No air source yet:<br>measure its curve on the source page"
NO_CURVE_IN_REPLAY = "No air source:<br>choose a recorded sweep"
HOW_MEASURED = "Measure dry and wet"
PREDICTION, AS_MEASURED, FIND_SIZE = "Details of the prediction", "The generator as measured", "Find a size"
SAFETY, AIR_SOURCE, KEEP = "Safety before start-up", "Air source", "Save or open a build"


EXAMPLES_OF_WORDS = {"dilution": "1+30, 1 in 31", "share": "0.95, 95 %", "list": "elbow, ball valve"}
PIPE_EXAMPLE = {"metric": "50x3.7", "inch-pound": "1 1/2 in sch 40"}


def example(kind: str, system: str) -> str:
    """Examples in an empty entry, those of the reader's units first."""
    if kind not in EXAMPLES:
        return EXAMPLES_OF_WORDS.get(kind, "")
    own, other = (EXAMPLES[kind][one] for one in (system, "inch-pound" if system == "metric" else "metric"))
    return f"{own}, {other}, {PIPE_EXAMPLE[system]}" if kind == "bore" else f"{own}, {other}"


CHANGE_WORDS = (
    ("outlet.bore", "outlet bore"),
    ("tube.hole", "hole diameter"),
    ("tube.holes_per_row", "number of holes"),
    ("packing.length", "packing length"),
)


WANTED_WORDS = (
    ("pressure", "pressure"),
    ("air_rate", AIR_RATE),
    ("air_to_solution", AIR_TO_SOLUTION),
)


def line_name(*, wet: bool, changed: bool, measured: bool) -> str:
    """The name of a line of the generator in the legend."""
    words = f"{WET if wet else DRY}{f' {IF_CHANGED}' if changed else ''}, {MEASURED if measured else PREDICTED}"
    return label_case(words)


def interval_of(name: str) -> str:
    return f"95 % of {name}"


def measured(state: str) -> str:
    return f"measured {state}"


def sweeps_measured(sweeps: Sequence[str]) -> str:
    return f"{' and '.join(sweeps)} measured"


def compared_with(source: str, other: str) -> str:
    return f"{source}, compared with {other}"


def as_built(size: str) -> str:
    return f"as built {size}"


def was_built(size: str) -> str:
    return f"As built: {size}."


HAND_ON, SAVE_GENERATOR, GENERATOR_NAME = "Pass this generator on", "Save generator as a file", "name of the generator"
HAND_ON_ABOUT = (
    "One file with the build sheet as it was measured, the points, their errors and the fitted factors. Others can use "
    "it in place of a build sheet and of a recorded sweep."
)


def passed_on(path: object) -> str:
    return f"Saved in {path}."


def saved_as(name: object) -> str:
    return f"saved as {name}"


def is_open(name: str) -> str:
    return f"{name} is open"


def builds_in(folder: object) -> str:
    return f"builds are saved in {folder}"


def changed_entries(changed: int, invalid: int) -> str:
    words = f"{changed} {'entry' if changed == 1 else 'entries'} changed" if changed else NO_CHANGES
    return f"{words}, {invalid} invalid" if invalid else words


def ignored(entries_left: str) -> str:
    return f"Ignored invalid entries: {entries_left}."


def cap_force(pressure: str, weight: str) -> str:
    return f"{weight} on a cap at {pressure}"


def target_units(pressure: str, flow: str) -> str:
    return f"{pressure}, {flow} or a plain ratio"


def sizes_reach(low: str, high: str, unit: str) -> str:
    return f"All sizes together reach {low} to {high} {unit}".rstrip() + "."


def entry_label(path: str) -> str:
    """The label of an entry in the form."""
    part, _, name = path.partition(".")
    about = next(item.metadata for item in entries(part) if item.name == name)
    return f"{TITLES[part][0]}, {name_of(about, name)}"


def name_of(about: Mapping[str, Any], name: str) -> str:
    """The label of an entry within its part."""
    return about["label"] or name.replace("_", " ")


def as_words(path: str, value: Any, system: str) -> str:
    """A value of the build as text; "none" if it is not given."""
    return "none" if value is None or value == () else entry_words(path, value, system)


def sentences(words: Sequence[str]) -> str:
    return " ".join(f"{text[:1].upper()}{text[1:].rstrip('.')}." for text in words if text)


NO_SOURCE_IN_REPLAY = "No air source: none is measured during a replay. Choose a recorded sweep"
HOW_TO_MEASURE_IN_REPLAY = "Recorded sweeps through this generator, dry and wet, measure its back-pressure."
NO_SOURCE = "No air source yet: measure its curve with a guided sweep on the source page, or choose a recorded sweep"


def why_no_answer(desk: WorkspaceState, answer: Evaluation | None) -> str:
    if "answer" in desk.trouble:
        return desk.trouble["answer"]
    if answer is None or (desk.working and answer.built is None):
        return "calculating"
    if answer.given.source is None:
        return "no air source yet"
    if answer.built is not None:
        return "no operating point"
    return "; ".join(answer.trouble) or "not known"


def first_sentence(answer: Evaluation | None, now: Prediction | None, *, replay: bool = False) -> tuple[str, bool]:
    """The first sentence of the page, and whether it is an alarm; in a replay it names no sweep to make."""
    if answer is None:
        return "", False
    if answer.given.source is None:
        return f"{NO_SOURCE_IN_REPLAY if replay else NO_SOURCE}.", False
    if now is None:
        return sentences(answer.trouble), bool(answer.trouble)
    if isinstance(now.point, NoCrossing):
        return sentences(now.point.words), True
    told = answer.change.words if answer.change is not None else ()
    steady = {
        "stable": "The operating point is stable.",
        "may surge": "Pressure and flow may surge there.",
        "unstable": "The operating point is unstable.",
    }[now.point.stability]
    return f"{sentences(told)} {steady}".strip(), now.point.stability == "unstable"


def further_sentences(answer: Evaluation | None, now: Prediction | None) -> str:
    if answer is None or now is None:
        return ""
    # The first sentence of an operating point repeats the figures.
    said = now.words[1:] if isinstance(now.point, OperatingPoint) else ()
    return sentences([*said, *answer.trouble])


def figure_with_interval(estimate: Estimate, quantity: str, system: str, before: str = "") -> Node:
    """A figure with its unit, and its interval on a line of its own."""
    return two_lines(show_estimate_in(estimate, unit_of(quantity, system) if quantity else RATIO), before)


def two_lines(shown: Shown, before: str = "") -> Node:
    value = node("b", f"{before}{shown.value_and_unit}")
    return node("span", value, node("small", shown.under), class_="two-lines")
