"""What a person states about an air source and its site: speed control of the motor, limits of the altitude."""

from __future__ import annotations

from typing import Literal, get_args

from frothline.errors import InputError

Motor = Literal["series", "constant speed"]
MOTORS: tuple[Motor, ...] = get_args(Motor)
ALTITUDES = (-500.0, 3700.0)  # m: the air of the standard atmosphere is then inside the limits of the fan laws


def known_motor(text: str) -> Motor:
    """The speed control of a source by its name. Raises InputError for an unknown one."""
    for one in MOTORS:
        if text == one:
            return one
    raise InputError(
        f"“{str(text)[:40]}” is not a speed control of a motor: series (brushed motor without speed control, as in "
        "vacuums) or constant speed",
        where="motor",
    )
