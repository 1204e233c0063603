"""A value with its uncertainty, the type of every result of the package.

It imports the errors, the units, the rounding and the sum of intervals, and no other module of the package.
"""

from __future__ import annotations

import math
import re
import warnings
import weakref
from collections.abc import Callable
from dataclasses import asdict, dataclass, field, replace
from html import escape
from numbers import Real
from typing import Any, ClassVar

from frothline.errors import CorrelationUnknown, InputError, InvalidEstimate, MissingPackage, UnitMismatch
from frothline.interval_sum import Z95, sum_half_widths
from frothline.rounding import value_and_interval, value_and_interval_to
from frothline.units import find_unit, same_quantity, same_unit

__all__ = ["NOT_CALIBRATED", "NOT_MEASURED", "Z95", "Estimate"]

NOT_CALIBRATED = "not calibrated"  # an assumption of a figure whose sensor was never calibrated
NOT_MEASURED = "not measured"  # begins the note of an air source that is pooled from others of its kind
_SPEC = re.compile(r"(?P<pad>(?:.?[<>^])?\d*)(?:\.(?P<digits>\d{1,2})g?)?", re.DOTALL)


@dataclass(frozen=True, repr=False)
class Estimate:
    """A value with its uncertainty.

    ``value`` and ``standard_uncertainty`` are in the unit named by ``unit``: the SI unit in every result, another one
    only after :meth:`to`. ``lower`` and ``upper`` bound the interval of the stated ``level`` (JCGM 100, 6.2), which
    need not be symmetric. ``extrapolated``: the value is outside the measured range.
    ``assumptions`` are sentences that qualify it.

    A known value is inside its interval, whose ends are numbers or infinite; InvalidEstimate otherwise. An unknown
    value is NaN; it may have a known end, and its reason is in ``assumptions``.

    Numbers without an uncertainty may be added, subtracted, multiplied and divided. Two Estimates may not, because
    their correlation is unknown: :meth:`plus` and :meth:`minus` take it.

    >>> pressure = Estimate.normal(2490.889, 12.0, "Pa")
    >>> print(pressure)
    2491 Pa (2467 to 2515, 95 %)
    >>> print(f"{pressure.to('inH2O'):.3}")
    10.0 inH₂O (9.9 to 10.1, 95 %)
    >>> print(pressure / 2)
    1245 Pa (1233 to 1258, 95 %)
    """

    value: float
    standard_uncertainty: float
    lower: float
    upper: float
    unit: str
    level: float = 0.95
    extrapolated: bool = False
    assumptions: tuple[str, ...] = field(default=())

    __array_ufunc__: ClassVar[None] = None  # numpy leaves arithmetic with an Estimate to this class

    def __post_init__(self) -> None:
        if math.isnan(self.value) or self.lower <= self.value <= self.upper:
            return
        raise InvalidEstimate(
            f"{self.value:.6g} {self.unit} is not inside its interval, {self.lower:.6g} to {self.upper:.6g}".replace(
                "nan", "unknown"
            ),
            remedy="This is a mistake in the calculation; please report it with the recording or build sheet",
        )

    @classmethod
    def normal(cls, value: float, standard_uncertainty: float, unit: str, **more: Any) -> Estimate:
        """A 95 % interval of a normal quantity: 1.959964 standard uncertainties on both sides; open if that is NaN."""
        half = math.inf if math.isnan(standard_uncertainty) else Z95 * standard_uncertainty
        return cls(value, standard_uncertainty, value - half, value + half, unit, **more)

    @classmethod
    def positive(cls, value: float, u_log: float, unit: str, **more: Any) -> Estimate:
        """A 95 % interval of a quantity above zero, normal in its logarithm with standard uncertainty ``u_log``."""
        half = Z95 * u_log
        return cls(value, value * u_log, value * math.exp(-half), value * math.exp(half), unit, **more)

    @classmethod
    def from_uncertainties(cls, variable: Any, unit: str, **more: Any) -> Estimate:
        """A 95 % normal interval from a number of the package ``uncertainties``, given in ``unit``.

        :meth:`to_uncertainties` of the result gives ``variable`` back, with its correlations to other numbers.
        """
        made = cls.normal(float(variable.nominal_value), float(variable.std_dev), unit, **more)
        _remember(made, variable)
        return made

    @property
    def known(self) -> bool:
        return math.isfinite(self.value)

    @property
    def uncalibrated(self) -> bool:
        """True if it depends on a sensor that was never calibrated."""
        return NOT_CALIBRATED in self.assumptions

    def marked_uncalibrated(self) -> Estimate:
        """A copy with the note that its sensor was never calibrated."""
        return self if self.uncalibrated else replace(self, assumptions=(*self.assumptions, NOT_CALIBRATED))

    def as_dict(self) -> dict[str, Any]:
        """For ``--json``; NaN and infinities become None, because JSON has neither."""
        return {
            key: None if isinstance(item, float) and not math.isfinite(item) else item
            for key, item in asdict(self).items()
        }

    def to(self, unit: str, *, difference: bool = False) -> Estimate:
        """Conversion to another unit of the same quantity: ``pressure.to("inH2O")``.

        ``unit`` : as in the tables of :mod:`frothline.units`, in plain or raised figures, "m3/s" or "m³/s"
        ``difference`` : the value is a difference, so the zero of °C and °F is not applied

        Raises UnitMismatch for a unit of another quantity or one that is not known.
        """
        here, there = find_unit(self.unit), find_unit(unit)
        if here is None or there is None or here.si != there.si:
            allowed = same_quantity(self.unit)
            raise UnitMismatch(
                f"“{unit[:40]}” is not a unit for a value in {self.unit or 'no unit'}",
                where="Estimate.to",
                remedy=f"Use one of {', '.join(allowed)}" if allowed else "This value has no other unit here",
            )
        old, new = here.unit, there.unit
        if difference:
            old, new = replace(old, offset=0.0), replace(new, offset=0.0)
        u = self.standard_uncertainty / old.factor * new.factor
        return self._changed(lambda x: new.from_si(old.to_si(x)), u, unit=new.symbol)

    def scaled(self, factor: float) -> Estimate:
        """The value, its uncertainty and its interval times an exact number; a negative one reverses the interval.

        JCGM 100:2008, 5.1.3, with one input and the sensitivity ``factor``.
        """
        return self._changed(lambda x: x * factor, self.standard_uncertainty * abs(factor))

    def shifted(self, offset: float) -> Estimate:
        """The value and its interval plus an exact number in the same unit; the uncertainty is unchanged."""
        return self._changed(lambda x: x + offset, self.standard_uncertainty)

    def plus(self, other: Estimate, *, correlation: float) -> Estimate:
        """The sum of two Estimates in one unit; 0.0 is right for values from independent measurements.

        The standard uncertainty follows JCGM 100:2008, equation 16. Symmetric intervals add in the same way. Intervals
        that are not symmetric are propagated as shifted lognormal distributions (:mod:`frothline.interval_sum`), so
        that the ends of the sum have the stated level; its value is the sum of the values. An open end stays open.

        Raises InputError for a correlation outside -1 to 1 and for intervals of different levels, UnitMismatch for
        different units.
        """
        if not -1.0 <= correlation <= 1.0:
            raise InputError(
                f"the correlation {correlation:g} is not between -1 and 1",
                where="Estimate.plus",
                remedy="Give 0.0 for independent values, 1.0 for values with one common error",
            )
        if self.level != other.level:
            raise InputError(
                f"the intervals have the levels {self.level:g} and {other.level:g}",
                where="Estimate.plus",
                remedy="Add values whose intervals have one level",
            )
        if not same_unit(self.unit, other.unit):
            raise UnitMismatch(
                f"{self.unit or 'no unit'} and {other.unit or 'no unit'} are different units",
                where="Estimate.plus",
                remedy=f'Convert one of them first, as in other.to("{self.unit}")',
            )
        value = self.value + other.value
        u, v = self.standard_uncertainty, other.standard_uncertainty
        known = math.isfinite(value)
        below, above = (
            sum_half_widths(
                (self.value - self.lower, self.upper - self.value),
                (other.value - other.lower, other.upper - other.value),
                correlation,
                self.level,
            )
            if known
            else (math.nan, math.nan)
        )
        return Estimate(
            value if known else math.nan,
            math.sqrt(max(u * u + v * v + 2.0 * correlation * u * v, 0.0)),
            value - below,
            value + above,
            self.unit,
            self.level,
            self.extrapolated or other.extrapolated,
            tuple(dict.fromkeys((*self.assumptions, *other.assumptions))),
        )

    def minus(self, other: Estimate, *, correlation: float) -> Estimate:
        """The difference of two Estimates in one unit, as :meth:`plus`; ``correlation`` is that of the two values."""
        return self.plus(other.scaled(-1.0), correlation=-correlation)

    def to_uncertainties(self) -> Any:
        """As a number of the package ``uncertainties``, in ``unit``: its value and standard uncertainty.

        The same Estimate gives the same variable each time, so that ``x - x`` is exactly 0 there. Two Estimates give
        independent variables, even if one was calculated from the other; an asymmetric interval is lost.

        Raises MissingPackage where the package is not installed, InputError for an unknown value or uncertainty.
        """
        known = _VARIABLES.get(id(self))
        if known is not None and known[0]() is self:
            return known[1]
        try:
            from uncertainties import ufloat  # noqa: PLC0415  an optional package, used only here
        except ImportError as error:
            raise MissingPackage(
                "the package uncertainties is not installed",
                where="Estimate.to_uncertainties",
                remedy="Install it with: pip install uncertainties",
            ) from error
        if not (self.known and math.isfinite(self.standard_uncertainty)):
            raise InputError(
                f"{self} has no known {'uncertainty' if self.known else 'value'}",
                where="Estimate.to_uncertainties",
                remedy="Convert only values with a known standard uncertainty",
            )
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # suppress its warning about an uncertainty of 0
            variable = ufloat(self.value, self.standard_uncertainty)
        _remember(self, variable)
        return variable

    def _changed(self, change: Callable[[float], float], u: float, **more: Any) -> Estimate:
        """Apply a monotonic function to all values; reversed ends are put in order."""
        value, lower, upper = change(self.value), change(self.lower), change(self.upper)
        if lower > upper:
            lower, upper = upper, lower
        if math.isfinite(value):  # an infinite end times 0
            lower, upper = (value if math.isnan(end) else end for end in (lower, upper))
        return replace(self, value=value, standard_uncertainty=u, lower=lower, upper=upper, **more)

    def __add__(self, other: Any) -> Estimate:
        number = self._number(other, "add", "a.plus(b, correlation=0.0)")
        return NotImplemented if number is None else self.shifted(number)

    def __radd__(self, other: Any) -> Estimate:
        return self.__add__(other)

    def __sub__(self, other: Any) -> Estimate:
        number = self._number(other, "subtract", "a.minus(b, correlation=0.0)")
        return NotImplemented if number is None else self.shifted(-number)

    def __rsub__(self, other: Any) -> Estimate:
        return (-self).__add__(other)

    def __mul__(self, other: Any) -> Estimate:
        number = self._number(other, "multiply", "a.to_uncertainties() * b.to_uncertainties(), if they are independent")
        return NotImplemented if number is None else self.scaled(number)

    def __rmul__(self, other: Any) -> Estimate:
        return self.__mul__(other)

    def __truediv__(self, other: Any) -> Estimate:
        number = self._number(other, "divide", "a.to_uncertainties() / b.to_uncertainties(), if they are independent")
        if number is None:
            return NotImplemented
        if number == 0.0:
            raise InputError("an Estimate is divided by 0", where=str(self), remedy="Divide by another number")
        return self._changed(lambda x: x / number, self.standard_uncertainty / abs(number))

    def __neg__(self) -> Estimate:
        return self.scaled(-1.0)

    @staticmethod
    def _number(other: Any, verb: str, way: str) -> float | None:
        if isinstance(other, Estimate):
            raise CorrelationUnknown(
                f"cannot {verb} two Estimates: their correlation is unknown",
                where="Estimate",
                remedy=f"State it: {way}. For a sum: a.plus(b, correlation=0.0)",
            )
        return float(other) if isinstance(other, Real) else None

    def __format__(self, spec: str) -> str:
        """Value, unit and interval; ``spec`` is ``.3`` for three significant digits of the value, after an optional
        width.

        Without digits the interval determines the rounding of the value. The ends are rounded outwards.
        """
        found = _SPEC.fullmatch(spec)
        if found is None or found["digits"] == "0":
            raise InputError(
                f"“{spec}” is not a format of an Estimate",
                where="format specification",
                remedy="Use .3 for three significant digits, or none for what the interval supports",
            )
        return format(self._text(int(found["digits"]) if found["digits"] else None), found["pad"])

    def _text(self, digits: int | None) -> str:
        if not self.known:
            why = "; ".join(self.assumptions) or "not known"
            return f"– {self.unit} ({why})" if self.unit not in ("", "1") else f"– ({why})"
        ends = (self.value, self.lower, self.upper)
        value, interval = value_and_interval(*ends) if digits is None else value_and_interval_to(*ends, digits)
        level = f", {self.level * 100.0:.4g} %" if " to " in interval or " or " in interval else ""
        unit = "" if self.unit in ("", "1") else f" {self.unit}"
        return f"{value}{unit} ({interval}{level})"

    def __str__(self) -> str:
        return self._text(None)

    def __repr__(self) -> str:
        return f"<Estimate {self}>"

    def _repr_html_(self) -> str:
        head, _, rest = str(self).partition(" (")
        said = [
            *(["outside what was measured"] if self.extrapolated else []),
            *(self.assumptions if self.known else ()),
        ]
        more = f"<br><small>{escape('; '.join(said))}</small>" if said else ""
        return f"<b>{escape(head)}</b> <small>({escape(rest)}</small>{more}"


# Numbers of the package uncertainties by the Estimate they belong to. By identity, because two measurements may have
# the same figures and be independent. Outside the Estimate, so that its copies, pickles and tables do not change.
_VARIABLES: dict[int, tuple[weakref.ref[Estimate], Any]] = {}


def _remember(estimate: Estimate, variable: Any) -> None:
    key = id(estimate)
    _VARIABLES[key] = (weakref.ref(estimate, lambda _: _VARIABLES.pop(key, None)), variable)
