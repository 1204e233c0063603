"""Duration of a compressor's tank, from the volume on its plate and the readings of its gauge."""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import hypot, inf, isfinite, sqrt

from frothline.curve.duty_cycle import PumpCycle, pump_cycle
from frothline.curve.source_kinds import KINDS, Lasting, Tank, lasting
from frothline.errors import InputError, OutsideValidity
from frothline.estimate import Estimate
from frothline.physics.air import DRY_GAS_CONSTANT, STANDARD_DENSITY
from frothline.physics.safety import stored_gas_energy
from frothline.units import ZERO_CELSIUS, entry_unit

ATMOSPHERE = 101325.0  # Pa, 1976 standard atmosphere at sea level
ROOM = 20.0 + ZERO_CELSIUS  # K, of the air in the tank
PLATE_VOLUME = 0.03  # relative standard uncertainty of the volume on a tank's plate; judgement, no source
# Limit of error 2.5 % of a span of 16 bar (class 2.5 of EN 837-1, from memory), as a rectangle's standard uncertainty.
SPAN = 16e5  # Pa; also the highest pressure of a workshop tank: judgement, no source
U_GAUGE = 0.025 * SPAN / 3**0.5  # Pa
# The air in the tank is between room temperature (warmth of the wall for all of it) and no warmth at all. Without any,
# the pressure falls 1.4 times as fast at first, and less later: ideal gas, diatomic. So the time is from 1/1.4 to 1 of
# that at room temperature, also with a pump, whose air is not colder than the room.
COOLING = 1.0 - 1.0 / 1.4  # relative, by which a tank lasts less at most
CAUTIONS = (
    *KINDS["compressor"].cautions,
    (
        f"an emptying tank cools and then lasts less: up to {100 * COOLING:.0f} % less if its wall gave no warmth "
        "(ideal gas, 1 - 1/1.4); the value is without this cooling, and the interval includes it"
    ),
    "local codes for pressure vessels come first: inspection, draining, and an untouched relief valve",
)


@dataclass(frozen=True)
class TankDuration:
    """Duration of a draw from a tank.

    lasting : the duration, s, with its text
    stored_energy : J, of the full tank
    cautions : to be shown with the result
    cycle : of the pump between cut-in and the full tank; None without a cut-in
    """

    lasting: Lasting
    stored_energy: float
    cautions: tuple[str, ...] = CAUTIONS
    cycle: PumpCycle | None = None

    @property
    def keeps_up(self) -> bool:
        """True if the pump delivers enough, so that the duration is infinite."""
        return not isfinite(self.lasting.seconds.value)


def tank_duration(
    volume: float, full: float, lowest: float, drawn: float, pump: float = 0.0, cut_in: float | None = None
) -> TankDuration:
    """Time until a tank falls from ``full`` to ``lowest`` (Pa gauge) at a draw, which is taken as exact.

    The value is for air at room temperature; the interval also includes air that gets no warmth from the wall.

    volume : m³, on the tank's plate
    drawn, pump : standard flows, m³/s; the pump is off at 0
    cut_in : Pa, at which the pump starts; it stops at ``full``. It runs from the beginning without a cut-in

    Raises InputError for a value that is not above 0 (pump: below 0) or a tank above 16 bar, OutsideValidity if
    ``lowest`` is not below ``full``, or ``cut_in`` not between them. ``where`` is the name of the argument. Messages
    give pressures as they are given here, above ambient.
    """
    _check("volume", volume, "volume")
    _check("full", full, "tank_pressure")
    _check("lowest", lowest, "tank_pressure")
    _check("drawn", drawn, "air_flow")
    if full > SPAN * (1 + 1e-9):
        what = f"{_shown(full, 'tank_pressure')} is more than {_shown(SPAN, 'tank_pressure')}"
        remedy = "Check its unit; this is for tanks of a workshop and their gauges, and high pressure is another matter"
        raise InputError(what, where="full", remedy=remedy)
    if not 0.0 <= pump < inf:
        what = f"{_shown(pump, 'air_flow')} is below 0"
        raise InputError(what, where="pump", remedy="Give 0 or more; 0 is a pump that is off")
    if lowest >= full:
        at, limit = (_shown(one, "tank_pressure") for one in (full, lowest))
        raise OutsideValidity(
            f"the tank's {at} is not above the lowest usable pressure, {limit} (both above ambient)",
            where="lowest",
            remedy="Wait until the pump has filled the tank, or set the regulator lower",
        )
    if cut_in is not None and not lowest <= cut_in < full:
        raise OutsideValidity(
            f"the cut-in, {_shown(cut_in, 'tank_pressure')}, is not between the lowest usable pressure and the full "
            "tank",
            where="cut_in",
            remedy="Give the pressure at which the pump starts; a generator needs it above the regulator's setting",
        )
    flow = Estimate.normal(drawn, 0.0, "m³/s")
    tank = Tank(Estimate.normal(volume, PLATE_VOLUME * volume, "m³"), Estimate.normal(pump, 0.0, "m³/s"), ROOM)
    # The difference of the two readings is that of the absolute pressures.
    top, end = full + ATMOSPHERE, lowest + ATMOSPHERE
    if cut_in is None or pump == 0.0:
        return TankDuration(_cooled(lasting(tank, top, end, flow, U_GAUGE)), stored_gas_energy(full, volume))
    gas = volume * (full - cut_in) / (DRY_GAS_CONSTANT * ROOM) / STANDARD_DENSITY
    cycle = pump_cycle(gas, drawn, pump)
    at_rest = replace(tank, pump=Estimate.normal(0.0, 0.0, "m³/s"))
    found = lasting(at_rest, top, cut_in + ATMOSPHERE, flow, U_GAUGE)  # the pump rests until the cut-in
    if pump >= drawn:
        endless = _cooled(lasting(tank, top, end, flow, U_GAUGE))
        words = f"the pump is sufficient: it runs {100 * cycle.share:.0f} % of the time"
        words += f", {cycle.on:.0f} s on and {cycle.off:.0f} s off" if cycle.reaches_cut_out else ""
        return TankDuration(replace(endless, words=words), stored_gas_energy(full, volume), cycle=cycle)
    if cut_in > lowest:
        found = _after_one_another(found, lasting(tank, cut_in + ATMOSPHERE, end, flow, U_GAUGE))
    return TankDuration(_cooled(found), stored_gas_energy(full, volume), cycle=cycle)


def _after_one_another(first: Lasting, second: Lasting) -> Lasting:
    """Two stretches of one draw. The plate's volume is common to both, so that their uncertainties add."""
    one, other = first.seconds, second.seconds
    seconds = one.plus(other, correlation=1.0)
    return replace(second, seconds=replace(seconds, lower=max(seconds.lower, 0.0)))


def _cooled(found: Lasting) -> Lasting:
    """The same with the cooling in its interval: a rectangle of ``COOLING`` below the value (JCGM 100:2008, 4.3.8)."""
    seconds = found.seconds
    if not isfinite(seconds.value):
        return replace(found, seconds=replace(seconds, lower=(1.0 - COOLING) * seconds.lower))
    less = COOLING * seconds.value
    # the two are independent: their half intervals add as squares
    lower = seconds.value - hypot(seconds.value - seconds.lower, less)
    u = hypot(seconds.standard_uncertainty, less / sqrt(3.0))
    return replace(found, seconds=replace(seconds, standard_uncertainty=u, lower=max(lower, 0.0)))


def _check(name: str, value: float, kind: str) -> None:
    if not 0.0 < value < inf:
        what = f"{_shown(value, kind)} is not greater than 0"
        raise InputError(what, where=name, remedy="Give a value greater than 0")


def _shown(value: float, kind: str) -> str:
    unit = entry_unit(kind, "metric")
    return f"{unit.from_si(value):.4g} {unit.symbol}"
