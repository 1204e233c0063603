"""Forms as HTML: a label, a field, the words under it. Pure text; the page's script fills, sends and clears them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from html import escape

Choices = Sequence[tuple[str, str]]  # value, words


def options(choices: Choices, chosen: str = "") -> str:
    """The options of a list."""
    return "".join(
        f'<option value="{escape(value)}"{" selected" if value == chosen else ""}>{escape(words)}</option>'
        for value, words in choices
    )


def field(
    form: str,
    entry: str,
    label: str,
    *,
    value: str = "",
    hint: str = "",
    choices: Choices | None = None,
    example: str = "",
    mode: str = "text",
) -> str:
    """One entry. Its message stands under the live key ``<form>-note-<entry>``, its state under ``<form>-<entry>``.

    ``hint`` : words that always stand under it;  ``example`` : shown in the empty field;  ``mode`` : which keyboard a
    phone brings ("text", "decimal")
    """
    name, key = f"{form}-{entry}", escape(entry)
    about = f'aria-describedby="{name}-note"'
    if choices is None:
        control = (
            f'<input id="{name}" type="text" data-entry="{key}" value="{escape(value)}" placeholder="{escape(example)}" '
            f'inputmode="{mode}" autocomplete="off" spellcheck="false" {about}>'
        )
    else:
        control = f'<select id="{name}" data-entry="{key}" {about}>{options(choices, value)}</select>'
    said = f'<span class="hint">{escape(hint)}</span>' if hint else ""
    return (
        f'<div class="entry" data-state="{name}"><label for="{name}">{escape(label)}</label>{control}{said}'
        f'<span class="note" id="{name}-note" data-live="{form}-note-{key}"></span></div>'
    )


def group(title: str, about: str, fields: Iterable[str]) -> str:
    """Fields that belong together."""
    said = f" <span>{escape(about)}</span>" if about else ""
    return f"<fieldset><legend>{escape(title)}{said}</legend>{''.join(fields)}</fieldset>"
