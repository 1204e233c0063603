"""Output of the command line: results on standard output, progress and errors on standard error."""

from __future__ import annotations

import json
import math
import shutil
import sys
import time
from collections.abc import Collection, Sequence
from dataclasses import fields, is_dataclass
from pathlib import Path
from typing import Any

from frothline.cli.plain_text import has_every_character

SCHEMA = 1  # of the JSON; grows when a name or a meaning changes
SHOW_AFTER = 1.0  # s; shorter commands show no progress


class Say:
    """Output of one run of the program."""

    def __init__(
        self, *, as_json: bool, quiet: bool, system: str = "metric", names: Collection[str] = (), command: str = ""
    ) -> None:
        """``system`` : units of sentences;  ``names`` : names and files that stay as they are."""
        self.as_json = as_json
        self._command = command
        self._system, self._names = system, names
        self._quiet = quiet
        self._began = time.monotonic()
        self._shown = ""

    def result(self, data: Any, text: str) -> None:
        """Print the result: ``data`` with ``--json``, in the common envelope, else ``text``."""
        self.clear()
        print(self._enveloped("result", data) if self.as_json else self._own(text), flush=True)

    def _enveloped(self, kind: str, data: Any) -> str:
        """One JSON object for every command: schema, command, units, and the result or the error."""
        whole = {"schema": SCHEMA, "command": self._command, "units": "SI", kind: plain(data)}
        return json.dumps(whole, ensure_ascii=not has_every_character())

    def note(self, text: str) -> None:
        """Print a message to the user that is not part of the result."""
        self.clear()
        if not self._quiet:
            print(self._own(text), file=sys.stderr, flush=True)

    def error(self, data: dict[str, str], text: str) -> None:
        """Print an error: one line on standard error, and with ``--json`` also an object on standard output."""
        self.clear()
        print(self._own(text), file=sys.stderr, flush=True)
        if self.as_json:
            print(self._enveloped("error", data), flush=True)

    def progress(self, text: str) -> None:
        """Show progress in place after the first second; nothing if standard error is not a terminal."""
        if self._quiet or time.monotonic() - self._began < SHOW_AFTER:
            return
        if sys.stderr.isatty():
            text = shortened(text, shutil.get_terminal_size().columns - 1)  # a longer line could not be overwritten
            print(f"\r{text:<{len(self._shown)}}", end="", file=sys.stderr, flush=True)
            self._shown = text

    def _own(self, text: str) -> str:
        """The text in the reader's units."""
        if self._system == "metric":
            return text
        from frothline.sentence_units import in_units  # noqa: PLC0415  seldom

        return in_units(text, self._system, self._names)

    def clear(self) -> None:
        if self._shown:
            print("\r" + " " * len(self._shown) + "\r", end="", file=sys.stderr, flush=True)
            self._shown = ""


def shortened(text: str, width: int) -> str:
    """The text in one line of at most ``width`` characters; the middle is left out, as paths end in what matters."""
    line = " ".join(text.split())
    if len(line) <= width:
        return line
    head = max((width - 1) // 2, 0)
    return f"{line[:head]}…{line[len(line) - max(width - 1 - head, 0) :]}"[: max(width, 0)]


def fitted_columns(rows: Sequence[Sequence[str]], *, right_from: int = 1, width: int | None = None) -> list[str]:
    """A table as lines: the first row is its head, columns from ``right_from`` on are right-aligned.

    Where a line would be wider than ``width`` (default: the terminal; unlimited into a pipe or file), each row is a
    block of "head: value" lines instead.
    """
    limit = width if width is not None else shutil.get_terminal_size().columns if sys.stdout.isatty() else None
    sizes = [max(len(row[k]) for row in rows) for k in range(len(rows[0]))]
    if limit is not None and sum(sizes) + 2 * (len(sizes) - 1) > limit:
        head, *body = rows
        return [
            line
            for row in body
            for line in (row[0], *(f"  {name}: {cell}" for name, cell in zip(head[1:], row[1:], strict=True)))
        ]
    return [
        "  ".join(
            cell.rjust(size) if k >= right_from else cell.ljust(size)
            for k, (cell, size) in enumerate(zip(row, sizes, strict=True))
        ).rstrip()
        for row in rows
    ]


def plain(value: Any) -> Any:
    """Dataclasses, paths, NumPy arrays and numbers as JSON values; non-finite numbers become null."""
    if is_dataclass(value) and not isinstance(value, type):
        return {item.name: plain(getattr(value, item.name)) for item in fields(value) if not item.name.startswith("_")}
    if isinstance(value, dict):
        return {str(key): plain(item) for key, item in value.items()}
    if isinstance(value, (list, tuple, set)):
        return [plain(item) for item in value]
    if isinstance(value, bytes):
        return value.hex()
    if isinstance(value, Path):
        return str(value)
    if hasattr(value, "tolist"):
        return plain(value.tolist())
    if isinstance(value, float) and not math.isfinite(value):
        return None
    return value if value is None or isinstance(value, (bool, int, float, str)) else str(value)
