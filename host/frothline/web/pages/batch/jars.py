"""The forms of the batch page for a jar of slurry and foam: a new one, and its settled height later. Pure functions."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from pathlib import Path

from frothline.bench.jar_record import BY_NAME, ENTRIES, TIME_UNIT, record_jar, settle_jar, wrong_entries
from frothline.pours.jar import JarRecord
from frothline.sentence_units import in_units
from frothline.web import form_fields
from frothline.web.components import Asked
from frothline.web.elements import Node, button, node
from frothline.web.pages.batch import labels

NEW, SETTLE = "record-jar", "settle-jar"
VERBS = (NEW, SETTLE)
FORM = "jar"
LATER = ("settled", "after")


def block(
    wish: Mapping[str, tuple[str, ...]],
    jars: Sequence[JarRecord],
    trials: Sequence[tuple[str, str]] = (),
    system: str = "metric",
) -> list[Node | None]:
    """The form of a new jar, and that of a settled height where one is open.

    jars : of the own folder
    trials : names and titles of the trials whose foam it may be, the newest first
    """
    form = f"{FORM}-{len(jars)}"  # a saved jar begins with other settings
    texts = {one.name: "".join(wish.get(f"{form}-{one.name}", ())[:1]) for one in ENTRIES}
    wrong = wrong_entries(texts, system)
    fields = [_field(one.name, form, texts, wrong, system, trials) for one in ENTRIES]
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
    return record_jar(folder, values, asked.system)


def _field(
    name: str,
    form: str,
    texts: Mapping[str, str],
    wrong: Mapping[str, str],
    system: str,
    trials: Sequence[tuple[str, str]] = (),
) -> Node:
    entry = BY_NAME[name]
    return form_fields.entry(
        form,
        name,
        entry.label,
        choices=[("", labels.NO_TRIAL), *trials] if name == "trial" else None,
        value=texts[name],
        hint=in_units(entry.about, system),
        note=wrong.get(name, ""),
        look="wrong" if name in wrong else "",
        wish=f"{form}-{name}",
        measure=(entry.kind, system) if entry.kind else None,
        unit=TIME_UNIT if name == "after" else "",
    )


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
        node("div", choice, *(_field(name, form, texts, wrong, system) for name in LATER), class_="entries"),
        button(labels.SAVE_SETTLED, f"batch:{SETTLE}", look=""),
        data_form=f"{FORM}-later",
        id=form,
    )
