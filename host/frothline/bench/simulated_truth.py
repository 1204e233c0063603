"""What a simulated rig does now, which a real one does not tell."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from frothline.errors import FrothlineError


def simulated_truth(session: Any) -> Mapping[str, Any] | None:
    """The truth of the session's simulated rig; None at a real one, and where the rig does not answer."""
    simulation: Any = getattr(session, "simulation", None)
    if simulation is None:
        return None
    try:
        truth: Mapping[str, Any] = simulation.truth()
    except FrothlineError:
        return None
    return truth
