"""The simulated line: the hose between machine and spool, and the state read by faults and ground truth."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Protocol

if TYPE_CHECKING:
    from frothline.simulation.generator import SimulatedGenerator
    from frothline.simulation.instruments import Instruments
    from frothline.simulation.sources import SimulatedSource

HOSE_AREA = 3.141592653589793 / 4.0 * 0.05**2  # m2: 1 m of 50 mm hose between machine and spool
HOSE_LENGTH = 1.0  # m
HOSE_LOSS = 1.6  # velocity heads: friction 0.03 L/D and one entrance


class SimulatedLine(Protocol):
    """State of a simulated line, SI, implemented by ``World``.

    flow : out of the machine, kg/s
    spool_flow : out of the spool, kg/s
    """

    source: SimulatedSource
    instruments: Instruments
    generator: SimulatedGenerator | None
    ambient_pressure: float  # Pa
    ambient_temperature: float  # K
    air_rise: float  # K
    temperature: float  # K, of the air at the spool
    pressure: float  # Pa gauge
    flow: float
    spool_flow: float
    gas: float  # J/(kg K)

    @property
    def time(self) -> float: ...

    @property
    def ambient_density(self) -> float: ...

    @property
    def the_generator(self) -> SimulatedGenerator: ...

    def control(self, name: str, value: Any = None) -> None: ...
