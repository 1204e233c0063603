"""The forms of the batch page for a jar of slurry and foam: new, its settled height, a correction. Pure functions."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from pathlib import Path

from frothline.bench.jar_record import (
    BY_NAME,
    ENTRIES,
    TIME_UNIT,
    correct_jar,
    jar_texts,
    record_jar,
    settle_jar,
    stamp,
    wrong_entries,
)
from frothline.errors import InputError
from frothline.pours.jar import JarRecord
from frothline.sentence_units import in_units
from frothline.web import form_fields
from frothline.web.components import RELOAD, Asked
from frothline.web.elements import Node, button, node
from frothline.web.pages.batch import labels

NEW, SETTLE, CORRECT = "record-jar", "settle-jar", "correct-jar"
VERBS = (NEW, SETTLE, CORRECT)
FORM = "jar"
OPEN = f"{FORM}-open"  # viewer setting: the jar that is corrected
LATER = ("settled", "after")


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
        _correction(wish, jars, trials, system) if jars else None,
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


def _field(
    name: str,
    form: str,
    texts: Mapping[str, str],
    wrong: Mapping[str, str],
    system: str,
    trials: Sequence[tuple[str, str]] = (),
    saved: Mapping[str, str] | None = None,
) -> Node:
    """One field; ``saved`` : texts of the file, in the form of a correction."""
    entry = BY_NAME[name]
    changed = saved is not None and texts[name].strip() != saved[name]
    was = labels.was(saved[name]) if changed and saved is not None else ""
    return form_fields.entry(
        form,
        name,
        entry.label,
        choices=[("", labels.NO_TRIAL), *trials] if name == "trial" else None,
        value=texts[name],
        hint=in_units(entry.about, system),
        note=" ".join(filter(None, (wrong.get(name, ""), was))),
        look="wrong" if name in wrong else "changed" if changed else "",
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


def _correction(
    wish: Mapping[str, tuple[str, ...]], jars: Sequence[JarRecord], trials: Sequence[tuple[str, str]], system: str
) -> Node:
    """The choice of a jar and, once one is chosen, its entries as they are written."""
    opened = "".join(wish.get(OPEN, ())[:1])
    jar = next((one for one in jars if one.name == opened), None)
    choice = form_fields.entry(
        f"{FORM}-correct",
        "jar",
        labels.JAR,
        choices=[("", labels.NONE_CHOSEN), *((one.name, one.title) for one in reversed(jars))],
        value="" if jar is None else jar.name,
        wish=OPEN,
    )
    head = [node("h3", labels.CORRECT_JAR), node("p", labels.CORRECT_JAR_ABOUT, class_="small")]
    if jar is None:
        return node("div", *head, node("div", choice, class_="entries"))
    seen = stamp(jar)
    form = f"{FORM}-correct-{jar.name}-{seen}"
    saved = jar_texts(jar)
    texts = {name: "".join(wish[f"{form}-{name}"][:1]) if f"{form}-{name}" in wish else saved[name] for name in saved}
    wrong = wrong_entries(texts, system)
    known = [*trials, *([] if saved["trial"] in dict(trials) else [(saved["trial"], saved["trial"])])]
    fields = [_field(name, form, texts, wrong, system, known if saved["trial"] else trials, saved) for name in saved]
    return node(
        "div",
        *head,
        node("div", choice, class_="entries"),
        node("p", labels.jar_place(jar.name), class_="small"),
        node("div", *fields, class_="entries"),
        node(
            "div",
            button(labels.SAVE_CORRECTION, f"batch:{CORRECT}:{jar.name}/{seen}", look="main"),
            button(labels.CLOSE, "", also=f"{OPEN}:"),
            class_="choice",
        ),
        data_form=f"{FORM}-correct",
        id=form,
    )
