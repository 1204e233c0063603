"""The check of a recording for damage, as a displayable result."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from frothline.presentable import Observations, Presentable
from frothline.recording.reader import VerifyReport, verify
from frothline.rounding import counted

_COUNTS = ("bytes", "frames", "lost", "unknown", "doubled", "port_lost", "boots", "resumed")


@dataclass(frozen=True, repr=False)
class RecordingCheck(Presentable):
    """Result of the check: ``report`` has every count; ``whole`` if nothing is damaged, missing or interrupted."""

    report: VerifyReport

    @property
    def whole(self) -> bool:
        return self.report.whole

    def _title(self) -> str:
        one = self.report
        return f"{one.name}: {'whole' if one.whole else 'not whole'}, {counted(one.frames, 'frame')}"

    def _words(self) -> Sequence[str]:
        return self.report.losses()

    def _observations(self) -> Observations:
        one = self.report
        row = {"recording": one.name, "whole": one.whole, "damaged": one.stretches, "closed": one.closed}
        row |= {name: getattr(one, name) for name in _COUNTS}
        row["missing_segments"] = len(one.missing_segments)
        return Observations((row,), dict.fromkeys(row, ""), more={"words": list(self._words())})


def check_recording(path: str | Path) -> RecordingCheck:
    """Read a recording and count what is whole, damaged and missing, as ``frothline verify`` does.

    Raises NotARecording, NewerFormat, RecordingUnwritable.
    """
    return RecordingCheck(verify(path))
