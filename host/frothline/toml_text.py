"""Limited reading of TOML files that people write, in time proportional to their length.

TOML readers recurse into nested values and need time and memory quadratic in the parts of a dotted key: a file of 200
kB could stop the process for minutes. ``read_toml`` checks the text before it is parsed and raises one kind of error
for all problems. ``hide_texts`` is the underlying tokeniser, for callers that search an entry's line.
"""

from __future__ import annotations

import re
import stat
import tomllib
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from tomlkit import TOMLDocument

LIBRARY = "frothline library"  # entry "format" of a file that is passed on: a measured source or generator
LARGEST = 200_000  # characters; ten times the notes and samples of a long day
_MOST_PARTS = 32  # of a dotted key; a real one has three
_MOST_DIGITS = 1000  # of a number; Python itself refuses to read more than 4300

# Possessive quantifiers (++, *+) do not backtrack, so each character is read once. A text without its closing quotes
# ends at the end of its line, or of the file.
_TOKEN = re.compile(
    r'''(?P<block>"""(?:[^"\\]++|\\.|"(?!""))*+(?:"{3,5})?|\'\'\'(?:[^']++|'(?!''))*+(?:'{3,5})?)'''
    r"""|(?P<text>"(?:[^"\\\n]++|\\[^\n])*+"?|'[^'\n]*+'?)"""
    r"""|(?P<comment>\#[^\n]*+)""",
    re.DOTALL,
)
_BETWEEN_KEYS = re.compile(r"[=,\[\]{}\n]")


class TomlUnreadable(ValueError):
    """Text that is not TOML or exceeds the limits: ``what`` is wrong, in which ``line`` (None if unknown)."""

    def __init__(self, what: str, line: int | None = None) -> None:
        self.what = what
        self.line = line
        super().__init__(what if line is None else f"line {line}: {what}")


def read_text(path: Path, largest: int = LARGEST) -> str:
    """The text of a TOML file.

    Raises OSError, and TomlUnreadable if it is not an ordinary file, too large, or not UTF-8. A pipe or a device is not
    opened, because reading it could wait without end.
    """
    status = path.stat()
    if not stat.S_ISREG(status.st_mode):
        raise TomlUnreadable("this is not a file")
    if status.st_size > 4 * largest:  # bytes; a character has 4 at most
        raise TomlUnreadable(f"this is too large: {status.st_size} bytes, the limit is {largest}")
    try:
        return path.read_text("utf-8")
    except UnicodeDecodeError:
        raise TomlUnreadable("this is not a text file in UTF-8: save it as UTF-8 in an editor") from None


def read_toml(text: str, largest: int = LARGEST) -> dict[str, Any]:
    """The document. Raises TomlUnreadable for a text of more than ``largest`` characters, and for all
    other problems.
    """
    check_limits(text, largest)
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        what, at, place = str(error).rpartition(" (at ")
        number = place.removeprefix("line ").partition(",")[0] if at else ""
        raise TomlUnreadable(_short(what or place), int(number) if number.isdecimal() else None) from error
    except RecursionError:
        raise TomlUnreadable("this is nested too deeply") from None
    except ValueError:  # tomllib does not report this: a whole number with thousands of digits
        long = (n for n, line in enumerate(text.splitlines(), 1) if _longest_number(line) >= _MOST_DIGITS)
        raise TomlUnreadable("this line has a number that is far too long", next(long, None)) from None


def check_limits(text: str, largest: int = LARGEST) -> None:
    """Raise TomlUnreadable if the text is too long or a key has too many parts for any reader of TOML."""
    if len(text) > largest:
        raise TomlUnreadable(f"this is too large: {len(text)} characters, the limit is {largest}")
    plain = hide_texts(text, texts=True)
    for number, line in enumerate(plain.split("\n"), 1):
        if line.count(".") > _MOST_PARTS and max(part.count(".") for part in _BETWEEN_KEYS.split(line)) > _MOST_PARTS:
            raise TomlUnreadable(f"this key has more than {_MOST_PARTS} parts", number)


def edit_toml(text: str, largest: int = LARGEST) -> TOMLDocument:
    """The document with its comments, for editing. Raises TomlUnreadable as ``read_toml`` does."""
    import tomlkit  # noqa: PLC0415  only when a file is changed

    check_limits(text, largest)
    try:
        return tomlkit.parse(text)
    except tomlkit.exceptions.TOMLKitError as error:
        raise TomlUnreadable(_short(str(error)), getattr(error, "line", None)) from error
    except RecursionError:
        raise TomlUnreadable("this is nested too deeply") from None
    except ValueError as error:
        raise TomlUnreadable(_short(str(error))) from error


def hide_texts(text: str, *, texts: bool = False) -> str:
    """The text without comments and without the contents of multi-line strings; line numbers are unchanged.

    ``texts`` : True also removes the contents of single-line strings.
    """

    def blank(found: re.Match[str]) -> str:
        if found["block"] is not None:
            return '""' + "\n" * found["block"].count("\n")
        return "" if found["comment"] is not None else '""' if texts else found["text"]

    return _TOKEN.sub(blank, text)


def _longest_number(line: str) -> int:
    return max((len(found[0]) for found in re.finditer(r"[\d_]++", line)), default=0)


def _short(what: str, most: int = 200) -> str:
    return what if len(what) <= most else f"{what[:most]}…"
