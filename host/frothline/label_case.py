"""One rule for labels, heads and buttons: sentence case, the first letter is a capital."""

from __future__ import annotations

from frothline.units import find_unit


class Name(str):
    """A name that a person gave, of a build or a recording: it is not a label and stays as it is."""

    __slots__ = ()


def label_case(text: str) -> str:
    """The label with a capital first letter; a unit, a figure, a symbol of one letter and a name with capitals inside
    stay as they are.

    >>> label_case("flow (free air)"), label_case("kPa"), label_case("inH₂O, dry"), label_case("a")
    ('Flow (free air)', 'kPa', 'inH₂O, dry', 'a')
    """
    word = text.split(maxsplit=1)[0] if text.strip() else ""
    if (
        isinstance(text, Name)
        or len(text) == 1
        or not text[:1].islower()
        or any(letter.isupper() for letter in word)
        or find_unit(text) is not None
    ):
        return text
    return text[:1].upper() + text[1:]
