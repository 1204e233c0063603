"""Content of the batch page."""

from __future__ import annotations

import threading
from collections.abc import Mapping, Sequence
from typing import Any

from frothline.bench import batch_form, pour_plan_form
from frothline.bench.background import Background, BackgroundAnswers
from frothline.bench.library import OWN
from frothline.bench.pour_planning import WorkedPlan
from frothline.bench.snapshot import Snapshot
from frothline.errors import FrothlineError
from frothline.pours.prices import FILE, Prices, read_prices
from frothline.run.state import no_foam_reason
from frothline.web.elements import Node, block, in_reader_units
from frothline.web.memo import Memo
from frothline.web.pages.batch import blocks, cube_rows, cubes, jars, plan, pours, record
from frothline.web.services import Services
from frothline.web.viewer import Viewer

_Planned = tuple[Sequence[Node | None], WorkedPlan | None]
PRICES_AGE = 5.0  # s between two looks at the price file
MOST_PAGES = 50  # open pages whose last plan is shown while the next one is calculated


class BatchContent:
    """Fills in the batch page."""

    def __init__(self, services: Services) -> None:
        self._runs = services.runs
        self._desk = services.desk
        self._services = services
        self._kept = Memo()
        self._kept_pours = Memo()
        self._kept_plan = Memo()
        self._kept_jar = Memo()
        self._kept_cubes = Memo()
        self._kept_rows = Memo()
        self._kept_record = Memo()
        self._answers = BackgroundAnswers()
        self._lock = threading.Lock()
        self._last: dict[str, WorkedPlan] = {}
        self._prices: Background[Prices | None] = Background(self._read_prices, None, PRICES_AGE, clock=services.clock)

    def say(self, now: Snapshot, viewer: Viewer, message: dict[str, Any]) -> None:
        """Fill in the content for this viewer."""
        plan_block, found = self._plan(now, viewer, message)
        pieces = {
            "batch": (made := self._batch(now, viewer))[0],
            "batch-plan": plan_block,
            "batch-record": self._record(found, viewer),
            "batch-pours": self._pours(now, viewer),
            "batch-cubes": self._cubes(viewer),
            "batch-cube-rows": self._cube_rows(viewer),
            "batch-jar": self._jar(viewer),
            "batch-cautions": made[1],
        }
        for name, body in pieces.items():
            message["blocks"][name] = block(body, viewer.have.get(name))

    def _pours(self, now: Snapshot, viewer: Viewer) -> Sequence[Node | None]:
        seen = self._services.library.choose("", simulated=now.simulated).look()

        def made() -> Sequence[Node | None]:
            return pours.block(seen, viewer.system)

        return self._kept_pours.once((seen.place, seen.look, viewer.system), made)

    def _cubes(self, viewer: Viewer) -> Sequence[Node | None]:
        seen = self._services.library.places[OWN].look()
        key = (seen.look, cubes.typed(viewer.wish), viewer.system)
        records = () if seen.pours is None else tuple(one.record for one in reversed(seen.pours.pours))
        return self._kept_cubes.once(key, lambda: cubes.block(viewer.wish, records, viewer.system))

    def _cube_rows(self, viewer: Viewer) -> Sequence[Node | None]:
        seen = self._services.library.places[OWN].look()
        key = (seen.look, cube_rows.typed(viewer.wish), viewer.system)
        records = () if seen.pours is None else tuple(one.record for one in reversed(seen.pours.pours))
        return self._kept_rows.once(key, lambda: cube_rows.block(viewer.wish, records, viewer.system))

    def _jar(self, viewer: Viewer) -> Sequence[Node | None]:
        seen = self._services.library.places[OWN].look()
        key = (seen.look, jars.typed(viewer.wish), viewer.system)
        trials = [(one.name, one.title) for one in reversed(seen.trials)]
        records = () if seen.pours is None else tuple(one.record for one in seen.pours.jars)
        return self._kept_jar.once(key, lambda: jars.block(viewer.wish, records, trials, viewer.system))

    def _read_prices(self) -> Prices | None:
        """The price file in the folder of the recordings; None without one."""
        path = self._services.snapshot().folder / FILE
        if not path.is_file():
            return None
        try:
            return read_prices(path)
        except FrothlineError as error:
            return Prices(problems=(str(error),))

    def _plan(self, now: Snapshot, viewer: Viewer, message: dict[str, Any]) -> _Planned:
        """The block of the pour plan, and the plan."""
        typed = pour_plan_form.typed_plan(viewer.wish)
        dilution, run, prices = self._desk.built.solution.dilution, now.run, self._prices.look()
        foam = () if run is None else (run.output.density, run.output.foam_rate, len(run.samples), no_foam_reason(run))
        looked, habits = self._runs.habits()
        key = (tuple(typed.items()), dilution, foam, looked, viewer.system, repr(prices))

        def work() -> WorkedPlan:
            return pour_plan_form.worked_plan(
                typed, run, dilution, habits, viewer.system, prices, simulated=now.simulated
            )

        answer = self._answers.look(key, work)
        if answer.value is not None:
            with self._lock:
                self._last[viewer.name] = answer.value
                while len(self._last) > MOST_PAGES:
                    self._last.pop(next(iter(self._last)))
        found = self._last.get(viewer.name) if answer.working else answer.value
        message["texts"]["part-pour-plan"] = plan.state(found)
        shown = self._kept_plan.once(("plan", key, id(found)), lambda: plan.block(typed, found, viewer.system))
        return shown, found

    def _record(self, found: WorkedPlan | None, viewer: Viewer) -> Sequence[Node | None]:
        of_plan = None if found is None else found.plan
        seen = self._services.library.places[OWN].look()
        trials = [(one.name, one.title) for one in reversed(seen.trials)]
        key = (id(of_plan), record.typed(viewer.wish), viewer.system, seen.look)
        pours = () if seen.pours is None else tuple(one.record for one in reversed(seen.pours.pours))
        return self._kept_record.once(key, lambda: record.block(viewer.wish, of_plan, viewer.system, trials, pours))

    def _batch(self, now: Snapshot, viewer: Viewer) -> tuple[Sequence[Node | None], Sequence[Node | None]]:
        """The block of the batch, and its cautions."""
        values: Mapping[str, str] = batch_form.typed(viewer.wish)
        dilution = self._desk.built.solution.dilution
        run = now.run
        foam = () if run is None else (run.output.density, run.output.foam_rate, len(run.samples), no_foam_reason(run))
        looked, habits = self._runs.habits()
        key = ("batch", tuple(values.items()), dilution, foam, viewer.system, looked)

        def made() -> tuple[Sequence[Node | None], Sequence[Node | None]]:
            found = batch_form.worked(values, run, dilution, habits, viewer.system)
            shown = blocks.block(values, found, dilution, viewer.system)
            cautions = blocks.caution_block(found.batch)
            return in_reader_units(shown, viewer.system), in_reader_units(cautions, viewer.system)

        return self._kept.once(key, made)


def content(services: Services) -> BatchContent:
    return BatchContent(services)
