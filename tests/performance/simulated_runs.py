"""Runs of simulated rigs without a port between: as fast as they can be reckoned, with everything about them known.

World and board are stepped in this process, what the board sends is decoded and converted by the host's own code, and
comes out in batches as a session would get them, beside the truth. The same arguments give the same run.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from functools import cache
from typing import Any

import numpy as np

from frothline.curve.blower import BlowerCurve, BlowerFit
from frothline.curve.resistance import ResistanceLine
from frothline.curve.resistance_fit import fit_resistance
from frothline.curve.steady import OnlineSteady
from frothline.foam.dilution import Dilution
from frothline.generator.build import Body, Build, Connection, Hose, Outlet, Packing, Reservoir, Solution, Tube
from frothline.generator.model_fit import fit_to_sweeps
from frothline.generator.operating_conditions import OperatingConditions
from frothline.generator.pressure_model import PressureModel
from frothline.readings.steady_input import steady_columns
from frothline.sensors.converter import Converter
from frothline.sensors.description import RigDescription
from frothline.sensors.series import Series
from frothline.simulation.generator import BUILDS
from frothline.simulation.modelled import ModelledRig
from frothline.simulation.options import read_url
from frothline.wire import decode_all

BATCH = 0.5  # s
TRUTHS = (
    "foam_rate",
    "foam_total",
    "foam_density",
    "solution_left",
    "solution_flow",
    "capture",
    "line_pressure",
    "generator_flow",
)


@dataclass
class SimulatedRun:
    """One run: scenario, random number, and what is done to it when: (s, control, value)."""

    scenario: str = "run-fed"
    seed: int = 1
    seconds: float = 120.0
    events: Sequence[tuple[float, str, Any]] = ()
    options: str = ""  # more of the URL
    truth: dict[str, list[float]] = field(default_factory=dict, repr=False)
    phases: list[str] = field(default_factory=list, repr=False)

    def batches(self) -> Iterator[dict[str, Series]]:
        """Series of each half second; ``truth`` and ``phases`` grow beside, one value a batch, with its end in
        ``truth["time"]``.
        """
        rig = ModelledRig(read_url(f"modelled://{self.scenario}?seed={self.seed}{self.options}"))
        rig.board.start()
        converter = None
        waiting = sorted(self.events, key=lambda event: event[0])
        self.truth.clear()
        self.truth.update({name: [] for name in ("time", *TRUTHS)})
        self.phases.clear()
        start = b""
        while rig.time < self.seconds - 1e-9:
            until = rig.time + BATCH
            while waiting and waiting[0][0] < until - 1e-9:
                when, control, value = waiting.pop(0)
                if when > rig.time + 1e-9:
                    start += rig.run(when - rig.time)
                rig.control(control, value)
            if until > rig.time + 1e-9:
                start += rig.run(until - rig.time)
            tables = decode_all(start).tables
            start = b""
            if converter is None:
                converter = Converter(RigDescription.from_tables(tables))
            known = rig.truth()
            self.truth["time"].append(rig.time)
            self.phases.append(known.get("phase", ""))
            for name in TRUTHS:
                self.truth[name].append(float(known.get(name, np.nan)))
            yield converter.convert(tables)


def steady_points(scenario: str, seed: int, seconds: float, options: str = ""):
    """Steady points of a simulated sweep."""
    finder = OnlineSteady()
    for found in SimulatedRun(scenario, seed, seconds, options=options).batches():
        columns = steady_columns(found)
        if columns is not None:
            finder.feed(**columns)
    finder.finish()
    return finder.points


@cache
def measured_source(seed: int) -> BlowerFit:
    """The curve of the air source that the scenario ``run`` has with this random number, from a simulated sweep."""
    return BlowerCurve().fit(steady_points("sweep", seed, 90.0, "&source=vacuum-small"))


def sheet_of(name: str) -> Build:
    """The sheet that a builder of a simulated generator would write."""
    sim = BUILDS[name]
    return Build(
        name=name,
        connection=Connection(0.050),
        hose=Hose(0.050, 0.0),
        tube=Tube(0.050, 0.300, 4, sim.holes // 4, sim.hole, 0.003, "no", 4 * (sim.holes // 4), sim.head),
        body=Body(sim.body, 0.9),
        packing=Packing("pad", sim.packing, wire=sim.fibre, voidage=1 - sim.solid),
        outlet=Outlet(sim.outlet),
        reservoir=Reservoir(0.045, "gravity"),
        solution=Solution("simulated", Dilution(30, "1+N")),
    )


@cache
def scaled_build(seed: int, build: str = "pipe-100") -> PressureModel:
    """The sheet's model, scaled to a dry and a wet simulated sweep through the generator."""
    dry = steady_points("generator-dry", seed, 90.0, f"&build={build}")
    wet = steady_points("generator-wet", seed, 90.0, f"&build={build}")
    dry, wet = ([point for point in points if point.flow > 0.0] for points in (dry, wet))
    return fit_to_sweeps(PressureModel(sheet_of(build), OperatingConditions.usual()), dry, wet).wet


@cache
def measured_build(seed: int, build: str = "pipe-100") -> ResistanceLine:
    """The wet resistance of the generator of ``run`` with this random number, from a simulated sweep through it."""
    return fit_resistance(steady_points("generator-wet", seed, 90.0, f"&build={build}")).line
