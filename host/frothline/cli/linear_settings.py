"""The linear pressure sensors of ``settings``: options to the board's ``write_linear_sensor`` command."""

from __future__ import annotations

import time
from argparse import Namespace
from collections.abc import Mapping
from typing import Any

from frothline.errors import BoardRefused, InputError, PortLost
from frothline.rig import Rig
from frothline.sensors.description import line_of
from frothline.wire import ENUMS

LINEAR = "linear_pressure"
CHANNELS = ("pressure", "differential")
USUAL_VOLTS = (0.5, 4.5)  # of most sensors on 5 V: common practice
LOOK_EVERY, LONGEST = 0.05, 2.0  # s
_FIELDS = ("low_pascal", "high_pascal", "low_millivolt", "high_millivolt", "accuracy_per_myriad")


def stored_lines(rig: Rig) -> dict[str, Any]:
    """Rows of ``linear_sensor`` by channel, as the board described them."""
    rows = rig.tables.get("linear_sensor", ())
    return {channel: row for row in rows for channel in CHANNELS if int(row["kind"]) == ENUMS["channel_kind"][channel]}


def wanted_lines(options: Namespace, stored: Mapping[str, Any]) -> dict[str, dict[str, int]]:
    """Fields of the commands that the options require, by channel. What is not given stays as stored.

    Sets ``options.<channel>_sensor`` where only the line of a linear sensor is given. Raises InputError.
    """
    wanted = {}
    for channel in CHANNELS:
        given = {part: getattr(options, f"{channel}_{part}") for part in ("range", "volts", "accuracy")}
        sensor = getattr(options, f"{channel}_sensor")
        if all(value is None for value in given.values()):
            if sensor == LINEAR and (channel not in stored or line_of(stored[channel]) is None):
                raise InputError(
                    "a linear sensor needs its range and accuracy",
                    where=f"--{channel}-sensor",
                    remedy=f"Add for example --{channel}-range 0 30kPa --{channel}-accuracy 1, from its data sheet",
                )
            continue
        if sensor not in {None, LINEAR}:
            raise InputError(
                f"the line of a linear sensor does not apply to an {sensor}",
                where=f"--{channel}-sensor",
                remedy=f"Give --{channel}-sensor {LINEAR}, or leave out range, volts and accuracy",
            )
        setattr(options, f"{channel}_sensor", LINEAR)
        wanted[channel] = _line(channel, given, stored.get(channel))
    return wanted


def _line(channel: str, given: Mapping[str, Any], stored: Any) -> dict[str, int]:
    known = stored is not None and line_of(stored) is not None
    line = {name: int(stored[name]) for name in _FIELDS} if known else {}
    if given["range"] is not None:
        line["low_pascal"], line["high_pascal"] = (round(end) for end in given["range"])
    if given["accuracy"] is not None:
        line["accuracy_per_myriad"] = max(1, round(given["accuracy"] * 100))
    for part, field in (("range", "low_pascal"), ("accuracy", "accuracy_per_myriad")):
        if field not in line:
            raise InputError(
                f"the {part} of the linear sensor is missing",
                where=f"--{channel}-{part}",
                remedy="Give it from the sensor's data sheet",
            )
    volts = given["volts"] if given["volts"] is not None else None if known else USUAL_VOLTS
    if volts is not None:
        line["low_millivolt"], line["high_millivolt"] = (round(1e3 * end) for end in volts)
    for part, low, high in (("range", "low_pascal", "high_pascal"), ("volts", "low_millivolt", "high_millivolt")):
        if line[low] >= line[high]:
            raise InputError(
                f"the second figure ({line[high] / 1e3:g}) is not above the first ({line[low] / 1e3:g})",
                where=f"--{channel}-{part}",
                remedy="Give the lower end first",
            )
    return line


def write_lines(rig: Rig, lines: Mapping[str, Mapping[str, int]]) -> None:
    """Store the lines on the board. Raises BoardRefused for a firmware without linear sensors."""
    for channel, line in lines.items():
        try:
            rig.command("write_linear_sensor", within=1.5, kind=ENUMS["channel_kind"][channel], **line)
        except BoardRefused as refused:
            if "unknown command" not in refused.what:
                raise
            raise BoardRefused(
                "the board's firmware does not know linear sensors",
                where=rig.url,
                remedy="Write the firmware of this package: `frothline flash`. Settings and calibrations stay",
            ) from refused


def await_lines(rig: Rig, lines: Mapping[str, Mapping[str, int]]) -> None:
    """Wait for the description with the lines just written. Raises PortLost."""
    until = time.monotonic() + LONGEST
    while any(
        channel not in (stored := stored_lines(rig)) or any(int(stored[channel][name]) != line[name] for name in line)
        for channel, line in lines.items()
    ):
        if time.monotonic() > until:
            raise PortLost(
                "the board did not describe its linear sensor", where=rig.url, remedy="Press its reset button"
            )
        time.sleep(LOOK_EVERY)
