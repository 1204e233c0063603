"""The uncertainty budget of a channel, as a readable table with named errors for correlated fits."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

from frothline.estimate import Estimate
from frothline.numerics.uncertainty import Contribution, Kind, coverage_factor, effective_dof
from frothline.sensors.reading import Reading


@dataclass(frozen=True)
class Budget:
    """Uncertainty of one figure by source; all in the SI unit of the figure.

    ``contributions`` are scalars; zero ones are omitted. The kind ``systematic`` is one error for the whole session,
    ``random`` is independent from sample to sample.
    """

    name: str
    value: float
    unit: str
    contributions: tuple[Contribution, ...]

    @classmethod
    def of(cls, name: str, unit: str, reading: Reading) -> Budget:
        """The budget of a reading of length 1."""
        shares = tuple(
            Contribution(s.source, s.kind, s.standard.reshape(-1)[:1].sum(), s.distribution, s.origin, s.dof)
            for s in reading.contributions
        )
        kept = (s for s in shares if math.isfinite(float(s.standard)) and float(s.standard) != 0.0)
        return cls(name, float(reading.value[0]), unit, tuple(kept))

    def _root(self, kind: Kind | None) -> float:
        return math.sqrt(sum(float(s.standard) ** 2 for s in self.contributions if kind is None or s.kind == kind))

    @property
    def u(self) -> float:
        """Combined standard uncertainty of one sample."""
        return self._root(None)

    @property
    def u_systematic(self) -> float:
        """The part that is common to a session."""
        return self._root("systematic")

    @property
    def u_random(self) -> float:
        """The part that is independent from sample to sample."""
        return self._root("random")

    @property
    def dof(self) -> float:
        """Effective degrees of freedom (JCGM 100:2008, G.4)."""
        return effective_dof(self.contributions)

    def estimate(self, level: float = 0.95, samples: float = 1.0) -> Estimate:
        """Value with interval; ``samples`` is the effective number of averaged samples."""
        u = math.hypot(self.u_systematic, self.u_random / math.sqrt(samples))
        half = coverage_factor(self.dof, level) * u
        return Estimate(self.value, u, self.value - half, self.value + half, self.unit, level)

    def covariance(self, other: Budget) -> float:
        """Covariance of two figures of one session through their common systematic sources (JCGM 100:2008, F.1.2.3).

        If one figure is an input of the other, its whole systematic uncertainty is the source of that name.
        """
        mine = {s.source: float(s.standard) for s in self.contributions if s.kind == "systematic"}
        theirs = {s.source: float(s.standard) for s in other.contributions if s.kind == "systematic"}
        if self.name in theirs:
            return self.u_systematic * theirs[self.name]
        if other.name in mine:
            return other.u_systematic * mine[other.name]
        return sum(mine[source] * theirs[source] for source in mine.keys() & theirs.keys())

    def rows(self) -> list[dict[str, Any]]:
        """Rows for tables and ``--json``: largest first, with the share of the variance."""
        total = self.u**2 or 1.0
        ordered = sorted(self.contributions, key=lambda s: -abs(float(s.standard)))
        return [
            {
                "source": s.source,
                "kind": s.kind,
                "distribution": s.distribution,
                "standard_uncertainty": abs(float(s.standard)),
                "share": float(s.standard) ** 2 / total,
                "dof": None if math.isinf(s.dof) else s.dof,
                "origin": s.origin,
            }
            for s in ordered
        ]

    def table(self, factor: float = 1.0, unit: str = "", level: float = 0.95) -> str:
        """Plain text; ``factor`` converts the SI figures to ``unit``."""
        unit = unit or self.unit
        lines = [f"{self.name} = {self.value * factor:.5g} {unit}", ""]
        lines.append(f"{'source':<30} {'kind':<11} {'shape':<12} {'u':>10}  {'share':>6}  from")
        lines.extend(
            f"{row['source']:<30} {row['kind']:<11} {row['distribution']:<12} "
            f"{row['standard_uncertainty'] * factor:>10.3g}  {row['share']:>6.1%}  {row['origin']}"
            for row in self.rows()
        )
        k = coverage_factor(self.dof, level)
        lines.append("")
        lines.append(f"{'shared by the session':<55} {self.u_systematic * factor:>10.3g}")
        lines.append(f"{'drawn with each sample':<55} {self.u_random * factor:>10.3g}")
        lines.append(f"{'together':<55} {self.u * factor:>10.3g} {unit}")
        lines.append(f"{f'{level:.0%} interval, k = {k:.2f}':<55} ±{k * self.u * factor:>9.3g} {unit}")
        return "\n".join(lines)
