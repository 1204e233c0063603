"""The dilution of the foaming agent and its notation."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Any

from frothline.physics.mix import DilutionConvention, agent_fraction
from frothline.quantities import DECIMAL, decimal, shorten, typed


def read_dilution(raw: Any) -> Dilution:
    """Read a dilution with its convention: "1+30" or "1 in 31". Raises ValueError, also for "1:30", which is
    ambiguous.
    """
    text = typed(raw) if isinstance(raw, str) else shorten(raw)
    if found := re.fullmatch(rf"1 ?\+ ?({DECIMAL})", text):
        parts, dilution = decimal(found[1]), Dilution(decimal(found[1]), "1+N")
    elif found := re.fullmatch(rf"1 in ({DECIMAL})", text):
        parts, dilution = decimal(found[1]), Dilution(decimal(found[1]), "1 in N")
    elif found := re.fullmatch(rf"1 ?[:/] ?({DECIMAL})", text):
        n = decimal(found[1])
        raise ValueError(
            f"“{shorten(text)}” can be read two ways: write “1+{n:g}” for {n:g} parts water to one of agent, or "
            f"“1 in {n:g}” for one part in {n:g} of solution"
        )
    else:
        raise ValueError(f"“{shorten(text)}” is not a dilution; write “1+30” or “1 in 31”")
    if not 1.0 <= parts <= 1000.0:
        raise ValueError(f"“{shorten(text)}” is out of range; give 1 to 1000 parts")
    return dilution


@dataclass(frozen=True)
class Dilution:
    """Agent to water, with the convention spelled out: "1+30" is one part agent and 30 parts water; "1 in 31" one part
    made up to 31 parts: the same solution, written two ways.
    """

    parts: float
    convention: DilutionConvention

    @property
    def fraction(self) -> float:
        """Agent by volume of the solution."""
        return agent_fraction(self.parts, self.convention)

    def __str__(self) -> str:
        return f"1+{self.parts:g}" if self.convention == "1+N" else f"1 in {self.parts:g}"
