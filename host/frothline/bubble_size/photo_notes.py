"""What a person notes about a photo of foam: a scale where the printed target is missing, and a round wall.

The notes are in a TOML file next to the photo, named after it: ``foam.jpg.toml``. Prompt, page and Python measure the
photo with them::

    first = "120, 300"        # two marks of a ruler at the pane, in pixels of the photo from its upper left corner
    second = "820, 310"
    length = "50 mm"          # between the two marks
    jar = "92 mm"             # inner diameter of a round wall, with its axis upright in the middle of the photo
    ruler = "95 mm"           # measured length of the ruler that is printed below a target
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from frothline.errors import InputError
from frothline.quantities import DECIMAL, decimal, read_quantity
from frothline.toml_text import TomlUnreadable, read_text, read_toml

POINTS, LENGTHS = ("first", "second"), ("length", "jar", "ruler")
NAMES = (*POINTS, *LENGTHS)
MARKS = "first, second and length: two marks of a ruler in pixels, and the length between them"
SHORTEST = 100.0  # px between the marks
_POINT = re.compile(rf"\(?(?P<x>{DECIMAL})(?: ?[,;] ?| )(?P<y>{DECIMAL})\)?")
_LIMITS = {"length": (1e-3, 1.0), "jar": (0.02, 1.0), "ruler": (0.05, 0.2)}  # m


@dataclass(frozen=True)
class PhotoNotes:
    """``marks`` px (2, 2) and ``length`` m between them, None without a ruler; ``jar`` m, None for a flat pane;
    ``ruler`` m, of the printed target, None if it was not measured.
    """

    marks: tuple[tuple[float, float], tuple[float, float]] | None = None
    length: float | None = None
    jar: float | None = None
    ruler: float | None = None


def notes_file(photo: Path) -> Path:
    """The file of a photo's notes."""
    return photo.with_name(f"{photo.name}.toml")


def read_notes(photo: Path) -> PhotoNotes:
    """The notes of a photo; empty without a file. Raises InputError with all wrong entries."""
    file = notes_file(photo)
    if not file.is_file():
        return PhotoNotes()
    try:
        document = read_toml(read_text(file))
    except (OSError, TomlUnreadable) as error:
        words = getattr(error, "strerror", None) or error
        raise InputError(f"the notes of the photo cannot be read: {words}", where=str(file), remedy="Fix it") from error
    return notes_of({key: str(value) for key, value in document.items()}, str(file))


def notes_of(texts: Mapping[str, str], where: str = "photo") -> PhotoNotes:
    """Notes from texts by name; a length without a unit is in mm. Raises InputError with all that is wrong."""
    wrong = [f"“{name[:40]}” is not known; known: {', '.join(NAMES)}" for name in texts if name not in NAMES]
    given = {name: text.strip() for name, text in texts.items() if name in NAMES and text.strip()}
    points: dict[str, tuple[float, float]] = {}
    lengths: dict[str, float] = {}
    for name, text in given.items():
        try:
            if name in POINTS:
                points[name] = _point(text)
            else:
                lengths[name] = _length(name, text)
        except ValueError as error:
            wrong.append(f"{name}: {error}")
    lacking = [name for name in (*POINTS, "length") if name not in given]
    if 0 < len(lacking) < 3:
        wrong.append(f"{' and '.join(lacking)} {'is' if len(lacking) == 1 else 'are'} missing: a scale has {MARKS}")
    if len(points) == 2 and math.dist(*points.values()) < SHORTEST:
        apart = math.dist(*points.values())
        wrong.append(f"the marks are {apart:.0f} px apart: take marks {SHORTEST:.0f} px or more apart")
    if wrong:
        raise InputError("; ".join(wrong), where=where, remedy="Write points like 120, 300 and lengths like 50 mm")
    marks = (points["first"], points["second"]) if points else None
    return PhotoNotes(marks, lengths.get("length"), lengths.get("jar"), lengths.get("ruler"))


def notes_as_texts(scale: Sequence[Any] | None, jar: str | float | None) -> dict[str, str] | None:
    """Texts of notes from two marks with the length between them, and a round wall; None without both.

    A mark is a pair of numbers or a text, a length a text or a number in m. Raises InputError for other forms.
    """
    if scale is None and jar is None:
        return None
    texts: dict[str, str] = {} if jar is None else {"jar": _metres(jar)}
    if scale is not None:
        if isinstance(scale, str) or len(scale) != 3:
            raise InputError(f"a scale has {MARKS}", where="scale", remedy="Give three values")
        first, second, length = scale
        pairs = [one if isinstance(one, str) else ", ".join(map(str, one)) for one in (first, second)]
        texts |= {"first": pairs[0], "second": pairs[1], "length": _metres(length)}
    return texts


def _metres(value: str | float) -> str:
    return value if isinstance(value, str) else f"{1e3 * value:.12g} mm"


def _point(text: str) -> tuple[float, float]:
    found = _POINT.fullmatch(" ".join(text.split()))
    if found is None:
        raise ValueError(f"“{text[:40]}” is not a point; write pixels across and down, like 120, 300")
    return decimal(found["x"]), decimal(found["y"])


def _length(name: str, text: str) -> float:
    value, (low, high) = read_quantity(text, "length"), _LIMITS[name]
    if not low <= value <= high:
        raise ValueError(f"“{text[:40]}” is outside {low * 1e3:g} to {high * 1e3:g} mm")
    return value
