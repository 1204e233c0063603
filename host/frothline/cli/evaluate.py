"""``curve``: from recorded sweeps to an air source's curve."""

from __future__ import annotations

from argparse import ArgumentParser, Namespace
from pathlib import Path
from typing import Any

from frothline.units import SYSTEMS

from .port import add_sensors, sensors_of
from .say import Command, Say, add_units, interval

FITTED = 0
_SHOWN = (
    "form",
    "why",
    "coefficients",
    "covariance",
    "shut_off",
    "free_delivery",
    "air_power",
    "air_power_flow",
    "range",
    "pressure_range",
    "advice",
    "notes",
    "chi_square",
    "degrees_of_freedom",
)


def _curve_options(sub: ArgumentParser) -> None:
    sub.add_argument("recording", nargs="+", type=Path, help="one or more recorded sweeps of one air source (.froth)")
    sub.add_argument(
        "--holes",
        nargs="+",
        type=float,
        default=[],
        metavar="MM",
        help="without an anemometer: the hole of the drilled plate at the end of the line, mm, one a recording",
    )
    sub.add_argument("--points", action="store_true", help="list the steady points, and what was refused and why")
    add_sensors(sub)
    add_units(sub)


def _curve(options: Namespace, say: Say) -> int:
    from frothline.bench.evaluate import sweeps  # noqa: PLC0415  scipy and pandas take a second to load

    say.progress("reading and fitting")
    found = sweeps(options.recording, holes=[hole / 1e3 for hole in options.holes], **sensors_of(options))
    fit = found.fit()
    system = SYSTEMS[options.units]
    lines = [
        f"shut-off pressure  {interval(fit.shut_off, system['pressure'])}",
        f"free delivery      {interval(fit.free_delivery, system['flow'])}",
        f"largest air power  {interval(fit.air_power, system['power'])}",
        f"  at a flow of     {interval(fit.air_power_flow, system['flow'])}",
        f"from {len(found.points)} steady points; flows are those of air at 1.2 kg/m³",
    ]
    lines += [f"form: {fit.form}; {fit.why}"]
    lines += [f"note: {one}" for one in (*fit.notes, *fit.advice)]
    if options.points:
        lines += _listed(found, system)
    data = {name: getattr(fit, name) for name in _SHOWN}
    say.result({**data, "points": found.points, "refused": (*found.refused, *fit.refused)}, "\n".join(lines))
    return FITTED


def _listed(found: Any, system: Any) -> list[str]:
    p, q = system["pressure"], system["flow"]
    lines = [f"{'start s':>9} {'end s':>9} {p.symbol:>14} {q.symbol:>14}"]
    lines += [
        f"{one.start:9.1f} {one.end:9.1f} {p.from_si(one.pressure):14.4g} {q.from_si(one.flow):14.4g}"
        for one in found.points
    ]
    lines += [f"refused {one.start:.1f} to {one.end:.1f} s: {one.reason}" for one in found.refused]
    return lines


COMMANDS = (
    Command(
        "curve",
        "fit an air source's curve to recorded sweeps",
        _curve_options,
        _curve,
        "Finds the steady points of recorded sweeps of one air source and fits pressure against flow. Exit code 5: the"
        " points\ncannot carry a fit; the message says what is missing.",
    ),
)
