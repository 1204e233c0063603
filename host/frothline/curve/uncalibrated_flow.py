"""Notes for figures from a flow element that was never calibrated."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any, Protocol, TypeVar

from frothline.curve.steady_points import SteadyPoint
from frothline.estimate import NOT_CALIBRATED, Estimate

NOTE = "the flow element was never calibrated: calibrate the flow with the drilled plates or a bag of known volume"


class _OfFlow(Protocol):
    @property
    def free_delivery(self) -> Estimate: ...

    @property
    def air_power(self) -> Estimate: ...

    @property
    def air_power_flow(self) -> Estimate: ...


Figures = TypeVar("Figures", bound=_OfFlow)


def is_uncalibrated(points: Sequence[SteadyPoint]) -> bool:
    """True if the flow of any point is marked as uncalibrated."""
    return any(NOT_CALIBRATED in point.notes for point in points)


def mark_flows(figures: Figures) -> Figures:
    """The figures of a source with the "not calibrated" note on each that depends on a flow."""
    marked: Any = {
        name: getattr(figures, name).marked_uncalibrated() for name in ("free_delivery", "air_power", "air_power_flow")
    }
    return replace(figures, **marked)  # type: ignore[type-var]  # both kinds of figures are dataclasses
