"""``sources`` with a tank: how long a compressor's tank lasts."""

from __future__ import annotations

from argparse import Namespace

from frothline.cli.output import Say
from frothline.curve.tank_duration import tank_duration
from frothline.errors import InputError
from frothline.formatting import full_text
from frothline.units import SYSTEMS

DONE, NONE_CAN = 0, 1
OF_TANK = ("tank", "full", "down_to", "draw")
_OPTIONS = {"volume": "tank", "full": "full", "lowest": "down_to", "drawn": "draw", "pump": "pump"}  # by argument


def tank_lasts(options: Namespace, say: Say) -> int:

    _check_options(options)
    system = SYSTEMS[options.units]
    p, q, time = system["tank_pressure"], system["flow"], system["time"]
    full, lowest = p.to_si(options.full), p.to_si(options.down_to)
    try:
        found = tank_duration(
            system["volume"].to_si(options.tank), full, lowest, q.to_si(options.draw), q.to_si(options.pump)
        )
    except InputError as error:
        if error.where in _OPTIONS:
            option = _OPTIONS[error.where]
            error.where = f"--{option.replace('_', '-')} {getattr(options, option):g}"
        raise
    words = found.lasting.words
    if not found.keeps_up:
        then = (
            f"then only the pump's {options.pump:g} {q.symbol} remain"
            if options.pump
            else f"then its pressure is {options.down_to:g} {p.symbol}"
        )
        words = f"the tank lasts {full_text(found.lasting.seconds, time)} at {options.draw:g} {q.symbol}; {then}"
    energy = found.stored_energy
    lines = [
        words,
        ("  uncertainty of the plate's volume and of a workshop gauge; air at 20 °C; the flow drawn is exact"),
    ]
    lines += [
        f"  stored energy when full: about {energy / 1e3:.0f} kJ",
        *(f"  caution: {one}" for one in found.cautions),
    ]
    data = {
        "keeps_up": found.keeps_up,
        "seconds": found.lasting.seconds,
        "sustained": found.lasting.sustained,
        "stored_energy": energy,
        "words": words,
        "cautions": found.cautions,
    }
    say.result(data, "\n".join(lines))
    return DONE


def _check_options(options: Namespace) -> None:
    if options.kind not in {"", "compressor"}:
        raise InputError(f"a {options.kind} has no tank", where="kind", remedy="Give compressor, or leave the kind out")
    lacking = [f"--{one.replace('_', '-')}" for one in OF_TANK if getattr(options, one) is None]
    if lacking:
        raise InputError(f"{' and '.join(lacking)} missing", where="sources", remedy="Give all four options of a tank")
    if options.down_to >= options.full:
        raise InputError(
            f"--full {options.full:g} is not above --down-to {options.down_to:g}",
            where="--down-to",
            remedy="Fill the tank, or set the regulator lower",
        )
