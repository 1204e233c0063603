"""``sources`` with a tank: how long a compressor's tank lasts."""

from __future__ import annotations

from argparse import Namespace

from frothline.cli.output import Say
from frothline.curve.duty_cycle import duty_run
from frothline.curve.source_kinds import KINDS
from frothline.curve.tank_duration import tank_duration
from frothline.errors import InputError
from frothline.formatting import full_text
from frothline.units import METRIC

DONE, NONE_CAN = 0, 1
OF_DUTY = ("run_time", "on", "rest")
OF_TANK = ("tank", "full", "down_to", "draw")
_OPTIONS = {
    "volume": "tank",
    "full": "full",
    "lowest": "down_to",
    "drawn": "draw",
    "pump": "pump",
    "cut_in": "cut_in",
}  # by argument


def tank_lasts(options: Namespace, say: Say) -> int:

    _check_options(options)
    given, typed = {argument: getattr(options, name) for argument, name in _OPTIONS.items()}, options.typed
    if given["lowest"] >= given["full"]:
        raise InputError(
            f"--full {typed['full']} is not above --down-to {typed['down_to']}",
            where="--down-to",
            remedy="Fill the tank, or set the regulator lower",
        )
    try:
        found = tank_duration(*given.values())
    except InputError as error:
        if error.where in _OPTIONS:
            option = _OPTIONS[error.where]
            error.where = f"--{option.replace('_', '-')} {typed[option]}"
        raise
    words = found.lasting.words
    if not found.keeps_up:
        then = f"its pressure is {typed['down_to']} above ambient"
        if given["pump"] and given["cut_in"] is not None:
            then += f"; the pump starts at {typed['cut_in']} and delivers {typed['pump']}"
        if given["pump"] and given["cut_in"] is None:
            then = f"only the pump's {typed['pump']} remain"
        words = f"the tank lasts {full_text(found.lasting.seconds, METRIC['time'])} at {typed['draw']}; then {then}"
    energy = found.stored_energy
    lines = [
        words,
        (
            "  uncertainty of the plate's volume and of a workshop gauge; the flow drawn is exact; the value is for "
            "air at 20 °C, and the interval includes the cooling of the tank"
        ),
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
        "cycle": found.cycle,
    }
    say.result(data, "\n".join(lines))
    return DONE


def rests(options: Namespace, say: Say) -> int:
    """A run of a machine that must rest."""
    lacking = [f"--{one.replace('_', '-')}" for one in OF_DUTY if getattr(options, one) is None]
    if lacking:
        raise InputError(
            f"{' and '.join(lacking)} missing", where="sources", remedy="Give --run-time, --on and --rest, like 10 min"
        )
    try:
        found = duty_run(options.run_time, options.on, options.rest)
    except InputError as error:
        error.where = {"run": "--run-time", "on": "--on", "rest": "--rest"}[error.where]
        raise
    cautions = KINDS["inflator"].cautions
    say.result(
        {**vars(found), "cautions": cautions}, "\n".join([found.words, *(f"  caution: {one}" for one in cautions)])
    )
    return DONE


def _check_options(options: Namespace) -> None:
    if options.kind not in {"", "compressor"}:
        raise InputError(f"a {options.kind} has no tank", where="kind", remedy="Give compressor, or leave the kind out")
    lacking = [f"--{one.replace('_', '-')}" for one in OF_TANK if getattr(options, one) is None]
    if lacking:
        raise InputError(f"{' and '.join(lacking)} missing", where="sources", remedy="Give all four options of a tank")
