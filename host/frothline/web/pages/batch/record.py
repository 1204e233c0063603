"""The forms of the batch page that record a pour, prefilled from one mix of a plan, and correct one. Pure functions."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path

from frothline.bench.pour_questions import and_asked
from frothline.bench.pour_record import ENTRIES, FORM, correct_pour, entries_of_plan, record_pour, wrong_entries
from frothline.errors import InputError
from frothline.pours.plan import PourPlan
from frothline.pours.record import PourRecord
from frothline.web.components import RELOAD, Asked
from frothline.web.elements import Node, button, node
from frothline.web.pages.batch import labels
from frothline.web.pages.batch.correction import Correctable, correction, field, fields_of

RECORD, CORRECT = "record-pour", "correct-pour"
VERBS = (RECORD, CORRECT)
MORE = (
    *(f"{cup}.{key}" for cup in ("slurry", "cup") for key in ("container", "empty", "full")),
    *("flow.cone_time", "flow.spread", "temperatures.slurry", "temperatures.air", "poured"),
)  # entries of the part that is closed at first
CHOICE = "pour"  # field with the pour that is corrected
CORRECTABLE = Correctable(
    CHOICE,
    CORRECT,
    ENTRIES,
    wrong_entries,
    labels.POUR,
    labels.CORRECT_POUR,
    labels.CORRECT_POUR_ABOUT,
    labels.pour_file,
    more=tuple(one.name for one in ENTRIES if one.path in MORE),
)


def block(
    wish: Mapping[str, tuple[str, ...]],
    plan: PourPlan | None,
    system: str,
    trials: Sequence[tuple[str, str]] = (),
    pours: Sequence[PourRecord] = (),
) -> list[Node | None]:
    """The fields with what was typed, or what the plan has, and the button that writes the file; and a correction.

    trials : names and titles of the trials whose foam it may be, the newest first
    pours : of the own folder, the newest first
    """
    texts = entries_of_plan(plan, system)
    for entry in ENTRIES:
        typed = wish.get(f"{FORM}-{entry.name}")
        texts[entry.name] = texts.get(entry.name, "") if typed is None else "".join(typed[:1])
    wrong = wrong_entries(texts, system)
    fields = {one.name: field(one, FORM, texts, wrong, system, trials) for one in ENTRIES}
    return [
        node("p", labels.RECORD_ABOUT, class_="small"),
        node(
            "div",
            *fields_of(CORRECTABLE, fields),
            button(labels.RECORD, f"batch:{RECORD}", look="main"),
            data_form=FORM,
        ),
        correction(CORRECTABLE, wish, pours, trials, system) if pours else None,
    ]


def answer(asked: Asked, folder: Path) -> str:
    """Do what a button requests, in a folder of recordings. Raises InputError, RecordingUnwritable."""
    if asked.verb == CORRECT:
        pour, _, seen = asked.argument.rpartition("/")
        if not pour:
            raise InputError(labels.NO_POUR, where=labels.POUR, remedy=RELOAD)
        values = {key: one for key, one in asked.values.items() if key != CHOICE}
        return correct_pour(folder, pour, values, asked.system, seen)
    path = record_pour(folder, asked.values, asked.system)
    return and_asked(labels.recorded(path.name), path)


def typed(wish: Mapping[str, tuple[str, ...]]) -> tuple[tuple[str, tuple[str, ...]], ...]:
    """What was typed and chosen in the forms."""
    return tuple((name, text) for name, text in wish.items() if name.startswith((f"{FORM}-", f"{CHOICE}-")))
