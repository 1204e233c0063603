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
    else:
        raise ValueError(_unclear(text))
    if not 1.0 <= parts <= 1000.0:
        raise ValueError(f"“{shorten(text)}” is out of range; give 1 to 1000 parts")
    return dilution


def _unclear(text: str) -> str:
    """What is wrong with a text that is not a dilution, with the ways to write what it may mean."""
    forms = "“1+30” for 30 parts water to one of agent, or “1 in 31” for one part in 31 of solution"
    if not text:
        return f"the dilution is missing; write {forms}"
    if found := re.fullmatch(rf"({DECIMAL}) ?(?:%|percent|per cent)", text):
        share = decimal(found[1]) / 100.0
        if 0.001 <= share <= 0.5:
            n = f"{1 / share:.4g}"
            return (
                f"the dilution “{shorten(text)}” can be read two ways: write “1 in {n}” if it is of the solution, or "
                f"“1+{n}” if it is of the water"
            )
    if found := re.fullmatch(rf"(?:dilution |1 ?[:/] ?|1 to )?({DECIMAL})", text, re.IGNORECASE):
        n = f"{decimal(found[1]):g}"
        return (
            f"the dilution “{shorten(text)}” can be read two ways: write “1+{n}” for {n} parts water to one of agent, "
            f"or “1 in {n}” for one part in {n} of solution"
        )
    return f"“{shorten(text)}” is not a dilution; write {forms}"


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
