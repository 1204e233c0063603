"""A file for a new pour, to fill in by hand: the entries that are known, and the others as comments."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from pathlib import Path

from frothline.atomic_file import write_atomically
from frothline.errors import InputError
from frothline.pours.record import FOLDER, parse_pour

_REST = """
[masses]                        # really put into the mixer
{cement}
{sand}
{water}
# foam = "2.1 kg"               # the mixer weighed before and after; or foam_volume = "30 L"

[slurry]                        # before the foam: a cup weighed full, or density = "1880 kg/m3"
# container = "1 L"
# empty = "112 g"
# full = "1996 g"

[cup]                           # with the foam, before the pour
# container = "1 L"
# empty = "112 g"
# full = "764 g"

[flow]
# cone_time = "22 s"
# spread = "210 mm"

[temperatures]
# slurry = "19 °C"
# air = "14 °C"

[cast]
# volume = "41 L"               # by the mould
# lift = "150 mm"               # depth of the pour
# sank = "2 mm"                 # at the top after 24 h; or rose = "1 mm"

# [[specimen]]                  # one for each cube; never crush one without a guard around it, and wear goggles
# edge = "100 mm"               # a cylinder has diameter and height
# age = "28 d"
# mass = "587 g"                # when it is crushed
# load = "7.4 kN"               # greatest load
# dry_mass = "489 g"            # after drying to constant mass
"""


def new_pour(
    folder: Path,
    name: str,
    *,
    trial: str = "",
    title: str = "",
    poured: datetime | None = None,
    amounts: Mapping[str, float] | None = None,
    entries: Mapping[str, str] | None = None,
) -> Path:
    """Write a file for a pour into the folder ``pours`` of a folder of recordings; returns its path.

    ``amounts`` : what a batch sheet wants: ``density`` kg/m³, ``volume`` m³, ``cement``, ``sand``, ``water`` kg

    ``entries`` : texts by path, like ``{"masses.cement": "21.2 kg", "cup.density": "640 kg/m3"}``

    Raises InputError if the name cannot be a file's, if there is such a file, and with every entry that cannot be read;
    RecordingUnwritable.
    """
    path = new_path(folder / FOLDER, name, "pour")
    given = amounts or {}
    lines = [f"trial = {quoted(trial)}", f"title = {quoted(title or name)}"]
    lines.append(f"poured = {(poured or datetime.now()).replace(microsecond=0, tzinfo=None).isoformat()}")  # noqa: DTZ005  a local time, as people write it
    if "density" in given:
        lines.append(f'wanted_density = "{given["density"]:.4g} kg/m3"')
    if "volume" in given:
        lines.append(f'wanted_volume = "{given["volume"] * 1e3:.4g} L"')
    masses = {key: _mass(key, given.get(key)) for key in ("cement", "sand", "water")}
    text = filled_in("\n".join(lines) + "\n" + _REST.format(**masses), entries or {})
    problems = parse_pour(text, name).problems
    if problems:
        raise InputError("; ".join(problems), where="pour", remedy="Nothing is written yet: fix these entries")
    path.parent.mkdir(parents=True, exist_ok=True)
    write_atomically(path, lambda file: file.write(text.encode("utf-8")))
    return path


def new_path(folder: Path, name: str, what: str) -> Path:
    """Path of a new file in a folder. Raises InputError if the name cannot be a file's, or if there is such a file."""
    if not name or Path(name).name != name or name.startswith(".") or len(name) > 100 or not name.isprintable():
        raise InputError(f"“{name[:40]}” cannot be the name of a file", where=what, remedy="Write it like 04-12-kerb")
    path = folder / f"{name}.toml"
    if path.exists():
        raise InputError(f"a {what} with this name is recorded already", where=str(path), remedy="Choose another name")
    return path


def filled_in(text: str, entries: Mapping[str, str]) -> str:
    """The file with these entries below the head of their table, in place of lines for the same key."""
    lines = text.split("\n")
    for path, value in entries.items():
        table, _, key = path.rpartition(".")
        begin = next((k for k, line in enumerate(lines) if line.startswith(f"[{table}]")), 0) if table else 0
        end = next((k for k in range(begin + 1, len(lines)) if lines[k].startswith(("[", "# [["))), len(lines))
        own = [k for k in range(begin, end) if lines[k].removeprefix("# ").startswith(f"{key} =")]
        line = f"{key} = {quoted(value)}"
        if own:
            lines[own[0]] = line
        else:
            lines.insert(begin + bool(table), line)
    return "\n".join(lines)


def _mass(key: str, value: float | None) -> str:
    if value is None:
        return f'# {key} = "25 kg"'
    return f'{key} = "{value:.4g} kg"' + (
        "" if key == "sand" else "      # by the batch sheet: change it to what was put in"
    )


def quoted(value: str) -> str:
    """A text as TOML has it; what cannot be printed becomes a space."""
    plain = printable(value).replace("\\", "\\\\").replace('"', '\\"')
    return f'"{plain}"'


def printable(value: str) -> str:
    """The text with a space for what cannot be printed."""
    return "".join(one if one.isprintable() else " " for one in value)
