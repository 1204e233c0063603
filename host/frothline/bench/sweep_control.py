"""Control of sweeps for the pages: start, confirm, end; prepares the line of a simulated rig."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from frothline.bench.generator_workspace import GeneratorWorkspace
from frothline.bench.own_build import SHEETS
from frothline.bench.playback_control import SWEEP, require_rig
from frothline.bench.session_api import SessionApi
from frothline.bench.simulated_truth import simulated_truth
from frothline.errors import InputError
from frothline.quantities import read_number
from frothline.simulation.options import scenario_of, with_scenario
from frothline.sweep.guide_state import SWEEP_NAMES, is_guiding

SOURCE = "source"


@dataclass(frozen=True)
class SimulatedThrottle:
    """The throttle of a simulated rig.

    opening : 0 closed to 1 open
    bleed : whether it is the bleed before a generator
    hand : whether a simulated hand follows the guide
    """

    opening: float
    bleed: bool
    hand: bool


class SweepControl:
    """Starts and ends sweeps. All methods may be called from any thread."""

    def __init__(self, session: SessionApi, desk: GeneratorWorkspace) -> None:
        self._session = session
        self._desk = desk

    def start(self, of: str) -> str:
        """Sweep the source or the sheet's generator; ``of`` is "dry" or "wet". If the same sweep already runs, nothing
        changes and the page shows it in large type. Raises InputError during another sweep or a run, and in a replay.
        """
        now = self._session.snapshot()
        require_rig(now, SWEEP)
        if is_guiding(now.sweep):
            assert now.sweep is not None
            if now.sweep.of == of:
                return ""
            raise InputError(f"{SWEEP_NAMES[now.sweep.of].lower()} is running", where="sweep", remedy="End it first")
        if now.run is not None and now.run.running:
            raise InputError("a run is in progress", where="sweep", remedy="Stop the run, then sweep")
        if of == SOURCE:
            self._fit_line("sweep", has_generator=False)
            self._session.start_sweep()
            return "Sweep started"
        build, file = self._desk.built, self._desk.file
        self._fit_line(f"generator-{of}", has_generator=True)
        metadata: Mapping[str, Any] = {"build_file": f"{SHEETS}/{file}"} if file else {}
        self._session.start_sweep(through=of, build=build, metadata=metadata)
        return f"{SWEEP_NAMES[of]} has started"

    def press(self) -> str:
        if is_guiding(self._session.snapshot().sweep):
            self._session.sweep_button()
        return ""

    def redo(self) -> str:
        """Discard the newest point and measure it again."""
        return "Point discarded. Hold to measure it again" if self._session.redo_point() else "No point to redo"

    def stop(self) -> str:
        self._session.stop_sweep()
        return "Sweep ended. Its points are saved"

    def throttle(self) -> SimulatedThrottle | None:
        """The throttle of a simulated rig; None at a real one. Asks the rig, so it is not for every message."""
        truth = simulated_truth(self._session)
        if truth is None:
            return None
        return SimulatedThrottle(float(truth["throttle"]), "phase" in truth, self._session.hand_follows())

    def turn(self, percent: str) -> str:
        """Turn the throttle of a simulated rig to ``percent`` open, as typed or as a slider gives it."""
        try:
            opening = read_number(percent) / 100.0
        except ValueError:
            raise InputError(f"“{percent}” is not a number", where="throttle", remedy="Give 0 to 100 %") from None
        self._session.turn_throttle(opening)
        return ""

    def follow(self) -> str:
        """Let the simulated hand follow the guide again."""
        self._session.turn_throttle(None)
        return "The simulated hand follows the guide"

    def _fit_line(self, scenario: str, *, has_generator: bool) -> None:
        """Fit the end of a simulated line for the sweep; at a real rig a person does it."""
        simulation: Any = getattr(self._session, "simulation", None)
        if simulation is None:
            return
        url = self._session.snapshot().link.port
        fits = scenario_of(url) == scenario if has_generator else "phase" not in simulation.truth()
        if not fits:
            self._session.change_rig(with_scenario(url, scenario))
