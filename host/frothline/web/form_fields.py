"""Fields of a form in a block: label, field, and text below it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from frothline.quantities import also_in, unit_hint
from frothline.units import entry_unit
from frothline.web.elements import Node, node

Choices = Sequence[tuple[str, str]]  # value, words
# Keyboard of a phone by the kind of an entry. Entries that also take a unit, a fraction or the name of a pipe need
# letters: a phone's keyboard for numbers has none.
KEYBOARDS = {"count": "numeric", "number": "decimal"}


def keyboard(kind: str) -> str:
    """The keyboard of a phone ("numeric" for whole numbers, "decimal", "text") for a kind of entry."""
    return KEYBOARDS.get(kind, "text")


def entry(
    form: str,
    name: str,
    label: str,
    *,
    value: str = "",
    choices: Choices | None = None,
    example: str = "",
    hint: str = "",
    note: str = "",
    look: str = "",
    mode: str = "text",
    wish: str = "",
    measure: tuple[str, str] | None = None,
    unit: str = "",
) -> Node:
    """One field. ``note`` is its current remark, ``look`` its style ("wrong", "odd", "changed" or empty).

    ``hint`` : permanent text below the field
    ``example`` : placeholder of the empty field
    ``mode`` : keyboard of a phone, see ``keyboard``
    ``wish`` : name of the viewer setting that stores the typed text
    ``measure`` : kind of a figure (a key of ``units.ENTRY_UNITS``) and the reader's system of units. The page adds the
    unit to a number without one when the field is left; a figure in a unit of the other system is shown in both.
    ``unit`` : the unit that the page adds, without the rest
    """
    key = f"{form}-{name}".replace(".", "-")
    if measure is not None:
        unit = entry_unit(*measure).symbol
        hint = "; ".join(filter(None, (hint, unit_hint(*measure))))
        if look != "wrong":
            note = " ".join(filter(None, (also_in(value, *measure), note)))
    shared = {
        "id": key,
        "name": name,
        "aria_describedby": f"{key}-note",
        "aria_invalid": look == "wrong" and "true",
        "data_wish": wish or None,
    }
    if choices is None:
        control = node(
            "input",
            type="text",
            value=value,
            placeholder=example or None,
            inputmode=mode,
            data_unit=unit or None,
            autocomplete="off",
            spellcheck="false",
            **shared,
        )
    else:
        chosen = [node("option", words, value=one, selected=one == value) for one, words in choices]
        control = node("select", *chosen, **shared)
    said = node("span", note, class_="note", id=f"{key}-note")
    about = node("span", hint, class_="hint") if hint else None
    return node("div", node("label", label, for_=key), control, about, said, class_="entry", data_is=look)


def group(title: str, about: str, fields: Iterable[Node], **more: str) -> Node:
    """A group of related fields."""
    head = node("legend", title, node("span", f" {about}") if about else None)
    return node("fieldset", head, *fields, **more)
