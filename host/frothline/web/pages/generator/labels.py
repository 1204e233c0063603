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
from frothline.quantities import EXAMPLES
from frothline.web.elements import Node, node

FORM, DESK, SIZE = "sheet", "desk", "size"


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
    ("air_rate", "air rate (free air)"),
    ("air_to_solution", ("air-to-solution ratio")),
)


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


def first_sentence(answer: Evaluation | None, now: Prediction | None) -> tuple[str, bool]:
    """The first sentence of the page, and whether it is an alarm."""
    if answer is None:
        return "", False
    if answer.given.source is None:
        return f"{NO_SOURCE}.", False
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
