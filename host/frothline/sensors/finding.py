"""A plausibility finding on a rig, with its remedy."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import Literal


@dataclass(frozen=True)
class Finding:
    """One finding.

    code : stable identifier for scripts
    channel : where it was found
    what : the observation
    remedy : what to do
    """

    code: str
    severity: Literal["notice", "warning"]
    channel: str
    what: str
    remedy: str

    def as_dict(self) -> dict[str, str]:
        return asdict(self)
