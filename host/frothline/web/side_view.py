"""Marks of run alarms on the side view of the build, at the affected part with a word.

The drawing contains all marks, hidden. Each message only gives the visible marks and their words, so that the drawing
is not sent again for an alarm.
"""

from __future__ import annotations

from typing import Any

from frothline.generator.build import Build
from frothline.generator.drawing import anchors, draw
from frothline.generator.drawing_words import describe
from frothline.run.state import RunState
from frothline.run.watch.alarm_kinds import KINDS, NOTICE, PARTS
from frothline.web.elements import Node, drawing

WIDE, NARROW = 1208.0, 560.0  # px, in the coordinates of the drawing
ROW = 30.0  # px of a row of words above the drawing
# Parts close together share one position for their words, so that they do not overlap.
WORDS_OF = (("connection", "joint"), ("packing", "outlet"), ("holes",), ("reservoir",))
MIDDLE = ("holes", "reservoir")
ALOUD = {
    "connection": "at the air connection",
    "joint": "at the joint of the hose",
    "holes": "at the holes of the diffusion tube",
    "reservoir": "at the reservoir",
    "packing": "at the packing",
    "outlet": "at the outlet",
}
OR_HERE = "or here"
ALL = "side-view-faults"  # the same in one sentence, for screen readers


def side_view(build: Build, *, narrow: bool, over: str = "", system: str = "metric", **more: Any) -> Node:
    """The drawing of a build with all marks hidden. ``over`` : further SVG above it. ``more``
    is passed to ``draw``.
    """
    width = NARROW if narrow else WIDE
    rows = 2 if narrow else 1  # if room is short, the words of the middle parts have their own row
    return drawing(
        draw(build, width=width, over=over + _marks(build, width, rows), above=ROW * rows, system=system, **more),
        describe(build, system),
    )


def _marks(build: Build, width: float, rows: int) -> str:
    made = []
    for part, at in anchors(build, width).items():
        row = rows if part in MIDDLE else 1
        foot = -ROW * (row - 1) - 7  # the words are on it
        anchor = "start" if at.x < 0.3 * width else "end" if at.x > 0.7 * width else "middle"
        if rows > 1 and part in MIDDLE:  # back to back
            anchor = "end" if part == "holes" and at.x > 0.18 * width else "start" if at.x < 0.65 * width else "end"
        x = at.x + {"start": -8, "middle": 0, "end": 8}[anchor]
        cross = f"M{at.x - 11:.1f} {at.y - 11:.1f}l22 22m0 -22l-22 22"
        made.append(
            f'<g class="fl-fault" data-state="part-{part}"><path class="halo" d="{cross}"/>'
            f'<path class="lead" d="M{at.x:.1f} {foot + 5:.1f}V{at.y - 14:.1f}"/><path class="cross" d="{cross}"/>'
            f'<text x="{x:.1f}" y="{foot:.1f}" text-anchor="{anchor}" data-live="part-{part}"></text></g>'
        )
    return "".join(made)


def words(run: RunState | None) -> tuple[dict[str, str], dict[str, str]]:
    """``(texts, states)`` of the marks, by the keys in the drawing."""
    found: dict[str, list[str]] = {part: [] for part in PARTS}
    aloud: list[str] = []
    for alarm in run.alarms if run is not None and run.running else ():
        kind = KINDS.get(alarm.code)
        if kind is None or alarm.severity == NOTICE or not alarm.active:
            continue
        for number, part in enumerate(kind.parts):
            found[part].append((alarm.mark or kind.mark) if number == 0 else OR_HERE)
        if kind.parts:
            aloud.append(f"{alarm.title} {' or '.join(ALOUD[part] for part in kind.parts)}")
    texts = {f"part-{part}": "" for part in PARTS} | {ALL: "; ".join(aloud)}
    for group in WORDS_OF:
        lit = [part for part in group if found[part]]
        if lit:
            said = dict.fromkeys(word for part in lit for word in found[part])
            texts[f"part-{lit[0]}"] = ", ".join(said)
    return texts, {f"part-{part}": "alarm" if said else "" for part, said in found.items()}


def say(run: RunState | None, message: dict[str, Any]) -> None:
    """Put the marks into a message to a page with the side view."""
    texts, states = words(run)
    message["texts"] |= texts
    message["states"] |= states
