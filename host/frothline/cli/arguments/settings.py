"""Options of ``settings``."""

from __future__ import annotations

from argparse import ArgumentParser

from frothline.cli.numbers import number, quantity, whole
from frothline.cli.options import add_units

KINDS = {  # sensors by the setting that names them
    "pressure_sensor": ("mpx5050", "mpx5010", "mpxv7025", "mpxv7007", "mpxv7002", "linear_pressure"),
    "differential_sensor": ("none", "mpxv7002", "mpxv7007", "mpxv7025", "mpx5010", "mpx5050", "linear_pressure"),
    "anemometer": ("pulse_rotor", "thermal_module", "none"),
    "temperature_sensor": ("ntc_10k_3950", "ntc_10k_3977", "ntc_10k_3435", "none"),
}


def add_options(sub: ArgumentParser) -> None:
    sub.add_argument("--port", metavar="URL", help="the rig's port (default: search all ports)")
    sub.add_argument("--label", help="name of the board, up to 16 bytes; calibrations are stored for this name")
    sub.add_argument("--rate", type=whole(), metavar="HZ", help="line messages per second after each start, 10 to 500")
    for name, kinds in KINDS.items():
        sub.add_argument(f"--{name.replace('_', '-')}", choices=kinds, help="fitted sensor")
    for channel in ("pressure", "differential"):
        lines = sub.add_argument_group(
            f"a linear sensor on the {channel} input",
            "any sensor with an output from 0.5 to 4.5 V, or other voltages, in proportion to its 5 V supply",
        )
        lines.add_argument(
            f"--{channel}-range",
            nargs=2,
            type=quantity("pressure", -1e6, 1e6),
            metavar=("LOW", "HIGH"),
            help="pressures at the two voltages: 0 30kPa",
        )
        lines.add_argument(
            f"--{channel}-volts",
            nargs=2,
            type=number(0, 5, unit="V"),
            metavar=("LOW", "HIGH"),
            help="voltages at the two pressures with a supply of 5 V (0.5 4.5)",
        )
        lines.add_argument(
            f"--{channel}-accuracy",
            type=number(0, 50, above=0, unit="%"),
            metavar="PERCENT",
            help="accuracy stated in its data sheet, in %% of the span: 1",
        )
    add_units(sub)
