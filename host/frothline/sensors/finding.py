"""A plausibility finding on a rig, with its remedy."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import Literal


@dataclass(frozen=True)
class Finding:
    """``code`` is stable for scripts; ``what`` is seen, ``remedy`` is to be done; ``channel`` says where."""

    code: str
    severity: Literal["notice", "warning"]
    channel: str
    what: str
    remedy: str

    def as_dict(self) -> dict[str, str]:
        return asdict(self)
