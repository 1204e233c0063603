"""Options of ``settings``."""

from __future__ import annotations

from argparse import ArgumentParser

from frothline.cli.numbers import whole

KINDS = {  # sensors by the setting that names them
    "pressure_sensor": ("mpx5050", "mpx5010", "mpxv7025", "mpxv7007", "mpxv7002"),
    "differential_sensor": ("none", "mpxv7002", "mpxv7007", "mpxv7025", "mpx5010", "mpx5050"),
    "anemometer": ("pulse_rotor", "thermal_module", "none"),
    "temperature_sensor": ("ntc_10k_3950", "ntc_10k_3977", "ntc_10k_3435", "none"),
}


def add_options(sub: ArgumentParser) -> None:
    sub.add_argument("--port", metavar="URL", help="the rig's port (default: search all ports)")
    sub.add_argument("--label", help="name of the board, up to 16 bytes; calibrations are stored for this name")
    sub.add_argument("--rate", type=whole(), metavar="HZ", help="line messages per second after each start, 10 to 500")
    for name, kinds in KINDS.items():
        sub.add_argument(f"--{name.replace('_', '-')}", choices=kinds, help="fitted sensor")
