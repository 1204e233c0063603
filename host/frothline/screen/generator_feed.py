"""What the generator's page is sent: made once for each answer and look, and again only when one of them changes."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import partial
from typing import TYPE_CHECKING, Any, TypeVar

from frothline.screen import bench_view, figures, generator_view, loads
from frothline.screen.blocks import Node, block
from frothline.screen.figures import Source
from frothline.screen.sheet_desk import Desk, DeskView

if TYPE_CHECKING:
    from frothline.screen.feed import Viewer

NARROW = 180  # columns below which a page is a phone's
KEPT = 40  # pieces that are kept: a few looks of the newest answer
Made = TypeVar("Made")


class Kept:
    """Pieces that were made lately, by what they depend on; the oldest go first."""

    def __init__(self) -> None:
        self._made: dict[Any, Any] = {}

    def once(self, key: Any, make: Callable[[], Made]) -> Made:
        found: Made
        if key in self._made:
            found = self._made[key]
            return found
        found = self._made[key] = make()
        while len(self._made) > KEPT:
            self._made.pop(next(iter(self._made)), None)
        return found


def _made(make: Callable[[], Sequence[Node | None]]) -> dict[str, Any]:
    return block(make())


class GeneratorFeed:
    """For all viewers of one desk."""

    def __init__(self, desk: Desk) -> None:
        self.desk = desk
        self._kept = Kept()

    def say(self, viewer: Viewer, message: dict[str, Any], live: dict[str, Any], reach: Sequence[float]) -> None:
        """Fill in what this viewer's page needs: ``live`` moves the dot, ``reach`` is the largest flow and pressure."""
        desk = self.desk.look()
        narrow, system = viewer.columns < NARROW, viewer.system
        part = "".join(viewer.wish.get("part", ())[:1]) if narrow else ""
        stamp = (desk.form, desk.result, desk.working)
        texts, states = self._kept.once(("figures", stamp, system), lambda: generator_view.figures(desk, system))
        message["texts"] |= texts
        message["states"] |= states | {"desk": "working" if desk.working else "done"}
        pieces: dict[str, tuple[Any, Callable[[], Sequence[Node | None]]]] = {
            "side-view": (narrow, lambda: generator_view.side_view(desk, narrow=narrow)),
            "verdict": (system, lambda: generator_view.verdict_block(desk, system)),
            "sheet-head": (system, lambda: generator_view.head_block(desk, system)),
            "sheet-form": ((narrow, part), lambda: generator_view.sheet_block(desk, narrow=narrow, part=part)),
            "sheet-keep": ("", lambda: generator_view.keep_block(desk)),
            "sheet-source": ("", lambda: generator_view.source_block(desk)),
            "measured": ("", lambda: generator_view.measured_block(desk)),
            "sizes": (system, lambda: generator_view.size_block(desk, system)),
            "cautions": ("", lambda: generator_view.caution_block(desk)),
        }
        for name, (look, make) in pieces.items():
            whole = self._kept.once((name, stamp, look), partial(_made, make))
            known = viewer.have.get(name) == whole["key"]
            message["blocks"][name] = {"key": whole["key"]} if known else whole
        self._plane(desk, viewer, message["figures"], live, reach)

    def _plane(
        self, desk: DeskView, viewer: Viewer, into: dict[str, Any], live: dict[str, Any], reach: Sequence[float]
    ) -> None:
        answer, system, narrow = desk.answer, viewer.system, viewer.columns < NARROW
        fit = None if answer is None else answer.given.source
        key = f"{system}/{viewer.scheme}/{viewer.touch}/{narrow}/{desk.result}"
        source = self._kept.once(("source", id(fit), desk.result), lambda: Source((), bench_view.curve_of(fit)))
        flow, pressure = (0.0, 0.0) if answer is None else loads.reach(answer)
        x, y = figures.plane_limits(source, max(reach[0], flow), max(reach[1], pressure), system)
        into["meeting"] = {"key": key, "live": live, "ranges": {"xaxis": x, "yaxis": y}}
        if viewer.have.get("meeting") != key:
            over = [] if answer is None else loads.traces(answer, system, viewer.scheme)
            drawn = figures.plane(source, system, viewer.scheme, touch=viewer.touch, narrow=narrow, over=over)
            if narrow:  # the lines of the generator need more room under the axis
                drawn.update_layout(margin_b=200)
            into["meeting"]["figure"] = drawn.to_plotly_json()
