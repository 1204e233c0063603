"""Sweeps as the pages begin, work and end them; before a simulated rig is swept, the line is made to fit."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any
from urllib.parse import parse_qsl, urlencode, urlsplit

from frothline.errors import InputError
from frothline.rig.simulated.options import read_url
from frothline.rig.simulated.scenarios import SCENARIOS
from frothline.screen.bench_view import Bench
from frothline.screen.guide_view import SWEPT, going_on
from frothline.screen.sheet_desk import SHEETS, Desk

SOURCE = "source"


class SweepDesk:
    """All methods may be called from any thread."""

    def __init__(self, session: Bench, desk: Desk) -> None:
        self._session = session
        self._desk = desk

    def start(self, of: str) -> str:
        """Sweep the source, or the generator of the sheet ``of`` "dry" or "wet". One that goes on already is left
        alone, the page then only shows it in large type; raises InputError where it is another, or a run goes on.
        """
        now = self._session.snapshot()
        if going_on(now.sweep):
            assert now.sweep is not None
            if now.sweep.of == of:
                return ""
            raise InputError(f"{SWEPT[now.sweep.of].lower()} is running", where="sweep", remedy="End it first")
        if now.run is not None and now.run.running:
            raise InputError("a run is going on", where="sweep", remedy="Stop the run, then sweep")
        if of == SOURCE:
            self._fit_line("sweep", has_generator=False)
            self._session.start_sweep()
            return "The sweep has begun"
        build, file = self._desk.built, self._desk.file
        self._fit_line(f"generator-{of}", has_generator=True)
        metadata: Mapping[str, Any] = {"build_file": f"{SHEETS}/{file}"} if file else {}
        self._session.start_sweep(through=of, build=build, metadata=metadata)
        return f"{SWEPT[of]} has begun"

    def press(self) -> str:
        if going_on(self._session.snapshot().sweep):
            self._session.sweep_button()
        return ""

    def stop(self) -> str:
        self._session.stop_sweep()
        return "The sweep has ended; its points stay"

    def _fit_line(self, scenario: str, *, has_generator: bool) -> None:
        """A simulated rig gets the end of its line that is to be swept; at a real one a person does it."""
        simulation: Any = getattr(self._session, "simulation", None)
        if simulation is None:
            return
        url = self._session.snapshot().link.port
        fits = scenario_of(url) == scenario if has_generator else "phase" not in simulation.truth()
        if not fits:
            self._session.change_rig(with_scenario(url, scenario))


def scenario_of(url: str) -> str:
    """Name of the scenario in the URL of a simulated rig; empty for a real one."""
    return read_url(url).scenario if urlsplit(url).scheme in {"modelled", "emulated"} else ""


def with_scenario(url: str, scenario: str) -> str:
    """The URL of the same simulated rig and air source in another scenario. Raises InputError for a real one."""
    parts = urlsplit(url)
    if parts.scheme not in {"modelled", "emulated"}:
        raise InputError("this is a real rig", where=url, remedy="Turn its air on")
    options = read_url(url)
    given = dict(parse_qsl(parts.query))
    given["source"] = options.source or SCENARIOS[options.scenario].source
    return f"{parts.scheme}://{scenario}?{urlencode(given)}"
