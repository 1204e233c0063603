"""From a sheet, a source and what was measured to the answer that the generator's page shows. No page stands here.

Everything is reckoned by the bench; here it is asked for in the right order, and brought into a shape that a picture
can draw. It takes about a second at most and runs in a worker.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from frothline.bench.build import Build, differences
from frothline.bench.cautions import Caution, cautions, largest_pressure
from frothline.bench.generator import Conditions, Generator
from frothline.bench.scaling import Scaling, scale_to_measured
from frothline.bench.sizing import Reverse, Wanted, size_for
from frothline.bench.whatif import FoamKnowledge, Prediction, WhatIf, changed, predict, what_if
from frothline.curve import BlowerFit, SteadyPoint
from frothline.curve.operating_point import OperatingPoint
from frothline.errors import FrothlineError, InputError, OutsideValidity
from frothline.estimate import Z95
from frothline.screen.decimate import Floats

STEPS = 41  # points of a drawn resistance line
TOP = 1.25  # times the source's largest pressure: as far up as a resistance is drawn
WITHOUT_SOURCE = 25e3  # Pa up to which a resistance is drawn where no source is known


@dataclass(frozen=True)
class Load:
    """A resistance on a grid of flows: all (n,) SI; the band is that of 95 %. ``wet`` or dry, ``changed`` or as built,
    ``measured`` where sweeps through this generator stand behind it.
    """

    flow: Floats
    pressure: Floats
    lower: Floats
    upper: Floats
    wet: bool
    changed: bool
    measured: bool


@dataclass(frozen=True)
class Given:
    """All that an answer depends on."""

    built: Build
    wanted: Build | None  # as it stands in the form; None where it cannot exist
    source: BlowerFit | None
    new_source: BlowerFit | None
    conditions: Conditions
    knowledge: FoamKnowledge
    dry: tuple[SteadyPoint, ...] = ()
    wet: tuple[SteadyPoint, ...] = ()
    swept: Build | None = None  # what the points were measured of, where it was changed and saved since
    notes: tuple[str, ...] = ()  # what to know of the recordings that were chosen


@dataclass(frozen=True)
class Answer:
    """``built`` as the sheet says, ``change`` with what was altered (None where nothing was). ``trouble`` says why one
    of them is missing, in words.
    """

    given: Given
    generator: Generator  # as built, scaled to what was measured where it was
    scaling: Scaling | None
    built: Prediction | None
    change: WhatIf | None
    loads: tuple[Load, ...]
    changed: tuple[str, ...]  # paths of the entries that differ
    cautions: tuple[Caution, ...]
    trouble: tuple[str, ...]

    @property
    def now(self) -> Prediction | None:
        """What the large figures show: the changed build if there is one, else the one that stands there."""
        return self.change.after if self.change is not None else self.built

    @property
    def blower(self) -> BlowerFit | None:
        """The source of ``now``."""
        return self.given.new_source or self.given.source


def work_out(given: Given) -> Answer:
    """The whole answer; what cannot be had is told in ``trouble`` and costs nothing else."""
    trouble: list[str] = list(given.notes)
    generator, scaling = _generator(given, trouble)
    built: Prediction | None = None
    change: WhatIf | None = None
    altered: tuple[str, ...] = ()
    if given.wanted is not None:
        altered = tuple(item.path for item in differences(given.built, given.wanted))
    if given.source is not None:
        try:
            built = predict(generator, given.source, given.knowledge)
            if given.wanted is not None and (altered or given.new_source is not None):
                change = what_if(
                    generator, given.wanted, given.source, new_blower=given.new_source, knowledge=given.knowledge
                )
        except FrothlineError as error:
            trouble.append(str(error))
    after = change.after if change is not None else built
    loads = _loads(given, generator, scaling, change, altered)
    build = given.wanted or given.built
    blower = given.new_source or given.source
    running = after.point.pressure.value if after is not None and isinstance(after.point, OperatingPoint) else None
    told = cautions(build, largest_pressure(blower, running), given.conditions.ambient.pressure, running=running)
    return Answer(given, generator, scaling, built, change, loads, altered, told, tuple(trouble))


def _generator(given: Given, trouble: list[str]) -> tuple[Generator, Scaling | None]:
    """The generator that stands there, scaled to its sweeps, or carried over from those of the build before it."""
    as_is = Generator(given.built, given.conditions)
    if not (given.dry or given.wet):
        return as_is, None
    swept = given.swept or given.built
    since = tuple(item.path for item in differences(swept, given.built))
    try:
        scaling = scale_to_measured(replace(as_is, build=swept) if since else as_is, given.dry, given.wet)
    except FrothlineError as error:
        trouble.append(str(error))
        return as_is, None
    if not since:
        return scaling.wet, scaling
    words = [path.replace(".", " ").replace("_", " ") for path in since]
    trouble.append(
        f"The sweeps were of the build before {', '.join(words)} {'was' if len(since) == 1 else 'were'} changed, and "
        "the rest is reckoned from them: sweep it again to be sure"
    )
    dry = None if scaling.dry is None else changed(scaling.dry, given.built)
    wet = changed(scaling.wet, given.built)
    return wet, replace(scaling, wet=wet, dry=dry)


def _loads(
    given: Given, generator: Generator, scaling: Scaling | None, change: WhatIf | None, altered: Sequence[str]
) -> tuple[Load, ...]:
    tops = [float(blower.pressure_range[1]) for blower in (given.source, given.new_source) if blower is not None]
    shut = [b.shut_off.value for b in (given.source, given.new_source) if b is not None and b.shut_off.known]
    top = TOP * max([*tops, *shut]) if tops else WITHOUT_SOURCE
    frees = [
        max(b.range[1], b.free_delivery.value if b.free_delivery.known else 0.0)
        for b in (given.source, given.new_source)
        if b is not None
    ]
    reach = max(frees, default=0.06)
    dry = (
        scaling.dry
        if scaling is not None and scaling.dry is not None
        else replace(generator, conditions=replace(generator.conditions, wet=False), errors=None)
    )
    found = [
        _load(dry, reach, top, changed=False, measured=bool(given.dry) and given.swept is None),
        _load(generator, reach, top, changed=False, measured=bool(given.wet) and given.swept is None),
    ]
    if change is not None and altered:
        found.append(_load(change.after.generator, reach, top, changed=True, measured=False))
    return tuple(load for load in found if load is not None)


def _load(model: Generator, reach: float, top: float, *, changed: bool, measured: bool) -> Load | None:
    """The model's own line, with the band of its errors, up to a flow or a pressure, whichever comes first."""

    def asked(q: float) -> float:
        try:
            return model.pressure(q)
        except OutsideValidity:
            return np.inf

    low, high = 0.0, reach
    if asked(high) > top:
        for _ in range(30):
            middle = (low + high) / 2
            low, high = (low, middle) if asked(middle) > top else (middle, high)
    else:
        low = high
    if low <= 0.0:
        return None
    flow = np.linspace(0.0, low, STEPS)
    pressure = np.array([model.pressure(max(float(q), 1e-7)) for q in flow])
    try:
        u = np.asarray(model.line(low).pressure(flow)[1])
    except OutsideValidity:  # an error of the model would carry it beyond what any blower does: no band can be drawn
        u = np.zeros_like(flow)
    # a log-normal band: what is known to a factor is never below zero
    spread = np.exp(Z95 * np.sqrt(np.log1p((u / np.maximum(pressure, 1.0)) ** 2)))
    return Load(flow, pressure, pressure / spread, pressure * spread, model.conditions.wet, changed, measured)


def sized(answer: Answer, change: str, wanted: Wanted, value: float) -> Reverse:
    """The sizes that bring a wanted figure, for the build in the form. Raises InputError."""
    blower = answer.blower
    if blower is None:
        raise InputError("no air source is known yet", remedy="Do a guided sweep on the source page first")
    generator = answer.change.after.generator if answer.change is not None else answer.generator
    return size_for(generator, blower, change, wanted, value, answer.given.knowledge)
