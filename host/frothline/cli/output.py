"""Output of the command line: results on standard output, progress and errors on standard error."""

from __future__ import annotations

import json
import math
import sys
import time
from collections.abc import Collection
from dataclasses import fields, is_dataclass
from pathlib import Path
from typing import Any

SHOW_AFTER = 1.0  # s; shorter commands show no progress


class Say:
    """Output of one run of the program."""

    def __init__(self, *, as_json: bool, quiet: bool, system: str = "metric", names: Collection[str] = ()) -> None:
        """``system`` : units of sentences;  ``names`` : names and files that stay as they are."""
        self.as_json = as_json
        self._system, self._names = system, names
        self._quiet = quiet
        self._began = time.monotonic()
        self._shown = ""

    def result(self, data: Any, text: str) -> None:
        """Print the result: ``data`` with ``--json``, else ``text``."""
        self.clear()
        print(json.dumps(plain(data), ensure_ascii=False) if self.as_json else self._own(text), flush=True)

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
            print(json.dumps({"error": data}, ensure_ascii=False), flush=True)

    def progress(self, text: str) -> None:
        """Show progress in place after the first second; nothing if standard error is not a terminal."""
        if self._quiet or time.monotonic() - self._began < SHOW_AFTER:
            return
        if sys.stderr.isatty():
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
