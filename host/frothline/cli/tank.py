"""``sources`` with a tank: how long a compressor's tank lasts."""

from __future__ import annotations

from argparse import Namespace
from math import inf, isfinite

from frothline.cli.output import Say
from frothline.curve.source_kinds import KINDS, Tank, lasting
from frothline.errors import InputError
from frothline.estimate import Estimate
from frothline.formatting import full_text
from frothline.physics.safety import stored_gas_energy
from frothline.units import SYSTEMS, ZERO_CELSIUS

DONE, NONE_CAN = 0, 1
ATMOSPHERE = 101325.0  # Pa, 1976 standard atmosphere at sea level
OF_TANK = ("tank", "full", "down_to", "draw")
PLATE_VOLUME = 0.03  # relative, standard: how well the volume on a tank's plate is known; judgement, no source
# Limit of error 2.5 % of a span of 16 bar (class 2.5 of EN 837-1, from memory), as a rectangle's standard uncertainty.
U_GAUGE = 0.025 * 16e5 / 3**0.5  # Pa
_TANK_CAUTIONS = (
    "an emptying tank cools and then lasts less: up to 29 % less if its wall gave no warmth (ideal gas, 1 - 1/1.4)",
    "local codes for pressure vessels come first: inspection, draining, and a relief valve that nobody touches",
)


def tank_lasts(options: Namespace, say: Say) -> int:

    _must_be_a_tank(options)
    system = SYSTEMS[options.units]
    p, q, time = system["tank_pressure"], system["flow"], system["time"]
    volume = system["volume"].to_si(options.tank)
    full, lowest = p.to_si(options.full), p.to_si(options.down_to)
    drawn = Estimate.normal(q.to_si(options.draw), 0.0, "m³/s")
    pump = Estimate.normal(q.to_si(options.pump), 0.0, "m³/s")
    tank = Tank(Estimate.normal(volume, PLATE_VOLUME * volume, "m³"), pump, 20.0 + ZERO_CELSIUS)
    # the two readings differ by the same as the absolute pressures do
    found = lasting(tank, full + ATMOSPHERE, lowest + ATMOSPHERE, drawn, U_GAUGE)
    energy = stored_gas_energy(full, volume)
    keeps_up = not isfinite(found.seconds.value)
    words = found.words
    if not keeps_up:
        then = (
            f"then the pump's {options.pump:g} {q.symbol} remain"
            if options.pump
            else f"then it is down to {options.down_to:g} {p.symbol}"
        )
        words = f"the tank lasts {full_text(found.seconds, time)} at {options.draw:g} {q.symbol}; {then}"
    cautions = (*KINDS["compressor"].cautions, *_TANK_CAUTIONS)
    lines = [words, "  with the volume on its plate and a workshop gauge; air at 20 °C; the draw is taken as exact"]
    lines += [f"  full it holds about {energy / 1e3:.0f} kJ", *(f"  caution: {one}" for one in cautions)]
    data = {"keeps_up": keeps_up, "seconds": found.seconds, "sustained": found.sustained, "stored_energy": energy}
    say.result({**data, "words": words, "cautions": cautions}, "\n".join(lines))
    return DONE


def _must_be_a_tank(options: Namespace) -> None:
    if options.kind not in {"", "compressor"}:
        raise InputError(f"a {options.kind} has no tank", where="kind", remedy="Say compressor, or leave the kind out")
    lacking = [f"--{one.replace('_', '-')}" for one in OF_TANK if getattr(options, one) is None]
    if lacking:
        raise InputError(f"{' and '.join(lacking)} are needed too", where="sources", remedy="Give all four of a tank")
    for one in OF_TANK:
        if not 0 < getattr(options, one) < inf:
            raise InputError("must be more than nothing", where=f"--{one.replace('_', '-')}")
    if not 0 <= options.pump < inf:
        raise InputError("a pump delivers nothing or something", where="--pump")
    if options.down_to >= options.full:
        raise InputError(
            f"the tank is at {options.full:g} and must not fall below {options.down_to:g}",
            where="--down-to",
            remedy="Fill the tank, or set the regulator lower",
        )
