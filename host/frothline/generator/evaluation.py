"""Evaluation of a build with an air source and measured sweeps: operating point, effect of a change, cautions.

The generator page, the command line and Python all evaluate a build here. ``evaluate`` takes about a second at most;
the page calls it in a worker thread.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from frothline.curve.blower import BlowerFit
from frothline.curve.operating_point import OperatingPoint
from frothline.curve.positive_displacement import FORM as PUMP
from frothline.curve.steady_points import SteadyPoint
from frothline.errors import FrothlineError, InputError, OutsideValidity
from frothline.estimate import NOT_MEASURED, Z95
from frothline.foam.agent import TENSION
from frothline.formatting import full_text
from frothline.generator.build import Build, differences
from frothline.generator.build_checks import check_build
from frothline.generator.cautions import Caution, cap_force, cautions, largest_pressure
from frothline.generator.entry_words import spoken
from frothline.generator.foam_prior import FoamKnowledge
from frothline.generator.learned_factors import Experience
from frothline.generator.model_fit import ModelFit, fit_to_sweeps
from frothline.generator.operating_conditions import OperatingConditions
from frothline.generator.prediction import predict, unmeasured
from frothline.generator.prediction_result import PREDICTION_UNITS, Prediction
from frothline.generator.pressure_model import PressureModel, from_sheet
from frothline.generator.room_air import RoomAir
from frothline.generator.size_search import SizeSearch, Wanted, find_size
from frothline.generator.what_if import WhatIf, changed_build, what_if
from frothline.presentable import Observations, Picture, PictureAxis, PictureLine, PicturePoints, Plottable
from frothline.presentable import PresentedFigure as Row
from frothline.units import METRIC

Floats = NDArray[np.float64]

STEPS = 41  # points of a resistance grid
WORKS_AT = 0.7  # of the shut-off pressure, usual operating point of a source; judgement
TOP = 1.25  # times the source's largest pressure: the end of a resistance grid
WITHOUT_SOURCE = 25e3  # Pa, the end of a resistance grid without a source


@dataclass(frozen=True)
class ResistanceGrid:
    """A resistance on a grid of flows: all (n,) SI; the band is the 95 % interval. ``wet`` or dry, ``changed`` or as
    built; ``measured`` if a sweep through this generator supports it.
    """

    flow: Floats
    pressure: Floats
    lower: Floats
    upper: Floats
    wet: bool
    changed: bool
    measured: bool


@dataclass(frozen=True)
class EvaluationInput:
    """All inputs of an evaluation.

    built : the generator by its sheet
    wanted : the changed generator, None if impossible
    source, new_source : curves of the air source and of its replacement
    air : air of room and hose
    knowledge : knowledge of the foam of ``built``
    dry, wet : steady points measured through the generator
    swept : the build that was measured, if it was changed and saved since
    notes : notes on the chosen recordings
    experience : other measured builds of the workshop
    """

    built: Build
    wanted: Build | None
    source: BlowerFit | None
    new_source: BlowerFit | None
    air: RoomAir
    knowledge: FoamKnowledge
    dry: tuple[SteadyPoint, ...] = ()
    wet: tuple[SteadyPoint, ...] = ()
    swept: Build | None = None
    notes: tuple[str, ...] = ()
    experience: Experience | None = None

    @property
    def conditions(self) -> OperatingConditions:
        """Air and liquid of the calculation."""
        blower = self.new_source or self.source
        if blower is not None and blower.flow_curve is not None:
            # a small pump's hose cools its air; the rule for fans gave 1250 K at the pump's shut-off
            return self.air.conditions(self.built, self.knowledge, 0.0)
        if blower is None or not blower.shut_off.known:
            return self.air.conditions(self.built, self.knowledge)
        return self.air.conditions(self.built, self.knowledge, WORKS_AT * blower.shut_off.value)


@dataclass(frozen=True, repr=False)
class Evaluation(Plottable):
    """Result of an evaluation: ``built`` by the sheet, ``change`` with the changed entries (None without a change).
    ``trouble`` gives the reason for a missing one, and unused inputs.
    """

    given: EvaluationInput
    generator: PressureModel  # as built, scaled to measured sweeps if there are any
    scaling: ModelFit | None
    built: Prediction | None
    change: WhatIf | None
    grids: tuple[ResistanceGrid, ...]
    changed: tuple[str, ...]  # paths of the entries that differ
    cautions: tuple[Caution, ...]
    trouble: tuple[str, ...]
    error: FrothlineError | None = None  # reason for a missing prediction with a source
    as_built: Sequence[str] = ()  # the part of ``trouble`` about the model of the build as it is

    @property
    def now(self) -> Prediction | None:
        """The prediction for the large figures: the changed build if there is one, else the build as it is."""
        return self.change.after if self.change is not None else self.built

    @property
    def blower(self) -> BlowerFit | None:
        """The source of ``now``."""
        return self.given.new_source or self.given.source

    @property
    def cap_load(self) -> tuple[float, float] | None:
        """Largest pressure of the source, Pa, and its force on a cap of the body, N; None without a source."""
        running = self.now.point.pressure.value if self.now and isinstance(self.now.point, OperatingPoint) else None
        most = largest_pressure(self.blower, running)
        return None if most is None else (most, cap_force(self.given.wanted or self.given.built, most))

    @property
    def findings(self) -> tuple[str, ...]:
        """Remarks needed before the figures are used, the most important first: unused inputs, effect of the change,
        problems at the operating point, and assumptions.
        """
        change = self.change.words if self.change is not None else ()
        point = self.now.point.words if self.now is not None else ()
        if self.now is not None and isinstance(self.now.point, OperatingPoint):
            point = point[1:]  # the first remark repeats pressure and flow
        notes = () if self.blower is None else self.blower.notes
        pooled = [f"the air source is {one}" for one in notes if one.startswith(NOT_MEASURED)]
        return tuple(dict.fromkeys((*self.trouble, *pooled, *change, *point, *self.given.knowledge.assumptions)))

    @property
    def background(self) -> tuple[str, ...]:
        """Basis of the figures: measured or calculated, and the air conditions."""
        if self.scaling is not None:
            rests = self.scaling.words
        else:
            rests = ("calculated from the build sheet only; a measured wet sweep (--wet) narrows this a lot",)
            rests += unmeasured(self.generator)
        known = {*self.findings, *rests, *(self.now.point.words if self.now is not None else ())}
        others = () if self.now is None else tuple(one for one in self.now.words if one not in known)
        tension = self.given.knowledge.surface_tension
        if tension is not None:
            others += (f"capillary pressures with the measured surface tension of {full_text(tension, TENSION)}",)
        experience = self.given.experience
        unused = () if experience is None else experience.notes_for(self.given.built)
        return (*rests, *others, *unused, self.given.air.words)

    def _title(self) -> str:
        now = self.now
        if now is None:
            return f"{self.given.built.name}: {self.trouble[0] if self.trouble else 'no air source yet'}"
        changes = (
            f" with another {', '.join(map(spoken, self.changed))}" if self.changed and self.change is not None else ""
        )
        if now.pressure is None or now.air_rate is None:
            return f"{self.given.built.name}{changes}: no operating point"
        return f"{self.given.built.name}{changes}: {now.pressure.to('kPa')}, air rate {now.air_rate.to('L/s')}"

    def _figures(self) -> Sequence[Row]:
        if self.built is None or self.change is None:
            return () if self.built is None else self.built.figures()
        moved = (
            Row("change of the pressure", self.change.pressure_change, METRIC["pressure"], difference=True),
            Row("change of the flow", self.change.flow_change, METRIC["flow"], difference=True),
        )
        return (*moved, *self.change.after.figures("changed: "), *self.built.figures("as built: "))

    def _words(self) -> Sequence[str]:
        return (*self.findings, *self.background, *(f"caution: {one.words} ({one.grounds})" for one in self.cautions))

    def _observations(self) -> Observations:
        """One row per build: as built, and changed if there is a change."""
        both = [("as built", self.built), ("changed", None if self.change is None else self.change.after)]
        rows = tuple({"state": state, **one.row} for state, one in both if one is not None)
        unknown = {} if self.now is None else self.now.unknown
        return Observations(rows, {"state": "", **PREDICTION_UNITS}, unknown, {"words": list(self.findings)})

    def _picture(self) -> Picture:
        items: list[PictureLine | PicturePoints] = []
        for name, blower in (("air source", self.given.source), ("new air source", self.given.new_source)):
            if blower is not None:
                flow = np.linspace(0.0, blower.range[1], STEPS)
                low, high = blower.band(flow)
                items.append(PictureLine(name, list(flow), list(blower.pressure(flow)[0]), list(low), list(high)))
        for grid in self.grids:
            name = f"generator, {'wet' if grid.wet else 'dry'}{', changed' if grid.changed else ''}"
            ends = (list(grid.lower), list(grid.upper))
            items.append(PictureLine(name, list(grid.flow), list(grid.pressure), *ends, dashed=not grid.wet))
        both = [("as built", self.built), ("changed", None if self.change is None else self.change.after)]
        for name, one in both:
            if one is not None and one.pressure is not None and one.flow is not None:
                p, q = one.pressure, one.flow
                ends_x, ends_y = (([e.lower], [e.upper]) for e in (q, p))
                items.append(PicturePoints(f"operating point, {name}", [q.value], [p.value], ends_x, ends_y))
        return Picture(
            self.given.built.name,
            PictureAxis("flow (standard air, 1.2 kg/m³)", METRIC["flow"]),
            PictureAxis("pressure", METRIC["pressure"]),
            tuple(items),
        )


def evaluate(given: EvaluationInput, earlier: Evaluation | None = None) -> Evaluation:
    """Operating point, effect of the change, resistance grids and cautions.

    ``trouble`` names what cannot be calculated; the rest is returned.
    ``earlier`` : an evaluation of which the build as it is, with its prediction, is taken where nothing of it changed
    """
    trouble: list[str] = list(given.notes)
    failed: FrothlineError | None = None
    if earlier is not None and _same_generator(earlier.given, given):
        generator, scaling, said = earlier.generator, earlier.scaling, earlier.as_built
    else:
        earlier, said = None, []
        generator, scaling = _generator(given, said)
    trouble += said
    if earlier is not None and not _same_prediction(earlier.given, given):
        earlier = None
    built: Prediction | None = None
    change: WhatIf | None = None
    altered: tuple[str, ...] = ()
    if given.wanted is not None:
        altered = tuple(item.path for item in differences(given.built, given.wanted))
        odd = {one.what for one in check_build(given.built)}
        trouble += [one.what for one in check_build(given.wanted) if not one.fatal and one.what not in odd]
    if given.source is not None:
        try:
            built = earlier.built if earlier is not None else None
            if built is None:
                built = predict(generator, given.source, given.knowledge)
            if given.wanted is not None and (altered or given.new_source is not None):
                change = what_if(
                    generator,
                    given.wanted,
                    given.source,
                    new_blower=given.new_source,
                    knowledge=given.knowledge,
                    before=built,
                )
        except FrothlineError as error:
            failed = error
            trouble.append(str(error))
    after = change.after if change is not None else built
    grids = _grids(given, generator, scaling, change, altered, earlier)
    build = given.wanted or given.built
    blower = given.new_source or given.source
    running = after.point.pressure.value if after is not None and isinstance(after.point, OperatingPoint) else None
    most, pump = largest_pressure(blower, running), blower is not None and blower.form == PUMP
    found = cautions(build, most, given.conditions.ambient.pressure, running=running, pump=pump)
    return Evaluation(
        given, generator, scaling, built, change, grids, altered, found, tuple(trouble), failed, tuple(said)
    )


def _same_generator(one: EvaluationInput, other: EvaluationInput) -> bool:
    """Whether the model of the build as it is comes from the same figures."""
    return (
        one.built == other.built
        and one.conditions == other.conditions
        and one.swept == other.swept
        and one.dry is other.dry
        and one.wet is other.wet
        and one.experience is other.experience
    )


def _same_prediction(one: EvaluationInput, other: EvaluationInput) -> bool:
    """Whether the sources and the knowledge of the foam are the same; a new curve is a new object."""
    return one.source is other.source and one.new_source is other.new_source and one.knowledge == other.knowledge


def _generator(given: EvaluationInput, trouble: list[str]) -> tuple[PressureModel, ModelFit | None]:
    """The generator model as built, scaled to its sweeps, or to those of the earlier build and then changed."""
    swept = given.swept or given.built
    experience = given.experience
    if experience is not None and (given.dry or given.wet):  # runs of this build must not count twice
        experience = experience.without(swept)
    as_is = from_sheet(given.built, given.conditions, experience)
    if not (given.dry or given.wet):
        return as_is, None
    since = tuple(item.path for item in differences(swept, given.built))
    try:
        scaling = fit_to_sweeps(
            from_sheet(swept, given.conditions, experience) if since else as_is, given.dry, given.wet
        )
    except FrothlineError as error:
        trouble.append(str(error))
        return as_is, None
    if not since:
        return scaling.wet, scaling
    words = [path.replace(".", " ").replace("_", " ") for path in since]
    trouble.append(
        f"The sweeps were of the build before {', '.join(words)} {'was' if len(since) == 1 else 'were'} changed, and "
        "the rest is calculated from them: repeat the sweep to confirm"
    )
    dry = None if scaling.dry is None else changed_build(scaling.dry, given.built)
    wet = changed_build(scaling.wet, given.built)
    return wet, replace(scaling, wet=wet, dry=dry)


def _grids(
    given: EvaluationInput,
    generator: PressureModel,
    scaling: ModelFit | None,
    change: WhatIf | None,
    altered: Sequence[str],
    earlier: Evaluation | None,
) -> tuple[ResistanceGrid, ...]:
    tops = [float(blower.pressure_range[1]) for blower in (given.source, given.new_source) if blower is not None]
    shut = [
        b.shut_off.value
        for b in (given.source, given.new_source)
        if b is not None and b.shut_off.known and b.flow_curve is None
    ]
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
    found: list[ResistanceGrid | None] = (
        [grid for grid in earlier.grids if not grid.changed]
        if earlier is not None
        else [
            _grid(dry, reach, top, changed=False, measured=bool(given.dry) and given.swept is None),
            _grid(generator, reach, top, changed=False, measured=bool(given.wet) and given.swept is None),
        ]
    )
    if change is not None and altered:
        found.append(_grid(change.after.generator, reach, top, changed=True, measured=False))
    return tuple(one for one in found if one is not None)


def _grid(model: PressureModel, reach: float, top: float, *, changed: bool, measured: bool) -> ResistanceGrid | None:
    """The model's line with its uncertainty band, up to the first of a flow and a pressure."""

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
    except OutsideValidity:  # an error of the model would exceed any blower's range: no band
        u = np.zeros_like(flow)
    # a log-normal band, which never goes below zero
    spread = np.exp(Z95 * np.sqrt(np.log1p((u / np.maximum(pressure, 1.0)) ** 2)))
    return ResistanceGrid(flow, pressure, pressure / spread, pressure * spread, model.conditions.wet, changed, measured)


def search_sizes(found: Evaluation, change: str, wanted: Wanted, value: float, *, alone: bool = False) -> SizeSearch:
    """Search sizes that give a target figure (SI), for the changed build if there is one. Raises InputError.

    ``alone`` : no linked entry follows the changed entry, see ``linked_entries``
    """
    blower = found.blower
    if blower is None:
        raise InputError("no air source yet", remedy="Do a guided sweep on the source page first")
    generator = found.change.after.generator if found.change is not None else found.generator
    return find_size(generator, blower, change, wanted, value, found.given.knowledge, alone=alone)
