"""The state of a board from its own description, for pages and the command line."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from frothline.bench.snapshot import BoardState, ChannelState
from frothline.sensors.linear_line import LinearLine
from frothline.wire import name_of, names_of_bits, text


def board_state(tables: Mapping[str, Any], *, simulated: bool) -> BoardState:
    """Build the state from the description and the channel tables of ``rig.Answer.tables``."""
    row = tables["description"][-1]
    present = int(row["present"])
    lines = {int(one["kind"]): one for one in tables.get("linear_sensor", ())}
    causes = [name.replace("_", " ") for name in names_of_bits("reset_cause", int(row["reset_cause"]))]
    return BoardState(
        label=text(row["label"]),
        kind=name_of("board_kind", int(row["board_kind"])),
        firmware=f"{row['firmware_major']}.{row['firmware_minor']}.{row['firmware_patch']}",
        protocol=int(row["protocol"]),
        boot_count=int(row["boot_count"]),
        reset_cause=" and ".join(causes) or "not known",
        rate=int(row["rate"]),
        streaming=bool(row["streaming"]),
        channels=tuple(
            ChannelState(
                kind=name_of("channel_kind", int(one["kind"])),
                sensor=name_of("sensor_kind", int(one["sensor"])),
                name=text(one["name"]),
                pin=text(one["pin"]),
                rate=int(one["rate_millihertz"]) / 1000,
                present=bool(present >> int(one["kind"]) & 1),
                line=LinearLine.of(lines.get(int(one["kind"]))),
            )
            for one in tables.get("channel", ())
        ),
        simulated=simulated,
    )
