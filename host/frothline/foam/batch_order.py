"""The order of a batch, and the foam for it."""

from __future__ import annotations

from dataclasses import dataclass, field

from frothline.estimate import Estimate
from frothline.foam.dosing import BUCKET, START_UP
from frothline.foam.life import FoamLife
from frothline.foam.survival import BETWEEN_BATCHES, learn_survival
from frothline.physics.mix import (
    CEMENT_RELATIVE_DENSITY,
    SAND_RELATIVE_DENSITY,
    DilutionConvention,
)


@dataclass(frozen=True)
class BatchOrder:
    """The order. ``density`` kg/m3, ``dry`` is whether it is the oven-dry density; ``volume`` m3 to fill;
    ``water_cement`` and ``sand_cement`` by mass; ``bag`` kg of cement in one bag; ``bucket`` m3, for struck foam.
    """

    density: float
    volume: float
    water_cement: float = 0.5
    sand_cement: float = 0.0
    dry: bool = False
    bag: float = 25.0
    bucket: float = BUCKET
    cement_relative_density: float = CEMENT_RELATIVE_DENSITY
    sand_relative_density: float = SAND_RELATIVE_DENSITY


@dataclass(frozen=True)
class MeasuredFoam:
    """The foam as measured: ``density`` kg/m3 and ``output`` m3/s (None without a timed sample); ``survival`` is the
    share of its air that survives mixing, and ``scatter`` its standard deviation from batch to batch, see ``survival``;
    ``start_up`` s without foam after the air comes on; ``reservoir`` m3 of solution (None unknown); ``agent_parts``
    with ``convention`` give the dilution; ``life`` is how long it may wait.
    """

    density: Estimate
    output: Estimate | None = None
    survival: Estimate = field(default_factory=learn_survival)
    start_up: Estimate = START_UP
    reservoir: float | None = None
    agent_parts: float = 40.0
    convention: DilutionConvention = "1+N"
    life: FoamLife = field(default_factory=FoamLife)
    scatter: float = BETWEEN_BATCHES
