"""``settings``: what the board keeps."""

from __future__ import annotations

import time
from argparse import ArgumentParser, Namespace
from typing import Any

from frothline.cli.numbers import whole
from frothline.cli.options import checked_rate
from frothline.cli.output import Say
from frothline.errors import InputError, PortLost
from frothline.rig import Rig, open_rig
from frothline.wire import ENUMS, name_of, text

DONE = 0
LOOK_EVERY = 0.05  # s
KINDS = {  # sensors by the setting that names them
    "pressure_sensor": ("mpx5050", "mpx5010", "mpxv7025", "mpxv7007", "mpxv7002"),
    "differential_sensor": ("none", "mpxv7002", "mpxv7007", "mpxv7025", "mpx5010", "mpx5050"),
    "anemometer": ("pulse_rotor", "thermal_module", "none"),
    "temperature_sensor": ("ntc_10k_3950", "ntc_10k_3977", "ntc_10k_3435", "none"),
}


def add_options(sub: ArgumentParser) -> None:
    sub.add_argument("--port", metavar="URL", help="the rig's port; without it the rig is found by its answer")
    sub.add_argument("--label", help="what the board is called, up to 16 bytes; calibrations belong to it")
    sub.add_argument("--rate", type=whole(), metavar="HZ", help="line messages per second after each start, 10 to 500")
    for name, kinds in KINDS.items():
        sub.add_argument(f"--{name.replace('_', '-')}", choices=kinds, help="the sensor that is fitted")


def run(options: Namespace, say: Say) -> int:

    rate = checked_rate(options)
    if options.label is not None and not 1 <= len(options.label.encode()) <= 16:
        raise InputError(f"{options.label!r} is not 1 to 16 bytes", where="--label", remedy="Give a shorter one")
    with open_rig(options.port) as rig:
        rig.run(stream=False)
        row = _read(rig)
        fields = {name: row[name] for name in ("label", "rate", "enabled", *KINDS)}
        wanted = dict(fields)
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
        if wanted != fields:
            rig.command("write_settings", within=1.5, **wanted)
            row = _read(rig)
    enabled = [name for name, number in ENUMS["channel_kind"].items() if int(row["enabled"]) >> number & 1]
    data: dict[str, Any] = {
        "label": text(row["label"]),
        "rate": int(row["rate"]),
        "enabled": enabled,
        **{name: name_of("sensor_kind", int(row[name])) for name in KINDS},
    }
    written = wanted != fields
    lines = [f"{name:<20} {_shown(value)}" for name, value in data.items()]
    say.result({**data, "written": written}, "\n".join([*lines, "", "kept by the board" if written else "as it was"]))
    return DONE


def _shown(value: Any) -> str:
    return ", ".join(value) if isinstance(value, list) else str(value)


def _read(rig: Rig) -> Any:
    """The board's settings; they come as a message of their own next to the answer to the command."""
    rig.settings = None
    rig.command("read_settings")
    until = time.monotonic() + 2.0
    while rig.settings is None:
        if time.monotonic() > until:
            raise PortLost("the board did not send its settings", where=rig.url, remedy="Press its reset button")
        time.sleep(LOOK_EVERY)
    return rig.settings
