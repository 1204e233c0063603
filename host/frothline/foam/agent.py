"""A foaming agent with the surface tension of its solution, and the agents of a folder."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from frothline.errors import InputError
from frothline.estimate import Estimate
from frothline.foam.dilution import Dilution
from frothline.formatting import full_text
from frothline.presentable import Observations, Presentable, PresentedFigure, estimate_cells, estimate_units
from frothline.quantities import shorten
from frothline.rounding import counted
from frothline.units import ZERO_CELSIUS, Unit

TENSION = Unit("mN/m", 1e3, signed=False)


@dataclass(frozen=True, repr=False)
class Agent(Presentable):
    """An agent as written, SI. ``surface_tension`` N/m of the solution, None if it was not measured; ``hardness``
    mol/m³ as calcium carbonate; temperatures K; NaN where it is not written. ``factor`` is f of its drops. ``problems``
    has a sentence for each wrong entry and each contradiction.
    """

    name: str
    path: Path | None = None
    kind: str = ""
    note: str = ""
    dilution: Dilution | None = None
    water_source: str = ""
    hardness: float = math.nan
    water_temperature: float = math.nan
    surface_tension: Estimate | None = None
    tension_temperature: float = math.nan
    factor: float = math.nan
    problems: tuple[str, ...] = ()

    def _title(self) -> str:
        return f"{self.name}: surface tension {full_text(self.surface_tension, TENSION, reason='not measured')}"

    def _figures(self) -> Sequence[PresentedFigure]:
        return (PresentedFigure("surface tension", self.surface_tension, TENSION, "not measured"),)

    def _facts(self) -> Sequence[tuple[str, str]]:
        return self.facts()

    def facts(self) -> list[tuple[str, str]]:
        """What is written of it, as label and text."""
        found = [("kind", self.kind), ("dilution", "" if self.dilution is None else str(self.dilution))]
        found.append(("water", self.water_source))
        if math.isfinite(self.hardness):
            found.append(("hardness", f"{self.hardness:.3g} mmol/L"))
        for label, kelvin in (("water temperature", self.water_temperature), ("drops at", self.tension_temperature)):
            if math.isfinite(kelvin):
                found.append((label, f"{kelvin - ZERO_CELSIUS:.0f} °C"))
        if math.isfinite(self.factor):
            found.append(("correction of Harkins and Brown", f"{self.factor:.3f}"))
        return [(label, text) for label, text in (*found, ("note", self.note)) if text]

    def _words(self) -> Sequence[str]:
        return self.problems

    def _names(self) -> Sequence[str]:
        return (self.name,)

    def row(self) -> dict[str, Any]:
        """Cells of a table, SI."""
        fraction = math.nan if self.dilution is None else self.dilution.fraction
        return {
            "name": self.name,
            "kind": self.kind,
            "agent_fraction": fraction,
            "hardness": self.hardness,
            "water_temperature": self.water_temperature,
            **estimate_cells(surface_tension=self.surface_tension),
        }

    def _observations(self) -> Observations:
        return Observations((self.row(),), UNITS)


UNITS = {"name": "", "kind": "", "agent_fraction": "1", "hardness": "mol/m3", "water_temperature": "K"}
UNITS |= estimate_units(surface_tension="N/m")


@dataclass(frozen=True, repr=False)
class AgentBook(Presentable):
    """The agents of a folder, by name; ``problems`` of files that cannot be read."""

    agents: tuple[Agent, ...] = ()
    problems: tuple[str, ...] = ()

    def named(self, name: str) -> Agent:
        """By name or name of the file, without regard to case. Raises InputError."""
        found = self.find(name)
        if found is not None:
            return found
        known = ", ".join(one.name for one in self.agents[:12])
        raise InputError(
            f"no agent is called “{shorten(name)}”",
            where="agents",
            remedy=f"Known: {known}" if known else "Write one with frothline agents --new",
        )

    def find(self, name: str) -> Agent | None:
        """As ``named``; None if there is none."""
        wanted = name.strip().casefold()
        for one in self.agents:
            if wanted in (one.name.casefold(), "" if one.path is None else one.path.stem.casefold()):
                return one
        return None

    def tension_of(self, name: str) -> Estimate | None:
        """Measured surface tension of an agent's solution, N/m; None if it is not known."""
        found = self.find(name) if name.strip() else None
        return None if found is None else found.surface_tension

    def _title(self) -> str:
        return f"{counted(len(self.agents), 'agent')}: {', '.join(one.name for one in self.agents)}"

    def _figures(self) -> Sequence[PresentedFigure]:
        return [PresentedFigure(one.name, one.surface_tension, TENSION, "not measured") for one in self.agents]

    def _words(self) -> Sequence[str]:
        return (*self.problems, *(said for one in self.agents for said in one.problems))

    def _names(self) -> Sequence[str]:
        return [one.name for one in self.agents]

    def _observations(self) -> Observations:
        """One row an agent."""
        return Observations(tuple(one.row() for one in self.agents), UNITS)
