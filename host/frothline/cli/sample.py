"""``sample``: a weighed and timed foam sample."""

from __future__ import annotations

from argparse import Namespace
from dataclasses import replace
from typing import Any

import tomlkit

from frothline.cli.output import Say
from frothline.errors import InputError
from frothline.estimate import Estimate
from frothline.foam.sample import evaluate
from frothline.foam.sample_check import question_of
from frothline.foam.target_windows import with_wanted
from frothline.formatting import RATIO, full_text
from frothline.label_case import label_case
from frothline.quantities import with_unit
from frothline.trials.sample_sidecar import read_sample, sample_entry
from frothline.units import SYSTEMS

DONE = 0


def run(options: Namespace, say: Say) -> int:

    table: dict[str, Any] = {}
    for key, kind in (("container", "volume"), ("empty", "mass"), ("full", "mass"), ("depth", "length")):
        if (text := getattr(options, key)) is not None:
            table[key] = with_unit(text, kind, options.units)
    if options.fill_time is not None:
        table["fill_time"] = options.fill_time
    if options.drained:
        pairs = [one.split("=", 1) for one in options.drained]
        table["drained"] = [[at, *(with_unit(one, "drained", options.units) for one in rest)] for at, *rest in pairs]
    try:
        weighing = read_sample(table).weighing
    except InputError as error:
        raise InputError(error.what, where=_option(options, error.where), remedy=error.remedy) from error
    entry = sample_entry(weighing)
    if options.toml:
        text = "[[sample]]\n" + tomlkit.dumps(entry).rstrip()
        say.result(entry, text)
        return DONE
    air = None
    if options.air is not None:
        air = Estimate.normal(options.air, options.u_air, "m3/s")
    found = evaluate(weighing, air)
    system = SYSTEMS[options.units]
    rows = (
        ("density", found.density, system["density"]),
        ("expansion ratio", found.expansion, None),
        ("output", found.output, system["foam_rate"]),
        ("solution rate", found.solution_rate, system["foam_rate"]),
        ("air retained in foam", found.capture, None),
        ("25 % drainage time", found.drainage, system["time"]),
        ("50 % drainage time", found.half_drainage, system["time"]),
        ("drained after 5 min", found.drained_share, None),
    )
    lines = [f"{label_case(label):24} {_in(e, unit)}" for label, e, unit in rows if e is not None]
    if found.drainage is not None and not found.drainage.known:
        lines.append(found.drainage.assumptions[0])
    wanted = None if options.wanted is None else (min(options.wanted), max(options.wanted))
    verdicts = with_wanted(found.verdicts, found.density, wanted)
    judged = [(v.state, f"{v.state:7} {v.window.words} ({v.window.provenance})") for v in verdicts]
    lines = [text for state, text in judged if state in ("above", "below")] + lines  # problems first
    lines = list(found.remarks) + lines
    lines += [text for state, text in judged if state not in ("above", "below")]
    asked = ""
    if air is not None:
        asked = question_of(weighing, found, (), air.value, air.standard_uncertainty / air.value)
    if asked:
        lines.insert(0, f"Check this sample: {asked}")
    say.result({"entry": entry, "sample": replace(found, verdicts=verdicts), "question": asked}, "\n".join(lines))
    return DONE


def _option(options: Namespace, where: str) -> str:
    """The option for an entry of a sample, as "--fill-time" for "sample: fill_time"."""
    entry, comma, rest = where.rpartition(": ")[2].partition(",")
    entry = entry.removesuffix("_volume")
    return f"--{entry.replace('_', '-')}{comma}{rest}" if hasattr(options, entry) else where


def _in(estimate: Any, unit: Any) -> str:
    return full_text(estimate, unit or RATIO)
