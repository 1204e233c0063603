"""Flow from the element in the spool, by several methods with one interface.

Each element converts its signal and the state of the air to a mass flow with uncertainty contributions. Mass is
conserved along the line; every volume flow is calculated from it and has its state in its name. The elements are in
``anemometers`` (rotor, thermal) and ``differential_elements`` (orifice, Venturi, plate at the end of the line).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

import numpy as np

from frothline.numerics.arrays import Floats
from frothline.numerics.uncertainty import Contribution, rectangular, share
from frothline.physics import air
from frothline.physics.orifice import straight_length_iso_5167_2_2003
from frothline.sensors.line_state import LineState, added, of_reading, scaled
from frothline.sensors.reading import Reading
from frothline.sensors.spool import Spool

BEYOND_TABLE = 0.02  # relative limit for a pipe shorter than the standard lists: common practice, no source


class FlowElement(Protocol):
    """A flow element. ``signal`` is the name of the series it reads."""

    @property
    def kind(self) -> str: ...

    @property
    def signal(self) -> str: ...

    def mass_flow(self, signal: Reading, line: LineState) -> Reading:
        """Mass flow, kg/s (n,), with its contributions in kg/s."""
        ...


@dataclass(frozen=True)
class StraightPipe:
    """Straight lengths in bores.

    upstream, downstream : as built
    wanted_upstream, wanted_downstream : required without additional uncertainty
    reduced_upstream : required with 0.5 % additional uncertainty; None where the standard has none
    extra : relative limit added by a shortfall
    """

    upstream: float
    downstream: float
    wanted_upstream: float
    reduced_upstream: float | None
    wanted_downstream: float
    extra: float
    words: str


def straight_pipe(spool: Spool, ratio: float = 0.75) -> StraightPipe:
    """Comparison of the spool as built with ISO 5167-2:2003, table 3.

    ``ratio`` is the bore ratio of an orifice or Venturi. The table is for orifice plates; for a vane or a probe its
    strictest row, 0.75, is used as advice. InputError or OutsideValidity for a fitting that is not in the table.
    """
    pipe = spool.pipe
    asked = straight_length_iso_5167_2_2003(min(ratio, 0.75), pipe.upstream_fitting)
    behind = straight_length_iso_5167_2_2003(min(ratio, 0.75), "downstream")
    before, after = pipe.straight_upstream / pipe.bore, pipe.straight_downstream / pipe.bore
    slack = 0.05  # bores, tolerance of sawing
    fitting = f"{'an' if pipe.upstream_fitting[0] in 'aeio' else 'a'} {pipe.upstream_fitting}"
    reduced_behind = behind.half_per_cent_more or behind.full
    if before >= asked.full - slack and after >= behind.full - slack:
        extra, words = 0.0, f"{before:.0f} bores of straight pipe after {fitting} are enough"
    elif (
        asked.half_per_cent_more is not None
        and before >= asked.half_per_cent_more - slack
        and after >= reduced_behind - slack
    ):
        extra = 0.005
        words = (
            f"{before:.0f} bores after {fitting} and {after:.0f} behind cost 0.5 % of the flow; "
            f"{asked.full:.0f} and {behind.full:.0f} cost nothing"
        )
    else:
        extra = BEYOND_TABLE
        words = (
            f"{before:.0f} bores after {fitting} and {after:.0f} behind are fewer than the standard "
            f"lists; make it {asked.half_per_cent_more or asked.full:.0f} and {reduced_behind:.0f}, better "
            f"{asked.full:.0f} and {behind.full:.0f}"
        )
    return StraightPipe(before, after, asked.full, asked.half_per_cent_more, behind.full, extra, words)


def installation(spool: Spool, value: Floats, ratio: float = 0.75) -> Contribution:
    """Contribution of a straight length that is too short."""
    limit = straight_pipe(spool, ratio).extra
    origin = "ISO 5167-2:2003 table 3, straight pipe as built"
    return share("installation", "systematic", rectangular(limit) * value, "rectangular", origin)


@dataclass(frozen=True)
class Flows:
    """One flow: mass in kg/s; volume at line, free-air and standard state in m3/s; mean speed over the bore in m/s."""

    mass: Reading
    line: Reading
    free_air: Reading
    standard: Reading
    speed: Reading


def flows(mass: Reading, line: LineState, spool: Spool) -> Flows:
    """All volume flows from the mass flow. Errors common to mass flow and density cancel where they should."""
    status = mass.status
    pipe = spool.pipe
    line_value = mass.value / line.density
    in_line = Reading(
        line_value,
        status,
        lambda: scaled(added(mass.contributions, scaled(line.density_shares, -mass.value)), 1 / line.density),
    )

    def of_free_air() -> tuple[Contribution, ...]:
        shares = added(mass.contributions, scaled(line.ambient_density_shares, -mass.value))
        return scaled(shares, 1 / line.ambient_density)

    def of_speed() -> tuple[Contribution, ...]:
        bore = share("bore", "systematic", -line_value * 2 * pipe.u_bore / pipe.bore, origin="spool file")
        return scaled(added(in_line.contributions, (bore,)), 1 / pipe.area)

    return Flows(
        mass,
        in_line,
        Reading(mass.value / line.ambient_density, status, of_free_air),
        Reading(
            mass.value / air.STANDARD_DENSITY, status, lambda: scaled(mass.contributions, 1 / air.STANDARD_DENSITY)
        ),
        Reading(line_value / pipe.area, status, of_speed),
    )


def air_power(pressure: Reading, standard: Reading) -> Reading:
    """W: gauge pressure times standard flow, the air power of the vacuum-cleaner air-performance tests."""
    return Reading(
        pressure.value * standard.value,
        np.asarray(pressure.status | standard.status),
        lambda: added(
            scaled(standard.contributions, pressure.value), of_reading("line_pressure", pressure, standard.value)
        ),
    )
