"""Verdict whether an air source can drive a generator: yes, barely or no, for page and command line."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from frothline.curve.blower import BlowerFit
from frothline.curve.operating_point import THIN_MARGIN, NoCrossing, OperatingPoint, operating_point
from frothline.curve.resistance import ResistanceLine

CAN, BARELY, CANNOT = "yes", "barely", "no"


@dataclass(frozen=True)
class DriveCheck:
    """One source against a resistance.

    verdict : CAN, BARELY or CANNOT
    point : the operating point, or NoCrossing with its reason
    words : the reason as text, that of a bad verdict first
    """

    name: str
    verdict: str
    point: OperatingPoint | NoCrossing
    words: str

    @property
    def can(self) -> bool:
        """True if it drives the generator with a pressure margin."""
        return self.verdict == CAN


def judge_source(name: str, point: OperatingPoint | NoCrossing, wanted_flow: float = 0.0) -> DriveCheck:
    """The verdict on one source from its operating point. ``wanted_flow``: m³/s at 1.2 kg/m³ that the work needs."""
    if isinstance(point, NoCrossing):
        return DriveCheck(name, CANNOT, point, point.words[0])
    share, flow = point.margin_share, point.flow
    reasons = []
    verdict = CAN
    if flow.value < wanted_flow:
        verdict = CANNOT
        reasons.append(
            f"too weak: the required flow is {wanted_flow * 1e3:.3g} L/s, and the operating point is at "
            f"{flow.value * 1e3:.3g}"
        )
    if flow.lower < wanted_flow < flow.upper:
        verdict = BARELY if verdict == CAN else verdict
        reasons.append("doubtful: the interval includes the required flow")
    if point.stability == "unstable":
        verdict = CANNOT
    elif point.stability != "stable" or share < THIN_MARGIN:
        verdict = BARELY if verdict == CAN else verdict
    others = sorted(point.words, key=lambda one: one.startswith("operating point"))  # the operating point comes last
    return DriveCheck(name, verdict, point, "; ".join((*reasons, *others)))


def which_can_drive(
    sources: Sequence[tuple[str, BlowerFit]], resistance: ResistanceLine, *, wanted_flow: float = 0.0
) -> tuple[DriveCheck, ...]:
    """Each source against one resistance, the best verdict first and then by flow.

    ``wanted_flow`` (m3/s at 1.2 kg/m3): what the work needs; a source with an operating point below it cannot drive it.
    """
    points = ((name, operating_point(blower, resistance)) for name, blower in sources)
    return sort_carried([judge_source(name, point, wanted_flow) for name, point in points])


def sort_carried(found: Sequence[DriveCheck]) -> tuple[DriveCheck, ...]:
    """Sort by verdict, best first, then by flow, largest first."""
    order = (CAN, BARELY, CANNOT)
    return tuple(sorted(found, key=lambda one: (order.index(one.verdict), -_flow(one.point))))


def _flow(point: OperatingPoint | NoCrossing) -> float:
    return point.flow.value if isinstance(point, OperatingPoint) else 0.0
