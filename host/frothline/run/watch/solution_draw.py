"""The solution draw of a run by the scale under the reservoir: the usual draw, and its present share."""

from __future__ import annotations

from dataclasses import dataclass, field
from math import inf, isfinite, nan

import numpy as np

LESS_DRAWN = 0.12  # of the usual consumption that is missing: the solution runs out
TELLS = 0.01  # kg/s: a smaller fall gives no consumption (a reservoir that is refilled continuously)
AS_BEFORE = 0.9  # share of the usual that counts as complete


@dataclass
class SolutionDraw:
    """Learns the usual draw: ``usual`` and ``noise`` in kg/s, from the last twenty seconds without a fault."""

    usual: float = nan
    noise: float = inf
    _seen: list[float] = field(default_factory=list)

    def learn(self, drawn: float) -> None:
        """Take the draw in kg/s without a fault, once per block."""
        if not isfinite(drawn):
            return
        self._seen = [*self._seen[-39:], drawn]
        if len(self._seen) >= 10:
            self.usual = float(np.median(self._seen))
        if len(self._seen) >= 20:  # the newest values may be falling already
            self.noise = float(np.std(self._seen[:-10]))

    @property
    def known(self) -> bool:
        return isfinite(self.usual)

    @property
    def tells(self) -> bool:
        return self.usual > TELLS

    def share(self, drawn: float) -> float:
        """Drawn share of the usual, NaN if unknown."""
        return max(drawn, 0.0) / self.usual if self.tells else nan

    def falls_short(self, drawn: float) -> bool:
        """Whether clearly less is drawn than usual; a lift or a refill does not count."""
        if not self.tells or not isfinite(drawn):
            return False
        limit = min(max(LESS_DRAWN, 8.0 * self.noise / self.usual), 0.3)
        return -0.3 < drawn / self.usual < 1.0 - limit
