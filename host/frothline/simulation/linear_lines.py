"""Lines of the linear pressure sensors that the simulated board stores, as the firmware's ``core/linear.c``."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from frothline.simulation.board_channels import KIND, SENSOR
from frothline.wire import MESSAGES

FIELDS = tuple(field.name for field in MESSAGES["linear_sensor"].fields)
CHANNELS = ("pressure", "differential")
FULL_SUPPLY = 5000  # mV
LARGEST_ACCURACY = 5000  # 1/10000


class LinearLines:
    """The stored lines by channel kind; zeros where none was written."""

    def __init__(self) -> None:
        self._lines = {KIND[name]: dict.fromkeys(FIELDS[1:], 0) for name in CHANNELS}

    def write(self, record: Any) -> bool:
        """Store the line of a command; returns False, and stores nothing, if it is not valid."""
        line = {name: int(record[name]) for name in FIELDS[1:]}
        fits = (
            int(record["kind"]) in self._lines
            and line["low_pascal"] < line["high_pascal"]
            and line["low_millivolt"] < line["high_millivolt"] <= FULL_SUPPLY
            and 0 < line["accuracy_per_myriad"] <= LARGEST_ACCURACY
        )
        if fits:
            self._lines[int(record["kind"])] = line
        return fits

    def messages(self, storage: Mapping[str, int], enabled: int) -> Iterator[dict[str, int]]:
        """Fields of the ``linear_sensor`` messages of a description."""
        for name in CHANNELS:
            kind = KIND[name]
            if storage[f"{name}_sensor"] == SENSOR["linear_pressure"] and enabled >> kind & 1:
                yield {"kind": kind, **self._lines[kind]}
