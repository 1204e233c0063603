"""Fields of a form in a block: label, field, and text below it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from frothline.web.elements import Node, node

Choices = Sequence[tuple[str, str]]  # value, words


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
) -> Node:
    """One field. ``note`` is its current remark, ``look`` its style ("wrong", "odd", "changed" or empty).

    ``hint`` : permanent text below the field
    ``example`` : placeholder of the empty field
    ``mode`` : keyboard of a phone ("text", "decimal")
    ``wish`` : name of the viewer setting that stores the typed text
    """
    key = f"{form}-{name}".replace(".", "-")
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
