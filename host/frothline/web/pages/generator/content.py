"""Content of the generator page, cached until the evaluation or the viewer's settings change."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import partial
from typing import Any

from frothline.bench.playback_control import replayed
from frothline.bench.snapshot import Snapshot
from frothline.bench.workspace_state import WorkspaceState
from frothline.sentence_units import in_units
from frothline.web import side_view, trail
from frothline.web.charts import pressure_flow
from frothline.web.charts.pressure_flow import SourceDrawing
from frothline.web.elements import Node, block, in_reader_units
from frothline.web.memo import Memo, _made
from frothline.web.pages.generator import chart as generator_chart
from frothline.web.pages.generator import form as generator_form
from frothline.web.pages.generator import labels
from frothline.web.pages.generator import results as generator_results
from frothline.web.pages.generator.handles import slider_block
from frothline.web.pages.sweep import content as sweep_content
from frothline.web.services import Services
from frothline.web.viewer import NARROW, Viewer

# Blocks with sentences of the calculation, whose figures are written in the reader's units.
WITH_SENTENCES = {"verdict", "sheet-form", "measured", "sizes", "stops", "cautions"}


def _in_units(make: Callable[[], Sequence[Node | None]], system: str) -> list[Node | None]:
    return in_reader_units(make(), system)


class GeneratorContent:
    """Fills in the generator page."""

    def __init__(self, services: Services) -> None:
        self._services = services
        self.desk = services.desk
        self._kept = Memo()

    def say(self, now: Snapshot, viewer: Viewer, message: dict[str, Any]) -> None:
        """Fill in figures, form, blocks and chart, and mark the part with an alarm of a run."""
        message["blocks"]["through"] = block(sweep_content.through_pieces(now), viewer.have.get("through"))
        side_view.say(now.run, message)
        desk, replay = self.desk.look(), replayed(now)
        narrow, system = viewer.columns < NARROW, viewer.system
        stamp = (desk.form, desk.result, desk.working)
        texts, states = self._kept.once(
            ("figures", stamp, system, replay), lambda: generator_results.figures(desk, system, replay=replay)
        )
        message["texts"] |= {key: in_units(text, system) for key, text in texts.items()}
        heads, marks = self._kept.once(("briefs", stamp), lambda: generator_form.briefs(desk))
        message["texts"] |= heads | {"safety-brief": generator_results.safety_brief(desk, system)}
        message["states"] |= marks
        message["texts"]["sheet-shared"] = self._services.shared_edits.words(viewer.name)
        message["states"] |= states | {"desk": "working" if desk.working else "done"}
        pieces: dict[str, tuple[Any, Callable[[], Sequence[Node | None]]]] = {
            "side-view": ((narrow, system), lambda: generator_results.side_view(desk, narrow=narrow, system=system)),
            "sliders": (system, lambda: slider_block(desk, system)),
            "verdict": (system, lambda: generator_results.verdict_block(desk, system)),
            "sheet-head": (system, lambda: generator_results.head_block(desk, system)),
            "sheet-form": (system, lambda: generator_form.sheet_block(desk, system)),
            "sheet-keep": ("", lambda: generator_form.keep_block(desk)),
            "sheet-source": ("", lambda: generator_form.source_block(desk)),
            "measured": (replay, lambda: generator_form.measured_block(desk, replay=replay)),
            "sizes": (system, lambda: generator_form.size_block(desk, system)),
            "stops": ("", lambda: generator_results.stop_block(desk)),
            "cautions": (system, lambda: generator_results.caution_block(desk)),
        }
        for name, (look, make) in pieces.items():
            written = partial(_in_units, make, system) if name in WITH_SENTENCES else make
            whole = self._kept.once((name, stamp, look, system), partial(_made, written))
            known = viewer.have.get(name) == whole["key"]
            message["blocks"][name] = {"key": whole["key"]} if known else whole
        if viewer.charts:
            live = self._services.live_dot(now, viewer)
            self._plane(desk, viewer, message["figures"], live, self._services.reach.look(), replay=replay)

    def _plane(
        self,
        desk: WorkspaceState,
        viewer: Viewer,
        into: dict[str, Any],
        live: dict[str, Any],
        reach: Sequence[float],
        *,
        replay: bool,
    ) -> None:
        answer, system, narrow = desk.answer, viewer.system, viewer.columns < NARROW
        fit = None if answer is None else answer.given.source
        key = f"{system}/{viewer.scheme}/{viewer.touch}/{narrow}/{desk.result}/{replay}"
        source = self._kept.once(("source", id(fit), desk.result), lambda: SourceDrawing((), trail.curve_of(fit)))
        flow, pressure = (0.0, 0.0) if answer is None else generator_chart.reach(answer)
        x, y = pressure_flow.plane_limits(source, max(reach[0], flow), max(reach[1], pressure), system)
        into["meeting"] = {"key": key, "live": live, "ranges": {"xaxis": x, "yaxis": y}}
        if viewer.have.get("meeting") != key:
            over = [] if answer is None else generator_chart.traces(answer, system, viewer.scheme)
            drawn = pressure_flow.plane(
                source,
                system,
                viewer.scheme,
                touch=viewer.touch,
                narrow=narrow,
                over=over,
                empty="" if over or fit is not None else labels.NO_CURVE_IN_REPLAY if replay else labels.NO_CURVE,
            )
            if narrow:  # the legend of the generator's lines needs more room below the axis
                drawn.update_layout(margin_b=170)
            into["meeting"]["figure"] = drawn.to_plotly_json()


def content(services: Services) -> GeneratorContent:
    return GeneratorContent(services)
