"""Sweeps through generators in a folder, with the build that was swept: points that tell about the next build.

A sweep is read once; its points are kept in the folder (CACHE) until its recording or the calibration changes.
"""

from __future__ import annotations

import json
import logging
import math
from collections.abc import Iterable, Mapping, Sequence
from contextlib import suppress
from dataclasses import asdict, dataclass, fields
from pathlib import Path
from typing import Any

from frothline.atomic_file import write_atomically
from frothline.curve.steady_points import CommonError, SteadyPoint
from frothline.errors import FrothlineError
from frothline.generator.build import Build
from frothline.readings.applied_calibration import AUTO, calibration_for
from frothline.recording.summary import GENERATOR_SWEEP, Entry
from frothline.sweep.recorded_generator import Role, identify, read_generator_sweep
from frothline.trials.trial import is_simulated

_log = logging.getLogger(__name__)

CACHE = ".frothline-generator-sweeps.json"
_VERSION = 1  # of the cache; grows when SteadyPoint changes


@dataclass(frozen=True)
class SweptBuild:
    """A build and the steady points of one sweep through it, ``wet`` or dry."""

    build: Build
    wet: bool
    points: tuple[SteadyPoint, ...]
    simulated: bool


def swept_builds(
    folder: Path, entries: Iterable[Entry], calibration: Any = AUTO, spool: Any = None
) -> tuple[SweptBuild, ...]:
    """The sweeps through generators whose build and state are written, the oldest first. Never raises.

    A sweep that cannot be read is left out: ``role_notes`` and ``read_generator_sweep`` say why when it is chosen.
    """
    plain = spool is None
    known = _read_cache(folder) if plain else {}
    kept: dict[str, Any] = {}
    found: list[SweptBuild] = []
    for entry in sorted(entries, key=lambda one: (one.started is None, one.started or 0.0, one.name)):
        if entry.kind != GENERATOR_SWEEP or entry.state not in ("closed", "open"):
            continue
        path = Path(entry.path)
        try:
            identity = identify(path)
            if identity.build is None or identity.role not in ("dry", "wet"):
                continue
            stamp = _stamp(path, identity.role, calibration)
            key = str(path.relative_to(folder)) if path.is_relative_to(folder) else str(path)
            points = _points_of(known.get(key), stamp)
            if points is None:
                role: Role = "wet" if identity.role == "wet" else "dry"
                points = read_generator_sweep([path], role, calibration=calibration, spool=spool)
            kept[key] = [stamp, [asdict(point) for point in points]]
            found.append(SweptBuild(identity.build, identity.role == "wet", points, is_simulated(entry)))
        except (FrothlineError, OSError) as error:
            _log.info("%s teaches nothing: %s", path, error)
    if plain and {name: one[0] for name, one in kept.items()} != {name: one[0] for name, one in known.items()}:
        text = json.dumps({"version": _VERSION, "sweeps": kept})
        with suppress(FrothlineError, OSError):  # a read-only folder only costs time
            write_atomically(folder / CACHE, lambda file: file.write(text.encode()))
    return tuple(found)


def _stamp(path: Path, role: str, calibration: Any) -> list[Any]:
    status = path.stat()
    used = calibration_for(calibration, path)
    return [status.st_size, status.st_mtime_ns, role, "" if used is None else used.stamp]


def _read_cache(folder: Path) -> dict[str, Any]:
    try:
        cache = json.loads((folder / CACHE).read_text(encoding="utf-8"))
        found = cache["sweeps"] if cache["version"] == _VERSION else {}
        return {key: one for key, one in found.items() if isinstance(one, list) and len(one) == 2}
    except (OSError, ValueError, KeyError, TypeError, AttributeError):
        return {}


def _points_of(kept: Sequence[Any] | None, stamp: Sequence[Any]) -> tuple[SteadyPoint, ...] | None:
    """The points as kept; None where they are not known, or not of this recording."""
    if kept is None or kept[0] != stamp:
        return None
    try:
        points = tuple(_point(one) for one in kept[1])
    except (KeyError, TypeError, ValueError, AttributeError):
        return None
    known = all(math.isfinite(point.pressure + point.flow + point.u_pressure + point.u_flow) for point in points)
    return points if known else None


def _point(one: Mapping[str, Any]) -> SteadyPoint:
    """A point of its dictionary, as ``asdict`` makes it."""
    values: dict[str, Any] = {item.name: one[item.name] for item in fields(SteadyPoint)}
    values["common"] = tuple(CommonError(**part) for part in values["common"])
    values["notes"] = tuple(values["notes"])
    return SteadyPoint(**values)
