"""The state of a run as immutable copies, SI. An unknown figure is None, and ``why`` has the reason."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from frothline.estimate import Estimate
from frothline.run.watch.alarms import Alarm, ends_foam, spoilt

if TYPE_CHECKING:
    from frothline.foam.sample import FoamSample, Weighing
    from frothline.run.agreement import Agreement
    from frothline.run.course import RunCourse

# Phases of a run, in order; ``unknown`` if no measurement determines it.
WAITING = "waiting"  # no air yet
AIR_ALONE = "air alone"  # no solution has arrived yet
PRIMING = "priming"  # air flows, packing and foam hose are filling
FOAMING = "foaming"
THINNING = "thinning"  # solution runs out
DRY = "dry"
UNKNOWN = "unknown"
PHASES = (WAITING, AIR_ALONE, PRIMING, FOAMING, THINNING, DRY, UNKNOWN)


@dataclass(frozen=True)
class SampleTaken:
    """A sample weighed during the run: time of the full container (s of session time), readings, results.

    number : in this run, from 1;  air : free air during filling, m3/s, None if unknown
    counts : False if it was withdrawn
    """

    time: float
    weighing: Weighing
    sample: FoamSample
    number: int = 0
    air: Estimate | None = None
    counts: bool = True


@dataclass(frozen=True)
class FlowViews:
    """Three views of one flow, m3/s at 1.2 kg/m3, each with a 95 % interval; None if a part is missing.

    ``anemometer`` by the rotor; ``by_source`` by the source's curve at this pressure; ``by_build`` by the wet build at
    this pressure. ``pressure`` Pa gauge at the tap.
    """

    pressure: Estimate | None = None
    anemometer: Estimate | None = None
    by_source: Estimate | None = None
    by_build: Estimate | None = None


@dataclass(frozen=True)
class RunFigures:
    """Figures of foam and solution. Volumes are at ambient pressure, as in the bucket, unless stated otherwise.

    foam_rate : m3/s
    foam_total : m3 since the run began
    foam_left : m3 that the remaining solution will make
    foam_good : m3 made before the first alarm that spoils foam, see ``RunState.spoilt``; None without one
    density : kg/m3 in the bucket;  density_in_line : kg/m3 in the generator, at its pressure; both as a scale in the
    room's air shows it;  expansion, capture : 1
    air_used : m3 of free air;  solution_rate : m3/s;  solution_used, solution_left : m3;  time_left : s to go
    why : name of a figure that is None -> the reason, in words
    assumptions : assumptions of the figures, as sentences
    """

    foam_rate: Estimate | None = None
    foam_total: Estimate | None = None
    foam_left: Estimate | None = None
    foam_good: Estimate | None = None
    density: Estimate | None = None
    density_in_line: Estimate | None = None
    expansion: Estimate | None = None
    capture: Estimate | None = None
    air_used: Estimate | None = None
    solution_rate: Estimate | None = None
    solution_used: Estimate | None = None
    solution_left: Estimate | None = None
    time_left: Estimate | None = None
    why: Mapping[str, str] = field(default_factory=dict)
    assumptions: tuple[str, ...] = ()


@dataclass(frozen=True)
class ExpectedRun:
    """Where the run should work: ``pressure`` Pa gauge, at the operating point of source curve and build; ``foam_rate``
    m3/s of its air. None if a part is missing.
    """

    pressure: Estimate | None = None
    foam_rate: Estimate | None = None


@dataclass(frozen=True)
class RunState:
    """A run, now.

    running : False after the stop; the last figures stay
    time, started, elapsed : s of session time;  phase : one of PHASES, ``phase_words`` a sentence
    output : foam and solution;  views : the three views of the flow;  samples : those weighed during the run that count
    alarms : active alarms, the most severe first
    log : all alarms of the run, oldest first, with their end
    cannot_see : faults that the watch cannot detect with the fitted sensors, as sentences
    build, source : names, empty if not given
    trouble : reason why readings could not be evaluated, as text; empty without a problem
    expected : where the run should work;  course : the run over time;  agreement : of its parts; None before a reading
    """

    running: bool
    time: float
    started: float
    elapsed: float
    phase: str
    phase_words: str
    output: RunFigures
    views: FlowViews
    samples: tuple[SampleTaken, ...] = ()
    alarms: tuple[Alarm, ...] = ()
    log: tuple[Alarm, ...] = ()
    cannot_see: tuple[str, ...] = ()
    build: str = ""
    source: str = ""
    trouble: str = ""
    expected: ExpectedRun = field(default_factory=ExpectedRun)
    course: RunCourse | None = field(default=None, compare=False)
    agreement: Agreement | None = None

    @property
    def spoilt(self) -> Alarm | None:
        """The first alarm of this run that spoils foam, active or ended."""
        return spoilt(self.log)


def no_foam_reason(run: RunState) -> str:
    """Title of the most severe alarm under which the measured air makes no foam; empty without one."""
    alarm = ends_foam(run.alarms) if run.running else None
    return "" if alarm is None else alarm.title
