"""The forms of the batch page for a jar of slurry and foam: new, its settled height, a correction. Pure functions."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from pathlib import Path

from frothline.bench.jar_record import (
    BY_NAME,
    ENTRIES,
    correct_jar,
    record_jar,
    settle_jar,
    wrong_entries,
)
from frothline.errors import InputError
from frothline.pours.jar import JarRecord
from frothline.web import form_fields
from frothline.web.components import RELOAD, Asked
from frothline.web.elements import Node, button, node
from frothline.web.pages.batch import labels
from frothline.web.pages.batch.correction import Correctable, correction, field

NEW, SETTLE, CORRECT = "record-jar", "settle-jar", "correct-jar"
VERBS = (NEW, SETTLE, CORRECT)
FORM = "jar"
LATER = ("settled", "after")
CORRECTABLE = Correctable(
    FORM,
    CORRECT,
    ENTRIES,
    wrong_entries,
    labels.JAR,
    labels.CORRECT_JAR,
    labels.CORRECT_JAR_ABOUT,
    labels.jar_place,
)


def block(
    wish: Mapping[str, tuple[str, ...]],
    jars: Sequence[JarRecord],
    trials: Sequence[tuple[str, str]] = (),
    system: str = "metric",
) -> list[Node | None]:
    """The form of a new jar, that of a settled height where one is open, and that of a correction.

    jars : of the own folder
    trials : names and titles of the trials whose foam it may be, the newest first
    """
    form = f"{FORM}-{len(jars)}"  # a saved jar begins with other settings
    texts = {one.name: "".join(wish.get(f"{form}-{one.name}", ())[:1]) for one in ENTRIES}
    wrong = wrong_entries(texts, system)
    fields = [field(one, form, texts, wrong, system, trials) for one in ENTRIES]
    return [
        node("p", labels.JAR_ABOUT, class_="small"),
        node(
            "div",
            node("div", *fields, class_="entries"),
            button(labels.SAVE_JAR, f"batch:{NEW}", look="main"),
            data_form=FORM,
            id=form,
        ),
        _later(wish, jars, system),
        correction(CORRECTABLE, wish, tuple(reversed(jars)), trials, system) if jars else None,
    ]


def typed(wish: Mapping[str, tuple[str, ...]]) -> tuple[tuple[str, tuple[str, ...]], ...]:
    """What was typed and chosen in the forms."""
    return tuple((name, text) for name, text in wish.items() if name.startswith(f"{FORM}-"))


def answer(asked: Asked, folder: Path) -> str:
    """Do what a button requests, in a folder of recordings. Raises InputError, RecordingUnwritable."""
    values = asked.values
    if asked.verb == SETTLE:
        return settle_jar(
            folder, values.get("jar", ""), values.get("settled", ""), values.get("after", ""), asked.system
        )
    if asked.verb == CORRECT:
        jar, _, seen = asked.argument.rpartition("/")
        if not jar:
            raise InputError(labels.NO_JAR, where=labels.JAR, remedy=RELOAD)
        return correct_jar(folder, jar, {key: one for key, one in values.items() if key != "jar"}, asked.system, seen)
    return record_jar(folder, values, asked.system)


def _later(wish: Mapping[str, tuple[str, ...]], jars: Sequence[JarRecord], system: str) -> Node | None:
    """The form of the settled height; None where every jar has one."""
    waiting = [one for one in reversed(jars) if not math.isfinite(one.settled)]
    if not waiting:
        return None
    form = f"{FORM}-later-{len(waiting)}"
    texts = {name: "".join(wish.get(f"{form}-{name}", ())[:1]) for name in LATER}
    wrong = wrong_entries(texts, system)
    chosen = "".join(wish.get(f"{form}-jar", ())[:1])
    choice = form_fields.entry(
        form,
        "jar",
        labels.JAR,
        choices=[(one.name, one.title) for one in waiting],
        value=chosen or waiting[0].name,
        wish=f"{form}-jar",
    )
    return node(
        "div",
        node("h3", labels.SETTLED_JAR),
        node("div", choice, *(field(BY_NAME[name], form, texts, wrong, system) for name in LATER), class_="entries"),
        button(labels.SAVE_SETTLED, f"batch:{SETTLE}", look=""),
        data_form=f"{FORM}-later",
        id=form,
    )
