"""Types of number options: each reads a typed number as pages and files do, and refuses it with a message."""

from __future__ import annotations

import math
from argparse import ArgumentTypeError, Namespace
from collections.abc import Callable
from dataclasses import dataclass

from frothline.curve.source_entries import Motor, known_motor
from frothline.errors import InputError
from frothline.estimate import Estimate
from frothline.pours.plan_entries import read_foam_figure
from frothline.pours.stated import with_stated_unit
from frothline.quantities import check_range, in_entry_unit, is_number, read_number, read_quantity


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


def minutes(text: str) -> float:
    """A time in s; a number without a unit is minutes."""
    from frothline.trials.sample_sidecar import read_time  # noqa: PLC0415  only when a time is read: it loads arrays

    try:
        return read_number(text) * 60.0 if is_number(text) else read_time(text)
    except ValueError as error:
        raise ArgumentTypeError(str(error)) from None


def motor(text: str) -> Motor:
    """The speed control of an air source's motor."""
    try:
        return known_motor(text)
    except InputError as error:
        raise ArgumentTypeError(error.what) from None


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


@dataclass(frozen=True)
class TypedFigure:
    """A figure with or without its unit, as typed, until ``read_figures``. Limits are in SI."""

    text: str
    kind: str
    low: float
    high: float
    above: float
    foam: str = ""  # entry of a plan whose figure it is, which may have an interval

    def with_unit(self, system: str) -> str:
        return with_stated_unit(self.text, self.kind, system)

    def value(self, system: str) -> float | Estimate:
        """The figure in SI, an Estimate for one of the foam. Raises ValueError."""
        if self.foam:
            return read_foam_figure(self.foam, self.text, system, limited=False)
        return read_quantity(self.text, self.kind, system)


def quantity(
    kind: str, low: float = -math.inf, high: float = math.inf, *, above: float = -math.inf, foam: str = ""
) -> Callable[[str], TypedFigure]:
    """A figure of a kind (a key of ``units.ENTRY_UNITS``), SI from ``low`` to ``high`` and greater than ``above``.

    Its unit may be left out: it is then that of ``--units``, which may follow on the command line. ``foam`` : entry of
    a pour plan that it is too; it may have its 95 % interval then
    """

    def read(text: str) -> TypedFigure:
        made = TypedFigure(text, kind, low, high, above, foam)
        try:
            made.value("metric")
        except ValueError as error:
            try:
                made.value("inch-pound")  # a fraction without a unit is clear there
            except ValueError:
                raise ArgumentTypeError(str(error)) from None
        return made

    return read


def read_figures(options: Namespace) -> None:
    """Replace each typed figure by its value in SI; ``options.typed`` has the texts with their units, by name.

    Raises InputError with the option.
    """
    system, typed = getattr(options, "units", "metric"), {}
    for name, value in list(vars(options).items()):
        if isinstance(value, TypedFigure):
            typed[name] = value.with_unit(system)
            setattr(options, name, _read(value, name, system))
        elif isinstance(value, list) and value and isinstance(value[0], TypedFigure):
            setattr(options, name, [_read(one, name, system) for one in value])
    options.typed = typed


def _read(typed: TypedFigure, name: str, system: str) -> float | Estimate:
    where = f"--{name.replace('_', '-')}"
    try:
        found = typed.value(system)
    except ValueError as error:
        raise InputError(str(error), where=where) from None
    value = found.value if isinstance(found, Estimate) else found
    if typed.low <= value <= typed.high and value > typed.above:
        return found
    least, most = (in_entry_unit(end, typed.kind, system) for end in (max(typed.low, typed.above), typed.high))
    words = f"{least} or more" if typed.above < typed.low else f"greater than {least}"
    if math.isfinite(typed.high):
        words = f"{least} to {most}"
    raise InputError(f"{typed.with_unit(system)} must be {words}", where=where)
