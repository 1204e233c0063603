"""``sources`` and ``compare``: how each kind of air source is measured, and several of them against one generator."""

from __future__ import annotations

from argparse import ArgumentParser, Namespace
from pathlib import Path
from typing import Any

from frothline.errors import FitError, InputError
from frothline.units import SYSTEMS

from .port import add_sensors, sensors_of
from .say import Command, Say, add_units, interval

DONE, NONE_CAN = 0, 1

# --- sources ----------------------------------------------------------------------------------------------------------


def _sources_options(sub: ArgumentParser) -> None:
    sub.add_argument("kind", nargs="?", default="", help="one kind of air source; all of them if left out")


def _sources(options: Namespace, say: Say) -> int:
    from frothline.curve import KINDS  # noqa: PLC0415  scipy takes a second to load

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


# --- compare ----------------------------------------------------------------------------------------------------------


def _compare_options(sub: ArgumentParser) -> None:
    sub.add_argument("recording", nargs="+", type=Path, help="recorded sweeps, each of another air source (.froth)")
    generator = sub.add_mutually_exclusive_group()
    generator.add_argument("--through", type=Path, metavar="FILE", help="a sweep recorded through the generator")
    generator.add_argument(
        "--resistance",
        nargs=2,
        type=float,
        metavar=("A", "B"),
        help="the generator's line p = A q + B q², Pa s/m³ and Pa s²/m⁶, flow as air at 1.2 kg/m³",
    )
    sub.add_argument(
        "--wanted", type=float, default=0.0, metavar="FLOW", help="the flow that the work needs, in the unit of --units"
    )
    add_sensors(sub)
    add_units(sub)


def _compare(options: Namespace, say: Say) -> int:
    from frothline.bench.evaluate import sweeps  # noqa: PLC0415
    from frothline.curve import overlay, which_can_carry  # noqa: PLC0415

    system, sensors = SYSTEMS[options.units], sensors_of(options)
    p, q = system["pressure"], system["flow"]
    fits: list[tuple[str, Any]] = []
    for path in options.recording:
        say.progress(f"reading {path}")
        try:
            fits.append((path.stem, sweeps([path], **sensors).fit()))
        except FitError as error:
            raise type(error)(error.what, where=str(path), remedy=error.remedy) from error
    lines = []
    for name, fit in fits:
        lines += [f"{name}: shut-off {interval(fit.shut_off, p)}, free delivery {interval(fit.free_delivery, q)}"]
        lines += [f"{'':{len(name)}}  largest air power {interval(fit.air_power, system['power'])}"]
    data: dict[str, Any] = {
        "sources": [
            {"name": name, "shut_off": fit.shut_off, "free_delivery": fit.free_delivery, "air_power": fit.air_power}
            for name, fit in fits
        ],
        "traces": overlay(fits),
    }
    line = _line(options, sensors)
    if line is None:
        say.result(data, "\n".join(lines))
        return DONE
    carried = which_can_carry(fits, line, wanted_flow=q.to_si(options.wanted))
    for one in carried:
        flow, pressure = getattr(one.point, "flow", None), getattr(one.point, "pressure", None)
        meets = "" if flow is None or pressure is None else f" meets at {interval(flow, q)}, {interval(pressure, p)}"
        lines.append(f"{one.name}: {'can carry it' if one.can else 'cannot carry it'},{meets}; {one.words}")
    data["carried"] = [
        {
            "name": one.name,
            "can": one.can,
            "flow": getattr(one.point, "flow", None),
            "pressure": getattr(one.point, "pressure", None),
            "words": one.words,
        }
        for one in carried
    ]
    say.result(data, "\n".join(lines))
    return DONE if any(one.can for one in carried) else NONE_CAN


def _line(options: Namespace, sensors: dict[str, Any]) -> Any:
    """The generator's resistance, if one was given."""
    from frothline.bench.evaluate import sweeps  # noqa: PLC0415
    from frothline.curve import ResistanceLine, fit_resistance  # noqa: PLC0415

    if options.through is not None:
        return fit_resistance(sweeps([options.through], **sensors).points).line
    if options.resistance is not None:
        a, b = options.resistance
        if a < 0 or b < 0 or a + b == 0:
            raise InputError("a resistance has no negative part and is not nothing", where="--resistance")
        return ResistanceLine(a, b)
    if options.wanted:
        raise InputError("a wanted flow needs a generator", where="--wanted", remedy="Give --through or --resistance")
    return None


COMMANDS = (
    Command("sources", "how each kind of air source is measured, and what to beware of", _sources_options, _sources),
    Command(
        "compare",
        "several air sources side by side, and which of them can carry a generator",
        _compare_options,
        _compare,
        "Fits a curve to a sweep of each air source, lays them side by side, and with a generator's resistance says\n"
        "which of them can carry it. Exit code 1: none of them can.",
    ),
)
