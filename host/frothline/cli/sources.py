"""``sources`` and ``compare``: how each kind of air source is measured, and several of them against one generator."""

from __future__ import annotations

from argparse import ArgumentParser, Namespace
from math import inf, isfinite
from pathlib import Path
from typing import Any

from frothline.cli.numbers import number
from frothline.cli.output import Command, Say, add_units
from frothline.cli.port import add_sensors, sensors_of
from frothline.errors import FitError, InputError
from frothline.formatting import full_text
from frothline.units import SYSTEMS, ZERO_CELSIUS

DONE, NONE_CAN = 0, 1
ATMOSPHERE = 101325.0  # Pa, 1976 standard atmosphere at sea level

# --- sources ----------------------------------------------------------------------------------------------------------


def _sources_options(sub: ArgumentParser) -> None:
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


def _sources(options: Namespace, say: Say) -> int:
    from frothline.curve import KINDS  # noqa: PLC0415  scipy takes a second to load

    if any(getattr(options, one) is not None for one in _OF_TANK) or options.pump:
        return _tank(options, say)
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


_OF_TANK = ("tank", "full", "down_to", "draw")
PLATE_VOLUME = 0.03  # relative, standard: how well the volume on a tank's plate is known; judgement, no source
# Limit of error 2.5 % of a span of 16 bar (class 2.5 of EN 837-1, from memory), as a rectangle's standard uncertainty.
U_GAUGE = 0.025 * 16e5 / 3**0.5  # Pa
_TANK_CAUTIONS = (
    "an emptying tank cools and then lasts less: up to 29 % less if its wall gave no warmth (ideal gas, 1 - 1/1.4)",
    "local codes for pressure vessels come first: inspection, draining, and a relief valve that nobody touches",
)


def _tank(options: Namespace, say: Say) -> int:
    from frothline.curve.source_kinds import KINDS, Tank, lasting  # noqa: PLC0415
    from frothline.estimate import Estimate  # noqa: PLC0415
    from frothline.physics.safety import stored_gas_energy  # noqa: PLC0415

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
    lacking = [f"--{one.replace('_', '-')}" for one in _OF_TANK if getattr(options, one) is None]
    if lacking:
        raise InputError(f"{' and '.join(lacking)} are needed too", where="sources", remedy="Give all four of a tank")
    for one in _OF_TANK:
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


# --- compare ----------------------------------------------------------------------------------------------------------


def _compare_options(sub: ArgumentParser) -> None:
    sub.add_argument("recording", nargs="+", type=Path, help="recorded sweeps, each of another air source (.froth)")
    generator = sub.add_mutually_exclusive_group()
    generator.add_argument("--through", type=Path, metavar="FILE", help="a sweep recorded through the generator")
    generator.add_argument(
        "--resistance",
        nargs=2,
        type=number(low=0),
        metavar=("A", "B"),
        help="the generator's line p = A q + B q², Pa s/m³ and Pa s²/m⁶, flow as air at 1.2 kg/m³",
    )
    sub.add_argument(
        "--wanted",
        type=number(low=0),
        default=0.0,
        metavar="FLOW",
        help="the flow that the work needs, in the unit of --units",
    )
    add_sensors(sub)
    add_units(sub)


def _compare(options: Namespace, say: Say) -> int:
    from frothline.curve import ResistanceFit, overlay, which_can_drive  # noqa: PLC0415
    from frothline.sweep.recorded_source import load_sweeps  # noqa: PLC0415
    from frothline.sweep.resistance_text import resistance_data, resistance_text  # noqa: PLC0415

    system, sensors = SYSTEMS[options.units], sensors_of(options, *options.recording, say=say)
    p, q = system["pressure"], system["flow"]
    fits: list[tuple[str, Any]] = []
    for path in options.recording:
        say.progress(f"reading {path}")
        try:
            fits.append((path.stem, load_sweeps([path], **sensors).fit()))
        except FitError as error:
            raise type(error)(error.what, where=str(path), remedy=error.remedy) from error
    lines = []
    for name, fit in fits:
        lines += [f"{name}: shut-off {full_text(fit.shut_off, p)}, free delivery {full_text(fit.free_delivery, q)}"]
        lines += [f"{'':{len(name)}}  largest air power {full_text(fit.air_power, system['power'])}"]
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
    if isinstance(line, ResistanceFit):
        lines += resistance_text(line, options.units)
        data["resistance"] = resistance_data(line)
        line = line.line
    carried = which_can_drive(fits, line, wanted_flow=q.to_si(options.wanted))
    verdicts = {"yes": "drives it", "barely": "only just drives it", "no": "does not drive it"}
    said = []
    for one in carried:
        flow, pressure = getattr(one.point, "flow", None), getattr(one.point, "pressure", None)
        meets = "" if flow is None or pressure is None else f"; at {full_text(flow, q)}, {full_text(pressure, p)}"
        said.append(f"{one.name} {verdicts[one.verdict]}: {_reasons(one.words) or 'with pressure to spare'}{meets}")
    lines = [*said, *lines]  # what was asked first, the figures of each source after it
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
    """Without where they meet, which the figures say in the chosen units."""
    return "; ".join(part for part in words.split("; ") if not part.startswith("they meet at"))


def _line(options: Namespace, sensors: dict[str, Any]) -> Any:
    """The generator's resistance: a fit where it was measured, a line where it was typed, None without either."""
    from frothline.curve import ResistanceLine, fit_resistance  # noqa: PLC0415
    from frothline.sweep.recorded_generator import read_generator_sweep  # noqa: PLC0415

    if options.through is not None:
        return fit_resistance(read_generator_sweep([options.through], "generator", **sensors))
    if options.resistance is not None:
        a, b = options.resistance
        if a < 0 or b < 0 or a + b == 0:
            raise InputError("a resistance has no negative part and is not nothing", where="--resistance")
        return ResistanceLine(a, b)
    if options.wanted:
        raise InputError("a wanted flow needs a generator", where="--wanted", remedy="Give --through or --resistance")
    return None


COMMANDS = (
    Command(
        "sources",
        "how each kind of air source is measured, what to beware of, and how long a tank lasts",
        _sources_options,
        _sources,
    ),
    Command(
        "compare",
        "several air sources side by side, and which of them can drive a generator",
        _compare_options,
        _compare,
        "Fits a curve to a sweep of each air source, lays them side by side, and with a generator's resistance says\n"
        "which of them can drive it. Exit code 1: none of them does so with pressure to spare.",
    ),
)
