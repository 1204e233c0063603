"""The sweeps chosen for the air source and the generator's resistance, and the curves read from them."""

from __future__ import annotations

from math import inf
from pathlib import Path
from typing import Any

from frothline.bench.snapshot import Snapshot
from frothline.curve.blower import BlowerFit
from frothline.curve.steady_points import SteadyPoint
from frothline.errors import InputError
from frothline.generator.build import Build
from frothline.generator.room_air import RoomAir
from frothline.readings.applied_calibration import calibration_for
from frothline.sweep.recorded_generator import Role, check_role, read_generator_sweep, role_notes
from frothline.sweep.recorded_source import load_sweeps

NOTHING = ""
LIVE_SOURCE = "live"  # the source, or the line of the generator, that was swept in this session
LEAST_POINTS = 3  # steady points that a line is scaled to
# Air of room and line is rounded to these steps; without them every small change would need a new evaluation.
_STEPS = {"ambient_pressure": 500.0, "ambient_temperature": 2.0, "ambient_humidity": 0.2, "line_temperature": 5.0}


class ChosenSweeps:
    """Source curves and points of the generator's lines, as chosen on the page. The workspace holds the lock.

    ``chosen``: "source", "new_source", "dry", "wet" -> path of a recording, LIVE_SOURCE or NOTHING. ``measured_build``:
    the build that was measured, where it was changed and saved since. ``count``: sweeps of this session that became a
    measured line.
    """

    def __init__(self) -> None:
        self.chosen = {"source": LIVE_SOURCE, "new_source": NOTHING, "dry": NOTHING, "wet": NOTHING}
        self.measured_build: Build | None = None
        self.count = 0
        self._live: BlowerFit | None = None
        self._curves: dict[str, BlowerFit] = {}
        self._points: dict[str, tuple[SteadyPoint, ...]] = {}
        self._read_with: dict[str, str] = {}  # stamp of the calibration file, by path of the recording
        self._taken: dict[str, tuple[SteadyPoint, ...]] = {}  # the session's sweeps already processed, by kind
        self._air: dict[str, Any] = {}  # measured now, rounded to steps
        self._recorded_air: dict[str, RoomAir] = {}  # by the path of the source's recording

    @property
    def source(self) -> BlowerFit | None:
        """The air source's curve in use."""
        chosen = self.chosen["source"]
        return self._live if chosen == LIVE_SOURCE else self._curves.get(chosen)

    @property
    def new_source(self) -> BlowerFit | None:
        """The curve of the air source to compare with."""
        return self._curves.get(self.chosen["new_source"])

    @property
    def swept(self) -> frozenset[str]:
        """Lines of this generator swept in this session, "dry" or "wet"."""
        return frozenset(kind for kind in ("dry", "wet") if _swept(kind) in self._points)

    @property
    def has_measured_line(self) -> bool:
        return any(self.chosen[kind] != NOTHING for kind in ("dry", "wet"))

    def points_of(self, kind: str) -> tuple[SteadyPoint, ...]:
        """Steady points of the chosen "dry" or "wet" line; empty without one."""
        path = self.chosen[kind]
        return self._points.get(_swept(kind) if path == LIVE_SOURCE else path, ())

    def notice(self, now: Snapshot) -> tuple[str, ...]:
        """Take fit, sweeps and air of the session; gives the kinds of the lines that were measured again."""
        if now.fit is not None:
            self._live = now.fit
        for name, step in _STEPS.items():
            latest = now.latest.get(name)
            # a change needs half a step more, so that the value does not flicker between two steps
            if latest is not None and latest.known and abs(latest.value - self._air.get(name, inf)) > 0.75 * step:
                self._air[name] = step * round(latest.value / step)
        measured = []
        for kind, points in now.through.items():
            if self._taken.get(kind) is points:
                continue
            self._taken[kind] = points
            if len(points) >= LEAST_POINTS:
                self._points[_swept(kind)] = points
                self.chosen[kind] = LIVE_SOURCE
                self.only(kind)
                self.count += 1
                measured.append(kind)
        return tuple(measured)

    def forget_swept(self) -> None:
        """Drop the measured lines; another generator is in use."""
        for kind in ("dry", "wet"):
            self._points.pop(_swept(kind), None)
            self.chosen[kind] = NOTHING
        self.measured_build = None

    def only(self, kind: str) -> None:
        """Keep one measured line of the present generator; drop the other one if it belongs to the build before."""
        if self.measured_build is not None:
            self.chosen["wet" if kind == "dry" else "dry"] = NOTHING
            self.measured_build = None

    def load(self, what: str, path: str, calibration: Any) -> None:
        """Read a recording for a choice. Raises RecordingError, SensorError, FitError, InputError with the reason."""
        used = calibration_for(calibration, path)
        stamp = "" if used is None else used.stamp
        if self._read_with.get(path, "") != stamp:  # it was read with another calibration
            self._read_with[path] = stamp
            self._points.pop(path, None)
            self._curves.pop(path, None)
        if what in {"dry", "wet"}:
            role: Role = "dry" if what == "dry" else "wet"
            check_role([Path(path)], role)
            if path not in self._points:
                found = read_generator_sweep([Path(path)], role, calibration=calibration)
                if not found:
                    raise InputError(
                        "no steady point was found in it",
                        where=path,
                        remedy="Sweep it with the guide, or hold each opening of the bleed for about five seconds",
                    )
                self._points[path] = found
        elif path not in self._curves:
            check_role([Path(path)], "source")
            of_source = load_sweeps([Path(path)], calibration)
            self._curves[path], self._recorded_air[path] = of_source.fit(), of_source.air

    def room_air(self) -> RoomAir:
        """The air that the rig measures now; without a reading, the air of the source's recording."""
        if "ambient_pressure" in self._air:
            return RoomAir(**self._air, origin="now")
        chosen = self.chosen["new_source"] if self.chosen["new_source"] != NOTHING else self.chosen["source"]
        return self._recorded_air.get(chosen, RoomAir())

    def role_notes(self, built: Build) -> tuple[str, ...]:
        """Notes on the chosen recordings, in the words of the command line."""
        measured = self.measured_build or built
        given: tuple[tuple[str, Role, Build | None], ...] = (
            ("source", "source", None),
            ("new_source", "source", None),
            ("dry", "dry", measured),
            ("wet", "wet", measured),
        )
        chosen = [(self.chosen[what], role, build) for what, role, build in given]
        return tuple(
            note
            for path, role, build in chosen
            if path not in {LIVE_SOURCE, NOTHING}
            for note in role_notes([Path(path)], role, build)
        )


def _swept(kind: str) -> str:
    """Key of the session's own sweep among the paths of recordings."""
    return f"{LIVE_SOURCE} {kind}"
