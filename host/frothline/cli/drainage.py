"""``drainage``: the drainage curve of foam from a few readings."""

from __future__ import annotations

from argparse import Namespace

from frothline.cli.output import Say
from frothline.errors import InputError
from frothline.foam.drainage_curve import RATE_KIND
from frothline.formatting import full_text
from frothline.label_case import label_case
from frothline.trials.drainage_entries import HOW, drainage_of
from frothline.units import SYSTEMS

DONE = 0


def run(options: Namespace, say: Say) -> int:
    pairs = []
    for text in options.readings:
        time, sign, drained = text.partition("=")
        if not sign:
            raise InputError(f"“{text}” is not a reading", where="drainage", remedy=HOW)
        pairs.append((time, drained))
    found = drainage_of(pairs, solution=options.solution, depth=options.depth, system=options.units)
    system = SYSTEMS[options.units]
    rows = [("25 % drainage time", found.quarter, system["time"]), ("50 % drainage time", found.half, system["time"])]
    if found.rate is not None:
        rows.append(("foam height over 25 % time", found.rate, system[RATE_KIND]))
    lines = [f"{label_case(label):28} {full_text(estimate, unit)}" for label, estimate, unit in rows]
    say.result(found.as_dict(), "\n".join([*lines, *found.words]))
    return DONE
