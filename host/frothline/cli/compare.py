"""``compare``: several air sources against one generator."""

from __future__ import annotations

from argparse import Namespace
from typing import Any

from frothline.cli.output import Say
from frothline.cli.sensors import sensors_of
from frothline.curve.can_drive import which_can_drive
from frothline.curve.resistance import ResistanceLine
from frothline.curve.resistance_fit import ResistanceFit, fit_resistance
from frothline.curve.source_kinds import overlay
from frothline.errors import FitError, InputError
from frothline.estimate import NOT_MEASURED
from frothline.formatting import full_text
from frothline.sweep.recorded_generator import read_generator_sweep
from frothline.sweep.recorded_source import holes_of_each, load_sweeps
from frothline.sweep.resistance_text import resistance_data, resistance_text
from frothline.units import SYSTEMS

DONE, NONE_CAN = 0, 1


def run(options: Namespace, say: Say) -> int:

    system, sensors = SYSTEMS[options.units], sensors_of(options, *options.recording, say=say)
    p, q = system["pressure"], system["flow"]
    fits: list[tuple[str, Any]] = []
    for path, holes in zip(options.recording, holes_of_each(options.recording, options.holes), strict=True):
        say.progress(f"reading {path}")
        try:
            fits.append((path.stem, load_sweeps([path], holes=holes, **sensors).fit()))
        except FitError as error:
            raise type(error)(error.what, where=str(path), remedy=error.remedy) from error
    lines = []
    for name, fit in fits:
        lines += [f"{name}: shut-off {full_text(fit.shut_off, p)}, free delivery {full_text(fit.free_delivery, q)}"]
        lines += [f"{'':{len(name)}}  peak air power {full_text(fit.air_power, system['power'])}"]
        lines += [f"{'':{len(name)}}  {one}" for one in fit.notes if one.startswith(NOT_MEASURED)]
    data: dict[str, Any] = {
        "sources": [
            {
                "name": name,
                "shut_off": fit.shut_off,
                "free_delivery": fit.free_delivery,
                "air_power": fit.air_power,
                "notes": list(fit.notes),
            }
            for name, fit in fits
        ],
        "traces": overlay(fits),
    }
    line = _line(options, sensors)
    if line is None:
        say.result(data, "\n".join(lines))
        return DONE
    if isinstance(line, ResistanceFit):
        lines += resistance_text(line, options.units)
        data["resistance"] = resistance_data(line)
        line = line.line
    carried = which_can_drive(fits, line, wanted_flow=options.wanted)
    verdicts = {"yes": "drives it", "barely": "only just drives it", "no": "does not drive it"}
    said = []
    for one in carried:
        flow, pressure = getattr(one.point, "flow", None), getattr(one.point, "pressure", None)
        meets = "" if flow is None or pressure is None else f"; at {full_text(flow, q)}, {full_text(pressure, p)}"
        said.append(f"{one.name} {verdicts[one.verdict]}: {_reasons(one.words) or 'with a pressure margin'}{meets}")
    lines = [*said, *lines]  # the requested comparison first, then the figures of each source
    data["carried"] = [
        {
            "name": one.name,
            "can": one.can,
            "verdict": one.verdict,
            "flow": getattr(one.point, "flow", None),
            "pressure": getattr(one.point, "pressure", None),
            "words": one.words,
        }
        for one in carried
    ]
    say.result(data, "\n".join(lines))
    return DONE if any(one.can for one in carried) else NONE_CAN


def _reasons(words: str) -> str:
    """The text without the operating point, which is in the figures in the chosen units."""
    return "; ".join(part for part in words.split("; ") if not part.startswith("operating point"))


def _line(options: Namespace, sensors: dict[str, Any]) -> Any:
    """The generator's resistance: a fit where it was measured, a line where it was typed, None without either."""
    if options.through is not None:
        return fit_resistance(read_generator_sweep([options.through], "generator", **sensors))
    if options.resistance is not None:
        a, b = options.resistance
        if a < 0 or b < 0 or a + b == 0:
            raise InputError("A and B must be 0 or more, and not both 0", where="--resistance")
        return ResistanceLine(a, b)
    if options.wanted:
        raise InputError("--wanted needs a generator", where="--wanted", remedy="Give --through or --resistance")
    return None
