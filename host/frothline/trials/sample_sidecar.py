"""The TOML file next to a run's recording: build, air source and weighed samples.

::

    kind = "run"
    title = "Longer packing"
    build = "builds/long-packing.toml"   # a sheet, next to the recording or in a folder there; or [build_sheet] itself
    air_source = "shop motor"
    solution_batch = "B"
    water_temperature = "17 °C"
    photos = ["tub.jpg"]                 # next to those whose names begin as the recording's; JPEG, PNG or WebP

    [[sample]]
    at = "45 s"               # since the recording began, when the container was full
    container = "5 L"
    empty = "231 g"
    full = "612 g"
    fill_time = "2.9 s"
    depth = "210 mm"
    drained = [["1 min", "14 mL"], ["2 min", "27 mL"]]
    confirmed = true          # the readings are right although they contradict the run

Units are those of the bench; a bare number is s, mm, g or L. A wrong entry is reported with its place; only its sample
is lost. ``sample_entry`` writes what ``read_sample`` reads.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from difflib import get_close_matches
from pathlib import Path
from typing import Any

import tomlkit

from frothline.atomic_file import write_atomically
from frothline.errors import InputError
from frothline.foam.sample import Weighing
from frothline.quantities import DECIMAL, decimal, finite, read_number, read_quantity, shorten, typed
from frothline.toml_text import TomlUnreadable, edit_toml


def add_drained(path: Path, weighing: Weighing) -> None:
    """Add readings of the drained liquid to the last sample next to a recording; everything else stays unchanged.

    Raises InputError if the file has no sample, RecordingUnwritable if it cannot be written.
    """
    try:
        document = edit_toml(path.read_text("utf-8"))
        samples: Any = document["sample"]
        samples[-1]["drained"] = sample_entry(weighing)["drained"]
    except (OSError, KeyError, IndexError, UnicodeDecodeError, TomlUnreadable) as error:
        raise InputError(
            "the readings could not be saved with the recording", where=str(path), remedy="Note them by hand"
        ) from error
    write_atomically(path, lambda file: file.write(tomlkit.dumps(document).encode("utf-8")))


_ENTRIES = (
    "at",
    "container",
    "empty",
    "full",
    "fill_time",
    "drained",
    "depth",
    "solution_density",
    "scale_division",
    "container_uncertainty",
    "note",
    "confirmed",
)


_TIME = re.compile(
    rf"(?:(?P<min>{DECIMAL}) ?min)?(?: ?(?P<s>{DECIMAL}) ?s?)?|(?P<m>\d{{1,6}}):(?P<sec>[0-5]\d)", re.IGNORECASE
)


@dataclass(frozen=True)
class Noted:
    """A sample as written: ``at`` s since the recording began (None if missing)."""

    weighing: Weighing
    at: float | None = None


def read_time(text: str | float) -> float:
    """Read a duration in s from "75 s", "1 min 15 s", "1:15" or a bare number of seconds. Raises ValueError."""
    if isinstance(text, (int, float)) and not isinstance(text, bool):
        if finite(text) < 0:
            raise ValueError(f"“{text}” is below zero")
        return float(text)
    plain = typed(str(text))
    found = _TIME.fullmatch(plain)
    if not plain or found is None:
        if plain.startswith("-") and _TIME.fullmatch(plain[1:].lstrip()):
            raise ValueError(f"“{shorten(text)}” is below zero")
        raise ValueError(f"“{shorten(text)}” is not a time; write it like 75 s, 1 min 15 s or 1:15")
    if found["m"] is not None:
        return 60.0 * int(found["m"]) + int(found["sec"])
    minutes, seconds = (decimal(found[key] or "0") for key in ("min", "s"))
    return 60.0 * minutes + seconds


def read_sample(table: Mapping[str, Any], where: str = "sample", gas_density: float | None = None) -> Noted:
    """Read one ``[[sample]]`` table.

    ``gas_density`` kg/m3 of the ambient air, if measured. Raises InputError with the entry.
    """
    for key in table:
        if key not in _ENTRIES:
            near = get_close_matches(key, _ENTRIES, n=1)
            raise InputError(
                f"“{shorten(key)}” is not known here",
                where=where,
                remedy=f"Did you mean “{near[0]}”?" if near else f"Known: {', '.join(_ENTRIES)}",
            )
    for key in ("container", "empty", "full"):
        if key not in table:
            raise InputError(f"“{key}” is missing", where=where, remedy="A sample needs container, empty and full")
    values: dict[str, Any] = {}
    kinds = {"container": "volume", "empty": "mass", "full": "mass", "depth": "length", "scale_division": "mass"}
    for key, raw in table.items():
        try:
            if key in kinds or key == "container_uncertainty":
                values[key] = read_quantity(raw, kinds.get(key, "volume"))
            elif key in ("at", "fill_time"):
                values[key] = read_time(raw)
            elif key == "drained":
                values[key] = _drained(raw)
            elif key == "confirmed":
                values[key] = _yes(raw)
            elif key == "solution_density":
                values[key] = read_quantity(raw, "density")
            else:
                values[key] = str(raw)
        except (ValueError, TypeError, KeyError) as error:
            raise InputError(str(error), where=f"{where}: {key}", remedy="Fix this entry") from error
    more: dict[str, float] = {}
    if gas_density is not None and math.isfinite(gas_density):
        more["gas_density"] = gas_density
    if "solution_density" in values:
        more["solution_density"] = values["solution_density"]
    if "scale_division" in values:  # each reading is rounded: a rectangle of half a division, at zero and at weight
        more["u_mass"] = 2 * values["scale_division"] / math.sqrt(12)
    if "container_uncertainty" in values:
        more["u_container_volume"] = values["container_uncertainty"]
    weighing = Weighing(
        container_volume=values["container"],
        empty=values["empty"],
        full=values["full"],
        fill_time=values.get("fill_time"),
        drained=values.get("drained", ()),
        depth=values.get("depth"),
        note=values.get("note", ""),
        confirmed=values.get("confirmed", False),
        **more,
    )
    try:
        weighing.check()
    except InputError as error:
        entry = error.where.removeprefix("sample: ")
        raise InputError(error.what, where=f"{where}: {entry}", remedy=error.remedy) from error
    return Noted(weighing, values.get("at"))


def _yes(raw: Any) -> bool:
    if not isinstance(raw, bool):
        raise TypeError(f"{shorten(raw)} is neither true nor false")
    return raw


def _drained(raw: Any) -> tuple[tuple[float, float], ...]:
    if not isinstance(raw, Sequence) or isinstance(raw, str):
        raise TypeError("drainage readings must be pairs, like [[“1 min”, “14 mL”], [“2 min”, “27 mL”]]")
    found = []
    for pair in raw:
        if not isinstance(pair, Sequence) or isinstance(pair, str) or len(pair) != 2:
            raise TypeError(f"{shorten(pair)} is not a pair of a time and a volume")
        volume = read_number(pair[1]) * 1e-6 if not isinstance(pair[1], str) else read_quantity(pair[1], "volume")
        found.append((read_time(pair[0]), volume))  # a bare volume of the glass is mL
    if [time for time, _ in found] != sorted({time for time, _ in found}):
        raise ValueError("the drainage readings must be in order of time")
    return tuple(found)


def sample_entry(weighing: Weighing, at: float | None = None) -> dict[str, Any]:
    """The ``[[sample]]`` table of a weighing, in units of the bench."""
    entry: dict[str, Any] = {}
    if at is not None:
        entry["at"] = f"{at:.1f} s"
    entry["container"] = f"{weighing.container_volume * 1e3:.6g} L"
    entry["empty"] = f"{weighing.empty * 1e3:.6g} g"
    entry["full"] = f"{weighing.full * 1e3:.6g} g"
    if weighing.fill_time is not None:
        entry["fill_time"] = f"{weighing.fill_time:.4g} s"
    if weighing.depth is not None:
        entry["depth"] = f"{weighing.depth * 1e3:.4g} mm"
    if weighing.drained:
        entry["drained"] = [[f"{time:.4g} s", f"{volume * 1e6:.4g} mL"] for time, volume in weighing.drained]
    if weighing.note:
        entry["note"] = weighing.note
    if weighing.confirmed:
        entry["confirmed"] = True
    return entry


def append_sample(path: Path, weighing: Weighing, at: float | None = None) -> None:
    """Append a sample to the TOML next to a recording; raises as ``append_table``."""
    append_table(path, "sample", sample_entry(weighing, at))


def append_table(path: Path, name: str, entry: Mapping[str, Any]) -> None:
    """Append a table ``[[name]]`` to the TOML next to a recording; comments and everything else stay.

    Raises InputError if that file is not valid TOML, RecordingUnwritable if it cannot be written; the file is then
    unchanged.
    """
    try:
        document = edit_toml(path.read_text("utf-8") if path.exists() else "")
    except (TomlUnreadable, UnicodeDecodeError) as error:
        raise InputError(
            f"the recording's TOML file cannot be read: {error}", where=str(path), remedy="Fix it by hand"
        ) from error
    tables = document.get(name)
    if tables is None:
        tables = tomlkit.aot()
        document.add(name, tables)
    if not isinstance(tables, tomlkit.items.AoT):
        raise InputError(f"“{name}” is not a list of tables", where=str(path), remedy=f"Write each below [[{name}]]")
    table = tomlkit.table()
    for key, value in entry.items():
        table.add(key, value)
    tables.append(table)
    write_atomically(path, lambda file: file.write(tomlkit.dumps(document).encode("utf-8")))


def spoken_sample(weighing: Weighing) -> str:
    """The readings in one line, for a note in the recording itself."""
    return ", ".join(f"{key} {value}" for key, value in sample_entry(weighing).items() if key != "drained")
