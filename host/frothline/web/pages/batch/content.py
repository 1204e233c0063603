"""Content of the batch page."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from frothline.bench import batch_form
from frothline.bench.snapshot import Snapshot
from frothline.run.state import no_foam_reason
from frothline.web.elements import Node, block, in_reader_units
from frothline.web.memo import Memo
from frothline.web.pages.batch import blocks, pours
from frothline.web.services import Services
from frothline.web.viewer import Viewer


class BatchContent:
    """Fills in the batch page."""

    def __init__(self, services: Services) -> None:
        self._runs = services.runs
        self._desk = services.desk
        self._services = services
        self._kept = Memo()
        self._kept_pours = Memo()

    def say(self, now: Snapshot, viewer: Viewer, message: dict[str, Any]) -> None:
        """Fill in the content for this viewer."""
        pieces = {
            "batch": self._batch(now, viewer),
            "batch-pours": self._pours(now, viewer),
            "batch-cautions": in_reader_units(blocks.caution_block(), viewer.system),
        }
        for name, body in pieces.items():
            message["blocks"][name] = block(body, viewer.have.get(name))

    def _pours(self, now: Snapshot, viewer: Viewer) -> Sequence[Node | None]:
        seen = self._services.library.choose("", simulated=now.simulated).look()

        def made() -> Sequence[Node | None]:
            return pours.block(seen, viewer.system)

        return self._kept_pours.once((seen.place, seen.look, viewer.system), made)

    def _batch(self, now: Snapshot, viewer: Viewer) -> Sequence[Node | None]:
        values: Mapping[str, str] = batch_form.typed(viewer.wish)
        dilution = self._desk.built.solution.dilution
        run = now.run
        foam = () if run is None else (run.output.density, run.output.foam_rate, len(run.samples), no_foam_reason(run))
        looked, habits = self._runs.habits()
        key = ("batch", tuple(values.items()), dilution, foam, viewer.system, looked)

        def made() -> Sequence[Node | None]:
            found = batch_form.worked(values, run, dilution, habits, viewer.system)
            return in_reader_units(blocks.block(values, found, dilution, viewer.system), viewer.system)

        return self._kept.once(key, made)


def content(services: Services) -> BatchContent:
    return BatchContent(services)
