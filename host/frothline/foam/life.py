"""How long foam may wait until it is folded in: the time in which 25 % of its liquid drains, where it was measured.

Drained liquid lies below the foam, and goes into the mix as water without air. The 25 % time is the drainage time that
foam tests give; that foam is used within it is judgement, no source. The time is of the depth of the sample.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from frothline.estimate import Estimate
from frothline.formatting import full_text
from frothline.units import METRIC

USUAL = 300.0  # s, of foam whose drainage was not measured; judgement, no source
SHORTEST, LONGEST = 10.0, 7200.0  # s, limits of what an entry may be too
ENTERED = "as entered"
ASSUMED = "an assumption: no drainage was measured of this foam"


@dataclass(frozen=True)
class FoamLife:
    """``time`` s within which foam is used, and in ``origin`` where it comes from; ``measured`` by a drainage."""

    time: float = USUAL
    origin: str = ASSUMED
    measured: bool = False


def in_minutes(seconds: float) -> str:
    """A time to read: seconds, or minutes and seconds."""
    whole = round(seconds)
    if whole < 120:
        return f"{whole} s"
    return f"{whole // 60} min" + (f" {whole % 60} s" if whole % 60 else "")


def entered_life(time: float) -> FoamLife:
    """The builder's own entry, s."""
    return FoamLife(time, ENTERED)


def life_by_drainage(drainage: Estimate | None, of: str, depth: float | None = None) -> FoamLife | None:
    """The life by the 25 % drainage time, s, of the foam ``of``; None if it was not measured.

    depth : m of foam in the sample, None unknown
    """
    if drainage is None or not drainage.known:
        return None
    at = "" if depth is None or not math.isfinite(depth) else f", at {depth * 1e3:.0f} mm of foam"
    later = ", extrapolated" if drainage.extrapolated else ""
    said = f"25 % of the liquid drains in {full_text(drainage, METRIC['time'])}{at}{later}: {of}"
    return FoamLife(min(max(drainage.value, SHORTEST), LONGEST), said, measured=True)
