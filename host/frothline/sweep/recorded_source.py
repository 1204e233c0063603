"""Steady points and curve of an air source from recorded sweeps, by the same steps as live."""

from __future__ import annotations

import itertools
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from math import isfinite, nan
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from frothline.curve.blower import BlowerCurve, BlowerFit
from frothline.curve.fan_laws import Conditions, corrected_each
from frothline.curve.pooling import Pooling, pool
from frothline.curve.positive_displacement import FORM as PUMP
from frothline.curve.positive_displacement import NO_FAN, PUMP_ELSEWHERE
from frothline.curve.source_entries import Motor, known_motor
from frothline.curve.steady import OnlineSteady, Refusal
from frothline.curve.steady_points import SteadyPoint
from frothline.errors import InputError, OutsideValidity, SensorMissing, TooFewPoints
from frothline.generator.cautions import largest_pressure, pressure_caution
from frothline.generator.room_air import RoomAir
from frothline.quantities import check_range, read_quantity
from frothline.readings.applied_calibration import AUTO, calibration_for, one_calibration_file, paths_of, refuse_twice
from frothline.readings.note_times import note_times
from frothline.readings.series import read_series
from frothline.readings.steady_input import steady_columns
from frothline.recording.reader import load
from frothline.recording.recorded import Recorded
from frothline.recording.summary import GENERATOR_SWEEP, metadata_path, read_metadata
from frothline.rounding import counted
from frothline.sensors.calibration import Calibration
from frothline.sensors.description import RigDescription
from frothline.sensors.finding import Finding
from frothline.sensors.series import Series, Status
from frothline.sensors.spool import Spool
from frothline.sensors.sweep_plausibility import compare_flows, look_at_sweep
from frothline.sweep.point_table import is_point_table
from frothline.sweep.points_by_hand import read_points
from frothline.sweep.source_file import holds_points, source_points
from frothline.sweep.source_off import SourceOff, find_source_off, switched_off, without
from frothline.sweep.withdrawn import Stretch, withdrawn_stretches, without_withdrawn


@dataclass(frozen=True)
class RecordedSweeps:
    """Steady points of all recordings, each with the number of its recording as ``source``.

    ``findings``: findings on a recording, with its number. ``together``: findings from the comparison of all
    recordings. ``off``: stretches of plate recordings left out because the source was off. ``air``: air of room and
    hose during recording, the mean of all recordings. ``notes``: of points that were entered by hand.
    """

    recordings: tuple[Path, ...]
    points: tuple[SteadyPoint, ...]
    refused: tuple[Refusal, ...]
    findings: tuple[tuple[int, Finding], ...] = ()
    together: tuple[Finding, ...] = ()
    off: tuple[SourceOff, ...] = ()
    air: RoomAir = field(default_factory=RoomAir)
    notes: tuple[str, ...] = ()

    def fit(self, curve: BlowerCurve | None = None) -> BlowerFit:
        """Fit the curve. Raises FitError, TooFewPoints with the reasons of the refused stretches if there is no point,
        and InputError if a recording is a sweep through a generator.
        """
        if (other := not_of_a_source(self.recordings)) is not None:
            raise InputError(
                "this is a sweep through a generator, not of an air source",
                where=str(other),
                remedy="Use it in `frothline whatif` with --wet or --dry-sweep",
            )
        if not self.points:
            reasons = "; ".join(dict.fromkeys(one.reason for one in self.refused)) or "no steady stretch"
            raise TooFewPoints(
                f"no steady point was found ({reasons})",
                where=", ".join(map(str, self.recordings)),
                remedy="Hold each opening for some five seconds while recording",
            )
        found = (curve or BlowerCurve()).fit(self.points)
        top = largest_pressure(found, None)
        high = None if top is None else pressure_caution(top)
        said = (*self.notes, f"caution: {high.words}") if high is not None and high.key == "compressor" else self.notes
        return replace(found, notes=(*said, *found.notes)) if said else found

    def elsewhere(self, wanted: Conditions, voltage: float | None = None) -> BlowerFit:
        """The curve under other conditions, by the fan laws. ``voltage``: of the supply when it was measured, V.

        Raises OutsideValidity beyond the limits of the laws and for a pump, which does not follow them, and as ``fit``.
        """
        if self.fit().form == PUMP:
            raise OutsideValidity(NO_FAN, where="curve", remedy=PUMP_ELSEWHERE)
        return replace(self, points=corrected_each(self.points, wanted, voltage)).fit(BlowerCurve(motor=wanted.motor))

    def pooled(self, curve: BlowerCurve | None = None) -> Pooling:
        """Test whether the recordings, possibly of several days, agree as one source, in standard air if the air of
        each is known. Raises TooFewPoints for a single recording, or if one has too few points.
        """
        curve = curve or BlowerCurve()
        points = self.points
        if all(isfinite(point.ambient_density) for point in points):
            points = corrected_each(points, Conditions(motor=curve.motor))
        each = [[point for point in points if point.source == k] for k in range(len(self.recordings))]
        return pool(each, curve=curve, between=("fan law",))


def not_of_a_source(recordings: Sequence[Path]) -> Path | None:
    """The first recording with a TOML file for a generator sweep; None without one."""
    return next(
        (
            path
            for path in recordings
            if not holds_points(path) and read_metadata(metadata_path(path))[0].get("kind") == GENERATOR_SWEEP
        ),
        None,
    )


def load_sweeps(
    recordings: str | Path | Sequence[str | Path],
    calibration: Any = AUTO,
    spool: Any = None,
    holes: Sequence[float] = (),
    motor: Motor = "series",
) -> RecordedSweeps:
    """Read one or more recordings and find their steady points. Raises RecordingError, SensorError, InputError.

    A path that ends in .csv, .tsv or .txt is a table of points entered by hand, see ``points_by_hand``; one that ends
    in .toml is the file of a measured source, see ``source_file``.

    ``calibration`` : "auto", a calibration or its file, or None for the data sheets, as in ``read_table``
    ``holes`` (m), one per recording: it was made with a drilled plate of that hole at the end of the line. Its flow
    follows from the line pressure, without an anemometer; an anemometer that turned is compared with the plates. The
    entry ``hole`` in the TOML next to a recording, like "12 mm", has the same meaning.
    ``motor`` : speed control of the source; used to convert a suction to pressure
    """
    recordings = paths_of(recordings)
    known_motor(motor)
    if calibration == AUTO:
        one_calibration_file(recordings)  # InputError where there are two
    points: list[SteadyPoint] = []
    refused: list[Refusal] = []
    findings: list[tuple[int, Finding]] = []
    plated: list[SteadyPoint] = []
    turned: list[tuple[float, float]] = []
    left_out: list[SourceOff] = []
    airs: list[RoomAir] = []
    notes: list[str] = []
    known: dict[str, str] = {}
    for number, (path, hole) in enumerate(zip(recordings, _holes(recordings, holes), strict=True)):
        if holds_points(path):
            if is_point_table(path):
                entered = read_points(path, number=number, spool=spool, motor=motor)
                its_points, its_notes, its_air = entered.points, entered.notes, entered.air
            else:
                its_points, its_notes, its_air = source_points(path, number)
            refuse_twice(known, str(path), repr([replace(one, source=0) for one in its_points]))
            points += its_points
            notes += its_notes
            airs.append(its_air)
            continue
        its = spool if hole is None else _with_plate(spool, hole)
        recorded = load(path)
        refuse_twice(known, str(path), recorded.identity or recorded.digest())
        its_calibration, off = calibration, None
        series = read_series(recorded, its_calibration, its)
        if hole is not None:
            rotor = read_series(recorded, calibration, _with_rotor(spool, recorded)).get("rotor_frequency")
            off = find_source_off(number, recorded, series, rotor, its)
        if off is not None:
            left_out.append(off)
            if off.zero is not None:
                its_calibration = _with_zero(calibration, recorded, off.zero)
                series = read_series(recorded, its_calibration, its)
        airs.append(RoomAir.of_recording(series, f"in {path.stem}"))
        # with a plate at its end a recording stays at one opening, and its flow follows from its pressure; through a
        # generator both rise together, unlike along a source's curve
        if hole is None and not_of_a_source([path]) is None:
            sensor = RigDescription.from_tables(recorded.decoded.tables).pressure_sensor("pressure")
            findings += [(number, one) for one in look_at_sweep(series, sensor=sensor)]
        columns = steady_columns(series)
        if columns is None:
            raise SensorMissing(
                "it contains no pressure with flow",
                where=str(path),
                remedy="A sweep needs a pressure sensor and an anemometer, or the holes of drilled plates (--holes)",
            )
        withdrawn = withdrawn_stretches(note_times(recorded, "step"))
        steady, its_refused = find_points(columns, number, withdrawn)
        found = without(steady, off)
        if hole is not None:
            ended = switched_off(number, found)
            left_out += ended
            found = [one for one in found if one.start not in {gone.start for gone in ended}]
            plated += found
            turned += _by_the_rotor(found, read_series(recorded, its_calibration, _with_rotor(spool, recorded)))
        points += found
        refused += its_refused
    together = _against_plates(plated, turned)
    air = RoomAir.mean(airs)
    return RecordedSweeps(
        tuple(recordings),
        tuple(points),
        tuple(refused),
        tuple(findings),
        together,
        tuple(left_out),
        air,
        tuple(notes),
    )


def find_points(
    columns: Mapping[str, NDArray[np.float64]], number: int, withdrawn: Sequence[Stretch] = ()
) -> tuple[list[SteadyPoint], list[Refusal]]:
    """Steady points of one recording, found as live, and the refused stretches.

    ``columns`` : as for ``OnlineSteady.feed``
    ``withdrawn`` : stretches that the operator withdrew during the sweep; the finder starts again at the end of each.
    """
    points: list[SteadyPoint] = []
    refused: list[Refusal] = []
    ends = np.searchsorted(columns["time"], [end for _, end in withdrawn])
    edges = [0, *ends.tolist(), len(columns["time"])]
    for begin, end in itertools.pairwise(edges):
        finder = OnlineSteady(source=number)  # the one used live
        finder.feed(**{name: column[begin:end] for name, column in columns.items()})
        finder.finish()
        points += finder.points
        refused += finder.refused
    return without_withdrawn(points, withdrawn), refused


def _with_zero(calibration: Any, recorded: Recorded, zero: float) -> Calibration:
    """The calibration of a recording with its own pressure zero."""
    known = calibration_for(calibration, recorded)
    if known is None:
        return Calibration().with_zero("pressure", zero)
    label = RigDescription.from_tables(recorded.decoded.tables).label
    return known.for_board(label).with_zero("pressure", zero)


def _with_rotor(spool: Spool | None, recorded: Recorded) -> Spool:
    drawn = spool or Spool.for_board(RigDescription.from_tables(recorded.decoded.tables).label)
    return replace(drawn, flow=replace(drawn.flow, element="rotor"))


def _by_the_rotor(points: Sequence[SteadyPoint], series: Mapping[str, Series]) -> list[tuple[float, float]]:
    """Standard flow by the rotor at each point, with its standard uncertainty, m3/s; NaN if it did not turn."""
    flow = series["standard_flow"]
    moving = np.isfinite(flow.value) & (flow.value > 0) & (flow.status & (Status.STOPPED | Status.MISSING) == 0)
    said = []
    for point in points:
        held = moving & (flow.time >= point.start) & (flow.time <= point.end)
        said.append((float(np.mean(flow.value[held])), float(np.mean(flow.u[held]))) if held.any() else (nan, nan))
    return said


def _against_plates(points: Sequence[SteadyPoint], turned: Sequence[tuple[float, float]]) -> tuple[Finding, ...]:
    """Findings on an anemometer that turned behind the plates; empty with fewer than three points."""
    plates, u_plates = np.array([one.flow for one in points]), np.array([one.u_flow for one in points])
    rotor, u_rotor = np.array(turned, dtype=np.float64).reshape(-1, 2).T
    told = np.isfinite(rotor) & (plates > 0)
    if np.count_nonzero(told) < 3:
        return ()
    plates, rotor = plates[told], rotor[told]
    # air and pressure are common to both, so this overestimates, in favour of the anemometer
    u_relative = float(np.median(np.hypot(u_plates[told] / plates, u_rotor[told] / rotor)))
    return tuple(compare_flows(rotor, plates, u_relative, "the plates"))


def _holes(recordings: Sequence[Path], holes: Sequence[float]) -> list[float | None]:
    """The hole (m) of each recording's plate: as given, or by the TOML next to it; None without a plate."""
    recorded = [path for path in recordings if not holds_points(path)]
    if holes and len(holes) != len(recorded):
        raise InputError(
            f"{counted(len(holes), 'hole')} for {counted(len(recorded), 'recording')}",
            where="holes",
            remedy="Give one per recording, in order"
            if recorded
            else "Give none: a table of points has a column for the holes",
        )
    given = iter(holes)
    return [None if holds_points(path) else next(given) if holes else _noted_hole(path) for path in recordings]


def holes_of_each(recordings: Sequence[Path], holes: Sequence[float]) -> list[tuple[float, ...]]:
    """The holes of recordings that are read one by one, as ``load_sweeps`` takes them. Raises InputError."""
    return [() if hole is None or not holes else (hole,) for hole in _holes(recordings, holes)]


def _noted_hole(path: Path) -> float | None:
    """The entry ``hole`` of the TOML next to a recording, m. Raises InputError if it is not a length."""
    file = metadata_path(path)
    typed = read_metadata(file)[0].get("hole")
    if typed is None:
        return None
    try:
        return check_range(read_quantity(typed, "length"), above=0.0)
    except ValueError as error:
        raise InputError(f"hole: {error}", where=str(file), remedy='Write it like hole = "12 mm"') from error


def _with_plate(spool: Spool | None, hole: float) -> Spool:
    """The spool with a plate of this hole at its end."""
    drawn = spool or Spool.default()
    if not 0 < hole < drawn.pipe.bore:
        raise InputError(
            f"a hole of {hole * 1e3:g} mm does not fit a bore of {drawn.pipe.bore * 1e3:g} mm", where="holes"
        )
    return replace(drawn, flow=replace(drawn.flow, element="plate"), plate=replace(drawn.plate, hole=hole))
