"""``sources``: procedure for each kind of air source, and duration of a compressor's tank."""

from __future__ import annotations

from argparse import Namespace

from frothline.cli.output import Say
from frothline.cli.tank import OF_DUTY, OF_TANK, rests, tank_lasts
from frothline.curve.source_kinds import KINDS
from frothline.errors import InputError

DONE, NONE_CAN = 0, 1


def run(options: Namespace, say: Say) -> int:

    if any(getattr(options, one) is not None for one in OF_DUTY):
        return rests(options, say)
    if any(getattr(options, one) is not None for one in (*OF_TANK, "cut_in")) or options.pump:
        return tank_lasts(options, say)
    if options.kind and options.kind not in KINDS:
        raise InputError(f"unknown kind {options.kind!r}", where="kind", remedy=f"Give one of {', '.join(KINDS)}")
    chosen = {name: kind for name, kind in KINDS.items() if options.kind in {"", name}}
    lines: list[str] = []
    for name, kind in chosen.items():
        lines += [f"{name}: {kind.title}"]
        lines += [f"  {number}. {step}" for number, step in enumerate(kind.procedure, 1)]
        lines += [f"  fitted: {kind.model}", *(f"  caution: {one}" for one in kind.cautions), ""]
    say.result(chosen, "\n".join(lines).rstrip())
    return DONE
