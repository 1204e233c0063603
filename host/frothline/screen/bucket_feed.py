"""What the bucket's page is sent, and what of a run every page shows: its figures on the line, its alarms in place."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

from frothline.bench.state import Snapshot
from frothline.screen import batch_view, bucket_view, fault_marks
from frothline.screen.bench_view import Fault
from frothline.screen.blocks import Node, block
from frothline.screen.generator_feed import Kept
from frothline.screen.run_desk import RunDesk, Simulated
from frothline.screen.sample_timer import OFF
from frothline.screen.sheet_desk import Desk
from frothline.screen.slow import Slow

if TYPE_CHECKING:
    from frothline.screen.feed import Viewer

SIMULATED_AGE = 0.5  # s between two looks at what a simulated rig can do; an emulated one lives in another process
WISH = "sample"  # a viewer's wish to see the timer in large type


class BucketFeed:
    """For all viewers of one run."""

    def __init__(self, runs: RunDesk, desk: Desk) -> None:
        self.runs = runs
        self._desk = desk
        self._kept = Kept()
        self._simulated: Slow[Simulated | None] = Slow(runs.simulated, None, SIMULATED_AGE)

    def everywhere(self, now: Snapshot, viewer: Viewer) -> tuple[dict[str, str], tuple[Fault, ...]]:
        """``(texts, faults)`` that every page's line shows of the run."""
        texts = bucket_view.line_texts(now.run, viewer.system) | bucket_view.over_everything(now)
        return texts, bucket_view.faults(now.run)

    def say(self, now: Snapshot, viewer: Viewer, message: dict[str, Any]) -> None:
        """Fill in what this viewer's page needs."""
        run, system, timing, taken = now.run, viewer.system, self.runs.timer.look(), self.runs.taken
        simulated = self._simulated.look() if now.simulated else None
        message["texts"] |= bucket_view.figures(run, system)
        large = timing.step != OFF and viewer.wish.get(WISH) == ("large",)
        message["states"] |= {
            "sample-timer": "large" if large else "off",
            "run": "none" if run is None else "on" if run.running else "ended",
            "run-phase": "alarm" if bucket_view.gravest(run) is not None else "",
        }
        fault_marks.say(run, message)
        build = self._desk.built
        view = self._kept.once(("view", build), lambda: fault_marks.side_view(build, narrow=True))
        pieces: dict[str, Sequence[Node | None]] = {
            "alarms": bucket_view.alarm_block(run),
            "run": bucket_view.run_block(run, simulated, self._doing()),
            "run-view": [view if run is not None and run.running else None],
            "run-more": bucket_view.more_block(run, system),
            "alarm-log": bucket_view.log_block(run),
            "simulated-faults": bucket_view.fault_block(simulated if simulated and simulated.foam else None),
            "samples": bucket_view.sample_block(timing, run),
            "sample-results": bucket_view.result_block(taken, system, self.runs.wanted),
            "timer": bucket_view.timer_block(timing, now.time, taken, system) if large else [None],
            "batch": self._batch(now, viewer),
        }
        for name, body in pieces.items():
            message["blocks"][name] = block(body, viewer.have.get(name))

    def _doing(self) -> str:
        build = self._desk.built.name
        source = "no air source was swept yet" if self._desk.source is None else "the air source as it was swept"
        return f"Generator: {build}. Reckoned with: {source}."

    def _batch(self, now: Snapshot, viewer: Viewer) -> Sequence[Node | None]:
        values: Mapping[str, str] = batch_view.typed(viewer.wish)
        dilution = self._desk.built.solution.dilution
        run = now.run
        foam = (
            ()
            if run is None
            else (run.output.density, run.output.foam_rate, len(run.samples), bucket_view.no_foam(run))
        )
        looked, habits = self.runs.habits()
        key = ("batch", tuple(values.items()), dilution, foam, viewer.system, looked)

        def made() -> Sequence[Node | None]:
            found = batch_view.worked(values, run, dilution, habits)
            return batch_view.block(values, found, dilution, viewer.system)

        return self._kept.once(key, made)
