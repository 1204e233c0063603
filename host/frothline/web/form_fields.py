"""Entries of a form as pieces of a block: a label, a field, the words under it."""

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
    """One entry. ``note`` is what there is to say of it now, ``look`` how ("wrong", "odd", "changed" or nothing).

    ``hint`` : words that always are under it;  ``example`` : shown in the empty field;  ``mode`` : which keyboard a
    phone brings ("text", "decimal");  ``wish`` : kept as this reader's own under that name, as it is typed
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
    """Fields that belong together."""
    head = node("legend", title, node("span", f" {about}") if about else None)
    return node("fieldset", head, *fields, **more)
