"""What a pour became: survival of the foam, yield, densities, settlement. The strength is in ``strength``.

All figures come from what was written of the pour, and from the foam of its trial. What contradicts itself becomes a
question, and the figures that depend on it are unknown until it is answered.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from frothline.errors import FrothlineError
from frothline.estimate import Estimate
from frothline.foam.batch_check import SLURRY_APART
from frothline.foam.survival import U_CUP, survival_of_cup
from frothline.formatting import three_figures
from frothline.numerics.uncertainty import propagate
from frothline.physics.mix import (
    BOUND_WATER,
    air_content,
    air_free_density,
)
from frothline.pours.record import PourRecord, Specimen

U_FOAM_VOLUME = 0.03  # relative standard uncertainty of a foam volume by buckets; judgement, no source
U_FOAM_MASS = 0.02  # the same of a foam mass by weighing the mixer before and after; judgement, no source
U_SPECIMEN = 0.01  # the same of a specimen's volume, each edge to 0.5 mm in 100; judgement, no source
U_CAST = 0.03  # the same of a volume by the mould; judgement, no source
U_SINK = 0.5e-3  # m, of the sink by a rule; judgement, no source
MOST_OFF = 5.0  # of the volume that was made from the wanted one: a slip of a unit; judgement, no source
MOST_LOST = 0.15  # of the volume that cup and masses give, not found in the mould
# Density of a specimen when crushed over that of the cup: it loses water as it dries, and gains little; judgement
SPECIMEN_TO_CUP = (0.6, 1.3)
BOUND = f"{100 * BOUND_WATER:.0f} % of the cement's mass stays as bound water"


@dataclass(frozen=True)
class PourOutcome:
    """The figures of a pour, SI. An unknown one is None, with its reason in ``why``, by name.

    ``survival`` share of the foam's air that is in the concrete; ``cast_density`` kg/m³; ``made`` m³, of the masses at
    the density of the cup; ``yield_ratio`` of that volume over the wanted one; ``dry_density`` kg/m³; ``settlement``
    the sink in 24 h over the depth of the lift, below zero for a rise; ``air`` share of the volume; ``water_cement``
    with the foam's water. ``questions`` have to be answered in the file.
    """

    survival: Estimate | None
    cast_density: Estimate | None
    made: Estimate | None
    yield_ratio: Estimate | None
    dry_density: Estimate | None
    settlement: Estimate | None
    air: Estimate | None
    water_cement: float
    why: Mapping[str, str]
    questions: tuple[str, ...]


FIGURES = ("survival", "cast_density", "made", "yield_ratio", "dry_density", "settlement", "air")


def judge_pour(pour: PourRecord, foam_density: Estimate | None = None) -> PourOutcome:
    """The figures of a pour, with the foam of its trial (``foam_density`` kg/m³; None if it was not weighed)."""
    return _Judge(pour, foam_density).outcome()


def unlike_cup(pour: PourRecord) -> tuple[Specimen, ...]:
    """The specimens whose density when crushed can not be that of the pour's cup: units, a wrong size, another pour."""
    low, high = SPECIMEN_TO_CUP
    known = [one for one in pour.specimens if math.isfinite(one.mass) and math.isfinite(pour.cup_density)]
    return tuple(one for one in known if not low <= one.density / pour.cup_density <= high)


class _Judge:
    """Calculates the figures of one pour, one after the other."""

    def __init__(self, pour: PourRecord, foam_density: Estimate | None) -> None:
        self._pour = pour
        self._density = foam_density
        self._why: dict[str, str] = {}
        self._questions: list[str] = []
        self._contradicts = False  # cup and masses
        self._foam_mass, self._foam_volume = self._foam()

    def outcome(self) -> PourOutcome:
        cast = self._cast()
        survival = self._survival()
        made = self._made(cast)
        self._check_mould(made)
        self._check_specimens()
        return PourOutcome(
            survival=survival,
            cast_density=cast,
            made=made,
            yield_ratio=self._yield(made),
            dry_density=self._dry(made),
            settlement=self._settlement(),
            air=self._air(cast),
            water_cement=self._water() / self._pour.masses.cement,
            why=self._why,
            questions=tuple(self._questions),
        )

    def _unknown(self, name: str, why: str) -> None:
        self._why[name] = why

    # --- what went in ----------------------------------------------------------------------------------------------

    def _foam(self) -> tuple[Estimate | None, Estimate | None]:
        """Mass kg and volume m³ of the foam, from the one that is written and the density of the trial's foam."""
        masses, density = self._pour.masses, self._density
        if math.isfinite(masses.foam):
            mass = Estimate.normal(masses.foam, U_FOAM_MASS * masses.foam, "kg")
            if math.isfinite(masses.foam_volume):
                volume = Estimate.normal(masses.foam_volume, U_FOAM_VOLUME * masses.foam_volume, "m3")
                self._check_foam(mass, volume)
                return mass, volume
            return mass, None if density is None else _divided(mass, density, "m3")
        if math.isfinite(masses.foam_volume):
            volume = Estimate.normal(masses.foam_volume, U_FOAM_VOLUME * masses.foam_volume, "m3")
            return None if density is None else _times(volume, density, "kg"), volume
        return None, None

    def _check_foam(self, mass: Estimate, volume: Estimate) -> None:
        if self._density is None:
            return
        found = mass.value / volume.value
        u = math.hypot(U_FOAM_MASS, U_FOAM_VOLUME, self._density.standard_uncertainty / self._density.value)
        if abs(found / self._density.value - 1) > 4 * u:
            self._questions.append(
                f"foam and foam_volume give a foam of {found:.3g} kg/m³, and its trial weighed "
                f"{self._density.value:.3g} kg/m³: check [masses] and the trial"
            )

    def _water(self) -> float:
        foam = self._foam_mass
        return self._pour.masses.water + (math.nan if foam is None else foam.value)

    def _mass(self) -> float:
        foam = self._foam_mass
        return self._pour.masses.slurry + (math.nan if foam is None else foam.value)

    def _missing(self) -> str:
        """What the masses lack for a volume; empty if nothing."""
        masses = self._pour.masses
        names = [name for name in ("cement", "water") if not math.isfinite(getattr(masses, name))]
        if not (math.isfinite(masses.foam) or math.isfinite(masses.foam_volume)):
            names.append("foam (or foam_volume)")
        if names:
            return f"[masses] lacks {' and '.join(names)}"
        if self._foam_mass is None or self._foam_volume is None:
            return "the foam was not weighed in the trial, so its mass and volume do not give each other"
        return ""

    def _slurry_volume(self) -> float:
        """Volume before the foam, m³: by the weighed density if there is one, else by the relative densities."""
        masses, weighed = self._pour.masses, self._pour.slurry_density
        density = air_free_density(masses.cement, masses.water, masses.sand)
        if math.isfinite(weighed):
            if abs(weighed / density - 1) > SLURRY_APART:
                self._questions.append(
                    f"the slurry weighed {weighed:.0f} kg/m³, and its masses give {density:.0f} kg/m³: check [masses], "
                    "the slurry's container, and whether all the water was in"
                )
                return math.nan
            return masses.slurry / weighed
        return masses.slurry / density

    # --- figures ---------------------------------------------------------------------------------------------------

    def _cast(self) -> Estimate | None:
        cup = self._pour.cup_density
        if math.isfinite(cup):
            return Estimate.normal(cup, U_CUP * cup, "kg/m3")
        self._unknown("cast_density", "no cup was weighed before the pour")
        return None

    def _survival(self) -> Estimate | None:
        cup, missing = self._pour.cup_density, self._missing()
        if not math.isfinite(cup) or missing:
            self._unknown("survival", missing or "no cup was weighed before the pour")
            return None
        volume = self._slurry_volume()
        if not math.isfinite(volume):
            self._unknown("survival", "slurry and masses contradict each other")
            return None
        assert self._foam_volume is not None
        assert self._foam_mass is not None
        # A volume from mass and density counts the density's error twice in the foam's water: a little too wide.
        density = self._density or _divided(self._foam_mass, self._foam_volume, "kg/m3")
        try:
            return survival_of_cup(
                slurry_volume=volume,
                slurry_mass=self._pour.masses.slurry,
                foam_volume=self._foam_volume,
                foam_density=density,
                cup_density=cup,
            )
        except FrothlineError as error:
            self._questions.append(f"{error.what}: {error.remedy[:1].lower()}{error.remedy[1:]}")
            self._contradicts = True
            self._unknown("survival", "cup and masses contradict each other")
            return None

    def _no_cup(self, cast: Estimate | None) -> str:
        """Why the cup and the masses give no volume, for which the mass of the foam is enough; empty if they do."""
        if self._contradicts:
            return "cup and masses contradict each other"
        missing = self._missing() if self._foam_mass is None or not math.isfinite(self._mass()) else ""
        return missing or ("" if cast is not None else "no cup was weighed before the pour")

    def _made(self, cast: Estimate | None) -> Estimate | None:
        why = self._no_cup(cast)
        if cast is None or why:
            self._unknown("made", why)
            return None
        return Estimate.positive(self._mass() / cast.value, U_CUP, "m3")

    def _yield(self, made: Estimate | None) -> Estimate | None:
        wanted = self._pour.wanted_volume
        if made is None or not math.isfinite(wanted):
            self._unknown("yield_ratio", self._why.get("made", "wanted_volume is not written"))
            return None
        ratio = made.value / wanted
        if not 1 / MOST_OFF < ratio < MOST_OFF:
            mixed, ordered = three_figures(made.value * 1e3), three_figures(wanted * 1e3)
            self._questions.append(
                f"masses and cup give {mixed} L, and {ordered} L were wanted: check the wanted volume and its unit"
            )
            self._unknown("yield_ratio", "masses and wanted volume contradict each other")
            return None
        return Estimate.positive(ratio, U_CUP, "1")

    def _check_mould(self, made: Estimate | None) -> None:
        """A mould holds at most what was made; less is what stayed in the mixer or was thrown away."""
        cast = self._pour.cast_volume
        if made is None or not math.isfinite(cast):
            return
        over = cast / made.value - 1
        mould, mixed = three_figures(cast * 1e3), three_figures(made.value * 1e3)
        if over > 3 * math.hypot(U_CUP, U_CAST):
            self._questions.append(
                f"the mould took {mould} L, and masses and cup give only {mixed} L: check [masses], the cup and the "
                "volume of the mould"
            )
        elif over < -MOST_LOST:
            self._questions.append(
                f"masses and cup give {mixed} L, and the mould took {mould} L: if the rest was not thrown away, check "
                "[masses] and the cup"
            )

    def _check_specimens(self) -> None:
        for one in unlike_cup(self._pour):
            self._questions.append(
                f"specimen {one.number} has {three_figures(one.density)} kg/m³, and the cup "
                f"{three_figures(self._pour.cup_density)} kg/m³: check its mass and size, and the cup"
            )

    def _dry(self, made: Estimate | None) -> Estimate | None:
        dried = [one for one in self._pour.specimens if math.isfinite(one.dry_mass)]
        if dried:
            return _mean_dry(dried)
        if made is None:
            self._unknown("dry_density", f"no specimen was dried, and {self._why['made']}")
            return None
        masses = self._pour.masses
        value = ((1 + BOUND_WATER) * masses.cement + masses.sand) / made.value
        return Estimate.normal(
            value, value * made.standard_uncertainty / made.value, "kg/m3", assumptions=(f"not dried: {BOUND}",)
        )

    def _settlement(self) -> Estimate | None:
        sank, lift = self._pour.sank, self._pour.lift
        if not math.isfinite(sank):
            self._unknown("settlement", "the sink after 24 h is not written")
            return None
        if not math.isfinite(lift):
            self._unknown("settlement", "the depth of the lift is not written")
            return None
        if abs(sank) > 0.5 * lift:
            self._questions.append(
                f"the top moved by {three_figures(abs(sank) * 1e3)} mm in a lift of {three_figures(lift * 1e3)} mm: "
                "check both lengths"
            )
            self._unknown("settlement", "sink and lift contradict each other")
            return None
        return Estimate.normal(sank / lift, U_SINK / lift, "1")

    def _air(self, cast: Estimate | None) -> Estimate | None:
        why = self._no_cup(cast)
        if cast is None or why:
            self._unknown("air", why)
            return None
        masses = self._pour.masses
        free = air_free_density(masses.cement, self._water(), masses.sand)
        try:
            value = air_content(cast.value, free)
        except FrothlineError:
            self._unknown("air", "cup and masses contradict each other")
            return None
        return Estimate.normal(value, (1 - value) * U_CUP, "1")


def _mean_dry(dried: list[Specimen]) -> Estimate:
    """Mean of the dried specimens: their scatter, and the measuring of one specimen, which is common to all."""
    values = np.array([one.dry_density for one in dried])
    value = float(values.mean())
    scatter = float(values.std(ddof=1)) / math.sqrt(values.size) if values.size > 1 else 0.0
    return Estimate.normal(value, math.hypot(scatter, U_SPECIMEN * value), "kg/m3")


def _times(one: Estimate, other: Estimate, unit: str) -> Estimate:
    return _joined(one, other, unit, 1)


def _divided(one: Estimate, other: Estimate, unit: str) -> Estimate:
    return _joined(one, other, unit, -1)


def _joined(one: Estimate, other: Estimate, unit: str, power: int) -> Estimate:
    """``one`` times ``other`` to a power; they are measured apart from each other."""
    at = np.array([one.value, other.value])
    u = np.array([one.standard_uncertainty, other.standard_uncertainty])
    found = propagate(lambda x: x[0] * x[1] ** power, at, u, steps=1e-5 * at)
    return Estimate.normal(float(found.value), float(found.u), unit)
