"""A pour plan as people write it down: a TOML file.

::

    title = "Garden wall"
    prices = "prices.toml"               # see pours.prices; found by this name next to the plan without the entry

    [form]
    length = "2 m"                       # or volume = "400 L"
    width = "200 mm"
    height = "1 m"

    [concrete]
    density = "600 kg/m3"

    [mixer]
    volume = "120 L"                     # to the brim
    fill = "60 %"                        # with the foam in it

    [team]
    helpers = 2

    [foam]
    trial = "04-12-long-packing"         # or density and output, with the interval where it is known:
    output = "60 L/min (55 to 65)"

    [sources]
    "leaf blower" = "240 L/min"          # foam output with another air source

All entries are in ``plan_entries``; all but the volume and the foam have a usual value.
"""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from frothline.atomic_file import write_atomically
from frothline.errors import InputError
from frothline.pours.plan_entries import BY_PATH, ENTRIES
from frothline.quantities import shorten, unknown_entry
from frothline.toml_text import TomlUnreadable, read_text, read_toml

TRIAL, PRICES = "trial", "prices"  # entries that name something else: ``foam.trial`` and ``prices``
_TABLES = {path.partition(".")[0] for path in BY_PATH if "." in path}


def read_plan_file(path: Path) -> tuple[dict[str, Any], dict[str, str]]:
    """Raw entries of a plan file by name, with ``trial`` and ``prices``, and what is wrong by its place.

    Raises InputError if the file cannot be read at all.
    """
    try:
        return parse_plan(read_text(path))
    except TomlUnreadable as error:
        where = str(path) if error.line is None else f"{path}, line {error.line}"
        raise InputError(f"the plan is not TOML: {error.what}", where=where, remedy="Fix this line") from error
    except OSError as error:
        raise InputError(
            f"the plan cannot be read: {error.strerror}", where=str(path), remedy="Check the file"
        ) from error


def parse_plan(text: str) -> tuple[dict[str, Any], dict[str, str]]:
    """As ``read_plan_file``, from a text. Raises TomlUnreadable."""
    given: dict[str, Any] = {}
    wrong: dict[str, str] = {}
    known = dict.fromkeys((*BY_PATH, PRICES, f"foam.{TRIAL}"), 0)
    for key, raw in read_toml(text).items():
        if key in _TABLES and not isinstance(raw, Mapping):
            wrong[key] = f"“{shorten(raw)}” is not a table: write the entries below [{key}]"
        elif key in _TABLES:
            for name, value in raw.items():
                _take(f"{key}.{name}", value, known, given, wrong)
        else:
            _take(key, raw, {**known, **dict.fromkeys(_TABLES, 0)}, given, wrong)
    return given, wrong


def _take(path: str, value: Any, known: Mapping[str, int], given: dict[str, Any], wrong: dict[str, str]) -> None:
    if path in BY_PATH:
        given[BY_PATH[path].name] = value
    elif path == PRICES:
        given[PRICES] = value
    elif path == f"foam.{TRIAL}":
        given[TRIAL] = value
    else:
        wrong[path] = unknown_entry(path, known)


def new_plan(path: Path) -> Path:
    """Write a plan file to fill in. Raises InputError if there is such a file; RecordingUnwritable."""
    if path.exists():
        raise InputError("there is a file of this name already", where=str(path), remedy="Choose another name")
    lines = ['title = ""', f'# {PRICES} = "prices.toml"']
    table = ""
    for entry in ENTRIES:
        head, dot, key = entry.path.partition(".")
        if not dot:
            continue
        if head != table:
            table = head
            lines += ["", f"[{table}]"]
            lines += [f'# {TRIAL} = ""                      # the trial that made the foam'] if table == "foam" else []
        shown = entry.usual or "…"
        text = f'{key} = "{shown}"' if entry.usual else f'# {key} = ""'
        lines.append(f"{text:36} # {'; '.join(filter(None, (entry.label, entry.about, ' or '.join(entry.choices))))}")
    lines += ["", "[sources]", '# "leaf blower" = "240 L/min"          # foam output with another air source', ""]
    write_atomically(path, lambda file: file.write("\n".join(lines).encode("utf-8")))
    return path
