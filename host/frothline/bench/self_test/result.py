"""Results of a self-test: one per part, the report card, and the progress."""

from __future__ import annotations

from dataclasses import dataclass, field

GOOD, ODD, FAULTY, ABSENT, SKIPPED = "good", "odd", "faulty", "absent", "skipped"
VERDICTS = (GOOD, ODD, FAULTY, ABSENT, SKIPPED)


@dataclass(frozen=True)
class PartResult:
    """Result of one part. ``part`` is stable for scripts; ``figures`` are SI."""

    part: str
    verdict: str
    seen: str
    remedy: str = ""
    figures: dict[str, float] = field(default_factory=dict)


@dataclass(frozen=True)
class ReportCard:
    """The outcome of a self-test."""

    made: str  # ISO 8601, local time
    port: str
    label: str
    firmware: str
    simulated: bool
    level: int
    outcomes: tuple[PartResult, ...]

    @property
    def passed(self) -> bool:
        """Whether no part is odd or faulty; parts not fitted or not tested do not count."""
        return not self.wrong

    @property
    def wrong(self) -> tuple[PartResult, ...]:
        return tuple(one for one in self.outcomes if one.verdict in {ODD, FAULTY})


@dataclass(frozen=True)
class Progress:
    """Progress for the display: ``kind`` is "do" (an instruction), "wait" (progress 0 to 1) or "outcome"."""

    kind: str
    words: str = ""
    progress: float = 0.0
    outcome: PartResult | None = None
