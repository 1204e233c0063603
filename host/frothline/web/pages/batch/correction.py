"""The form of the batch page that corrects a written pour or jar. Pure functions."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Protocol

from frothline.bench.record_entries import UNITS_OF_TIMES, PourEntry, stamp, written_texts
from frothline.sentence_units import in_units
from frothline.web import form_fields
from frothline.web.elements import Node, button, node
from frothline.web.pages.batch import labels

Wish = Mapping[str, tuple[str, ...]]
Trials = Sequence[tuple[str, str]]


class Record(Protocol):
    """A pour or a jar as it is written."""

    @property
    def name(self) -> str: ...

    @property
    def title(self) -> str: ...

    @property
    def written(self) -> Mapping[str, str | float]: ...


@dataclass(frozen=True)
class Correctable:
    """What can be corrected: ``form`` begins the names of fields and settings, ``verb`` is that of the button,
    ``wrong`` finds wrong texts; ``more`` are entries in a part that is closed at first.
    """

    form: str
    verb: str
    entries: Sequence[PourEntry]
    wrong: Callable[[Mapping[str, str], str], Mapping[str, str]]
    label: str
    title: str
    about: str
    place: Callable[[str], str]
    more: Sequence[str] = ()

    @property
    def open(self) -> str:
        """Viewer setting: the record that is corrected."""
        return f"{self.form}-open"


def field(
    entry: PourEntry,
    form: str,
    texts: Mapping[str, str],
    wrong: Mapping[str, str],
    system: str,
    trials: Trials = (),
    saved: Mapping[str, str] | None = None,
) -> Node:
    """One field; ``saved`` : texts of the file, in the form of a correction."""
    name = entry.name
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
        unit=UNITS_OF_TIMES.get(name, ""),
    )


def fields_of(of: Correctable, made: Mapping[str, Node]) -> list[Node]:
    """The fields by name: the usual ones, and the others in a part that is closed at first."""
    shown = node("div", *(one for name, one in made.items() if name not in of.more), class_="entries")
    if not of.more:
        return [shown]
    others = node("div", *(one for name, one in made.items() if name in of.more), class_="entries")
    return [shown, node("details", node("summary", labels.MORE_ENTRIES), others)]


def correction(of: Correctable, wish: Wish, records: Sequence[Record], trials: Trials, system: str) -> Node:
    """The choice of a record and, once one is chosen, its entries as they are written. ``records`` : the newest first.

    The newest is not chosen by itself: an opened form has the entries of a file.
    """
    opened = "".join(wish.get(of.open, ())[:1])
    record = next((one for one in records if one.name == opened), None)
    choice = form_fields.entry(
        f"{of.form}-correct",
        of.form,
        of.label,
        choices=[("", labels.NONE_CHOSEN), *((one.name, one.title) for one in records)],
        value="" if record is None else record.name,
        wish=of.open,
    )
    head = [node("h3", of.title), node("p", of.about, class_="small")]
    if record is None:
        return node("div", *head, node("div", choice, class_="entries"))
    seen = stamp(record.written)
    form = f"{of.form}-correct-{record.name}-{seen}"
    saved = written_texts(of.entries, record.written)
    texts = {name: "".join(wish[f"{form}-{name}"][:1]) if f"{form}-{name}" in wish else saved[name] for name in saved}
    wrong = of.wrong(texts, system)
    gone = saved["trial"] and saved["trial"] not in dict(trials)
    known = [*trials, *([(saved["trial"], saved["trial"])] if gone else [])]
    shown = {one.name: field(one, form, texts, wrong, system, known, saved) for one in of.entries if one.name in saved}
    return node(
        "div",
        *head,
        node("div", choice, class_="entries"),
        node("p", of.place(record.name), class_="small"),
        *fields_of(of, shown),
        node(
            "div",
            button(labels.SAVE_CORRECTION, f"batch:{of.verb}:{record.name}/{seen}", look="main"),
            button(labels.CLOSE, "", also=f"{of.open}:"),
            class_="choice",
        ),
        data_form=f"{of.form}-correct",
        id=form,
    )
