"""``settings``: the board's stored settings."""

from __future__ import annotations

import time
from argparse import Namespace
from typing import Any

from frothline.cli.arguments.settings import KINDS
from frothline.cli.linear_settings import LINEAR, await_lines, stored_lines, wanted_lines, write_lines
from frothline.cli.options import checked_rate
from frothline.cli.output import Say
from frothline.errors import InputError, PortLost
from frothline.formatting import unit_of
from frothline.rig import Rig, open_rig
from frothline.sensors.linear_line import LinearLine, words_of
from frothline.wire import ENUMS, name_of, text

DONE = 0
LOOK_EVERY = 0.05  # s


def run(options: Namespace, say: Say) -> int:

    rate = checked_rate(options)
    if options.label is not None and not 1 <= len(options.label.encode()) <= 16:
        raise InputError(f"{options.label!r} is not 1 to 16 bytes", where="--label", remedy="Give a shorter one")
    with open_rig(options.port) as rig:
        rig.run(stream=False)
        row = _read(rig)
        fields = {name: row[name] for name in ("label", "rate", "enabled", *KINDS)}
        wanted = dict(fields)
        linear = wanted_lines(options, stored_lines(rig))
        if options.label is not None:
            wanted["label"] = options.label
        if rate is not None:
            wanted["rate"] = rate
        for name in KINDS:
            if (kind := getattr(options, name)) is not None:
                wanted[name] = ENUMS["sensor_kind"][kind]
        if options.differential_sensor is not None:
            bit = 1 << ENUMS["channel_kind"]["differential"]
            wanted["enabled"] = int(row["enabled"]) & ~bit | (bit if options.differential_sensor != "none" else 0)
        write_lines(rig, linear)
        if wanted != fields:
            rig.command("write_settings", within=1.5, **wanted)
            row = _read(rig)
        await_lines(rig, linear)
        stored = stored_lines(rig)
    enabled = [name for name, number in ENUMS["channel_kind"].items() if int(row["enabled"]) >> number & 1]
    data: dict[str, Any] = {
        "label": text(row["label"]),
        "rate": int(row["rate"]),
        "enabled": enabled,
        **{name: name_of("sensor_kind", int(row[name])) for name in KINDS},
    }
    for channel in ("pressure", "differential"):
        if data[f"{channel}_sensor"] == LINEAR:
            data[f"{channel}_line"] = words_of(LinearLine.of(stored.get(channel)), unit_of("pressure", options.units))
    written = bool(linear) or wanted != fields
    lines = [f"{name:<20} {_shown(value)}" for name, value in data.items()]
    say.result({**data, "written": written}, "\n".join([*lines, "", "saved to the board" if written else "unchanged"]))
    return DONE


def _shown(value: Any) -> str:
    return ", ".join(value) if isinstance(value, list) else str(value)


def _read(rig: Rig) -> Any:
    """The board's settings, which arrive as a separate message after the answer to the command."""
    rig.settings = None
    rig.command("read_settings")
    until = time.monotonic() + 2.0
    while rig.settings is None:
        if time.monotonic() > until:
            raise PortLost("the board did not send its settings", where=rig.url, remedy="Press its reset button")
        time.sleep(LOOK_EVERY)
    return rig.settings
