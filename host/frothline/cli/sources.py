"""``sources``: how each kind of air source is measured, and how long a compressor's tank lasts."""

from __future__ import annotations

from argparse import ArgumentParser, Namespace

from frothline.cli.numbers import number
from frothline.cli.options import add_units
from frothline.cli.output import Say
from frothline.cli.tank import OF_TANK, tank_lasts
from frothline.curve.source_kinds import KINDS
from frothline.errors import InputError

DONE, NONE_CAN = 0, 1


def add_options(sub: ArgumentParser) -> None:
    sub.add_argument("kind", nargs="?", default="", help="one kind of air source; all of them if left out")
    tank = sub.add_argument_group(
        "how long a compressor's tank lasts", "all but --pump are needed; pressures as the tank's gauge shows them"
    )
    tank.add_argument("--tank", type=number(), metavar="VOLUME", help="the tank's volume, L (gal)")
    tank.add_argument("--full", type=number(), metavar="PRESSURE", help="its pressure at the beginning, bar (psi)")
    tank.add_argument(
        "--down-to",
        type=number(),
        metavar="PRESSURE",
        help="the lowest that will do, bar (psi): the regulator's setting and what it needs above that, some 2 bar",
    )
    tank.add_argument("--draw", type=number(), metavar="FLOW", help="what is drawn, as air at 1.2 kg/m³, L/s (cfm)")
    tank.add_argument(
        "--pump",
        type=number(),
        default=0.0,
        metavar="FLOW",
        help="what its pump delivers meanwhile, L/s (cfm); else off",
    )
    add_units(sub)


def run(options: Namespace, say: Say) -> int:

    if any(getattr(options, one) is not None for one in OF_TANK) or options.pump:
        return tank_lasts(options, say)
    if options.kind and options.kind not in KINDS:
        raise InputError(f"there is no kind {options.kind!r}", where="kind", remedy=f"There are {', '.join(KINDS)}")
    chosen = {name: kind for name, kind in KINDS.items() if options.kind in {"", name}}
    lines: list[str] = []
    for name, kind in chosen.items():
        lines += [f"{name}: {kind.title}"]
        lines += [f"  {number}. {step}" for number, step in enumerate(kind.procedure, 1)]
        lines += [f"  fitted: {kind.model}", *(f"  caution: {one}" for one in kind.cautions), ""]
    say.result(chosen, "\n".join(lines).rstrip())
    return DONE
