"""Types of number options: each reads a typed number as pages and files do, and refuses it with a message."""

from __future__ import annotations

import math
from argparse import ArgumentTypeError
from collections.abc import Callable

from frothline.quantities import check_range, read_number


def number(
    low: float = -math.inf, high: float = math.inf, *, above: float = -math.inf, unit: str = ""
) -> Callable[[str], float]:
    """A finite number from ``low`` to ``high``, greater than ``above``. ``unit`` may follow it."""

    def read(text: str) -> float:
        try:
            return check_range(read_number(text.strip().removesuffix(unit) if unit else text), low, high, above=above)
        except ValueError as error:
            raise ArgumentTypeError(str(error)) from None

    return read


def whole(low: int = 0, high: int = 10**12) -> Callable[[str], int]:
    """A whole number from ``low`` to ``high``."""

    def read(text: str) -> int:
        try:
            value = check_range(read_number(text), low, high)
        except ValueError as error:
            raise ArgumentTypeError(str(error)) from None
        if value != int(value):
            raise ArgumentTypeError(f"“{text}” is not a whole number")
        return int(value)

    return read
