"""Content of the run page: answers, alarms, buttons, samples and details."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from frothline.bench.background import Background
from frothline.bench.playback_control import RUN_RECORDING, SAMPLE, why_not_offered
from frothline.bench.run_control import SimulatedFaults
from frothline.bench.sample_timer import OFF
from frothline.bench.snapshot import Snapshot
from frothline.run.state import RunState
from frothline.sentence_units import in_units
from frothline.web import run_summary, side_view
from frothline.web.elements import Node, block, in_reader_units
from frothline.web.memo import Memo
from frothline.web.pages.run import blocks, chart, correction, labels, samples
from frothline.web.services import Services
from frothline.web.texts import sentence
from frothline.web.viewer import Viewer

SIMULATED_AGE = 0.5  # s between two requests for the faults of a simulated rig; an emulated one runs in another process
CHART_EVERY = 4  # messages; the points of a long run are 19 kB
WISH = "sample"  # the viewer setting for the timer in large type


# Blocks with sentences of the watch and of samples, whose figures are written in the reader's units.
WITH_SENTENCES = {"alarms", "run-more", "alarm-log", "sample-results", "timer"}


class RunContent:
    """Fills in the run page."""

    def __init__(self, services: Services) -> None:
        self.runs = services.runs
        self._desk = services.desk
        self._kept = Memo()
        self._simulated: Background[SimulatedFaults | None] = Background(services.runs.simulated, None, SIMULATED_AGE)

    def say(self, now: Snapshot, viewer: Viewer, message: dict[str, Any]) -> None:
        """Fill in the content for this viewer."""
        run, system, timing, taken = now.run, viewer.system, self.runs.timer.look(), self.runs.taken
        simulated = self._simulated.look() if now.simulated else None
        faults = simulated if simulated and simulated.foam else None
        marked, doing = self.runs.false_alarms(run), self._doing()
        message["texts"] |= run_summary.figures(run, system)
        large = timing.step != OFF and viewer.wish.get(WISH) == ("large",)
        message["states"] |= {
            "sample-timer": "large" if large else "off",
            "run": "none" if run is None else "on" if run.running else "ended",
            "run-phase": "alarm" if run_summary.gravest(run) is not None else "",
            "run-chart": "" if run is None or run.course is None else "on",
            "run-faults": "" if faults is None else "on",
        }
        agreement = None if run is None or not run.running else run.agreement
        message["texts"]["run-agreement"] = (
            "" if agreement is None else in_units(agreement.words, system, (self._desk.built.name,))
        )
        side_view.say(run, message)
        if viewer.charts and run is not None and run.course is not None:
            picture = self._chart(run, now, viewer)
            if "figure" in picture or message["number"] % CHART_EVERY == 0:
                message["figures"]["run-chart"] = picture
        build = self._desk.built
        view = self._kept.once(("view", build, system), lambda: side_view.side_view(build, narrow=True, system=system))
        pieces: dict[str, Sequence[Node | None]] = {
            "alarms": blocks.alarm_block(run, marked),
            "run": blocks.button_block(
                run, simulated, doing, marked, again=sentence(why_not_offered(now, RUN_RECORDING))
            ),
            "run-view": [view if run is not None and run.running else None],
            "run-more": blocks.more_block(run, doing, system),
            "alarm-log": blocks.log_block(run, marked),
            "simulated-faults": blocks.fault_block(faults),
            "samples": samples.sample_block(timing, run, sentence(why_not_offered(now, SAMPLE))),
            "sample-results": samples.result_block(taken, system, self.runs.wanted),
            "sample-correction": correction.correction_block(
                taken, viewer.wish, timing, now.time, self.runs.samples.questions, system
            ),
            "timer": samples.timer_block(timing, now.time, taken, system) if large else [None],
        }
        names = (build.name, *(one.kept for one in taken))
        for name, body in pieces.items():
            shown = in_reader_units(body, system, names) if name in WITH_SENTENCES else body
            message["blocks"][name] = block(shown, viewer.have.get(name))

    def _chart(self, run: RunState, now: Snapshot, viewer: Viewer) -> dict[str, Any]:
        """The run over time; the same points for all viewers with the same units."""
        course = run.course
        key = f"{viewer.system}/{viewer.scheme}/{'touch' if viewer.touch else 'pointer'}"
        marks = chart.events(run, now, viewer.system)
        end = float(course.time[-1]) if course is not None and len(course.time) else 0.0
        made = ("chart", run.started, end, len(marks), run.running, viewer.system)
        live = self._kept.once(made, lambda: chart.live(run, marks, viewer.system))
        picture: dict[str, Any] = {"key": key, "live": live, "ranges": chart.ranges(run)}
        if viewer.have.get("run-chart") != key:
            picture["figure"] = chart.figure(viewer.system, viewer.scheme, touch=viewer.touch).to_plotly_json()
        return picture

    def _doing(self) -> str:
        source = labels.NO_SOURCE if self._desk.source is None else labels.SWEPT_SOURCE
        return labels.calculated_with(self._desk.built.name, source)


def content(services: Services) -> RunContent:
    return RunContent(services)
