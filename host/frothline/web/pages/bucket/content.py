"""Content of the bucket page: run, samples and batch."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from frothline.bench import batch_form
from frothline.bench.background import Background
from frothline.bench.run_control import SimulatedFaults
from frothline.bench.sample_timer import OFF
from frothline.bench.snapshot import Snapshot
from frothline.run.state import no_foam_reason
from frothline.web import run_summary, side_view
from frothline.web.elements import Node, block
from frothline.web.memo import Memo
from frothline.web.pages.bucket import batch as bucket_batch
from frothline.web.pages.bucket import run as bucket_run
from frothline.web.pages.bucket import samples as bucket_samples
from frothline.web.services import Services
from frothline.web.viewer import Viewer

SIMULATED_AGE = 0.5  # s between two requests for the faults of a simulated rig; an emulated one runs in another process
WISH = "sample"  # the viewer setting for the timer in large type


class BucketContent:
    """Fills in the bucket page."""

    def __init__(self, services: Services) -> None:
        self.runs = services.runs
        self._desk = services.desk
        self._kept = Memo()
        self._simulated: Background[SimulatedFaults | None] = Background(services.runs.simulated, None, SIMULATED_AGE)

    def say(self, now: Snapshot, viewer: Viewer, message: dict[str, Any]) -> None:
        """Fill in the content for this viewer."""
        run, system, timing, taken = now.run, viewer.system, self.runs.timer.look(), self.runs.taken
        simulated = self._simulated.look() if now.simulated else None
        message["texts"] |= run_summary.figures(run, system)
        large = timing.step != OFF and viewer.wish.get(WISH) == ("large",)
        message["states"] |= {
            "sample-timer": "large" if large else "off",
            "run": "none" if run is None else "on" if run.running else "ended",
            "run-phase": "alarm" if run_summary.gravest(run) is not None else "",
        }
        side_view.say(run, message)
        build = self._desk.built
        view = self._kept.once(("view", build), lambda: side_view.side_view(build, narrow=True))
        pieces: dict[str, Sequence[Node | None]] = {
            "alarms": bucket_run.alarm_block(run),
            "run": bucket_run.run_block(run, simulated, self._doing()),
            "run-view": [view if run is not None and run.running else None],
            "run-more": bucket_run.more_block(run, system),
            "alarm-log": bucket_run.log_block(run),
            "simulated-faults": bucket_run.fault_block(simulated if simulated and simulated.foam else None),
            "samples": bucket_samples.sample_block(timing, run),
            "sample-results": bucket_samples.result_block(taken, system, self.runs.wanted),
            "timer": bucket_samples.timer_block(timing, now.time, taken, system) if large else [None],
            "batch": self._batch(now, viewer),
        }
        for name, body in pieces.items():
            message["blocks"][name] = block(body, viewer.have.get(name))

    def _doing(self) -> str:
        build = self._desk.built.name
        source = "no air source was swept yet" if self._desk.source is None else "the air source as it was swept"
        return f"Generator: {build}. Reckoned with: {source}."

    def _batch(self, now: Snapshot, viewer: Viewer) -> Sequence[Node | None]:
        values: Mapping[str, str] = batch_form.typed(viewer.wish)
        dilution = self._desk.built.solution.dilution
        run = now.run
        foam = () if run is None else (run.output.density, run.output.foam_rate, len(run.samples), no_foam_reason(run))
        looked, habits = self.runs.habits()
        key = ("batch", tuple(values.items()), dilution, foam, viewer.system, looked)

        def made() -> Sequence[Node | None]:
            found = batch_form.worked(values, run, dilution, habits)
            return bucket_batch.block(values, found, dilution, viewer.system)

        return self._kept.once(key, made)


def content(services: Services) -> BucketContent:
    return BucketContent(services)
