"""The side view of a build, to scale, as SVG, so that a wrong dimension is visible.

Every part with a size in the sheet is drawn to one scale; hoses are broken off. Lines have the current text colour, so
that the drawing suits paper and a dark page. Groups have the key of their element (``data-element``) and a class, by
which a page marks a changed part. Dimension lines have their own class (``fl-d``), for pages without room for them.
``anchors`` gives the positions of the parts, so that a page can put marks over the drawing without drawing it again.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from html import escape
from math import cos, pi, sin

from frothline.generator.build import Build
from frothline.generator.drawing_words import bore_text, describe, length_text, packing_words
from frothline.generator.pressure_model import PressureShare
from frothline.rounding import counted
from frothline.units import INCH, entry_unit

_STUB = 0.09  # of the drawing's width: length of a broken-off hose
_MOST_HOLES = 120  # drawn in a row; more would merge to a line
_MOST_SCREENS = 60
_TALL = 0.4  # of the drawing's width: for a body wider than long, the bore sets the scale
_LETTER = 7.2  # px: mean width of a character, plus a margin
_APART = 12.0  # px between two adjacent words
_ROW = 16.0  # px from one line of words to the next
_STYLE = (
    ".fl-i{fill:none;stroke:currentColor;stroke-width:1.6}"
    ".fl-t{fill:none;stroke:currentColor;stroke-width:.8}"
    ".fl-w{fill:currentColor;fill-opacity:.13;stroke:none}"
    ".fl-h{fill:currentColor;stroke:none}"
    ".fl-n{fill:currentColor;font:12px system-ui,sans-serif;font-variant-numeric:tabular-nums}"
    ".fl-changed .fl-i{stroke-width:3}.fl-changed text{font-weight:700}"
)


class _Side:
    """Layout of the drawing: x along the air, y down, in px."""

    def __init__(self, build: Build, width: float, system: str = "metric") -> None:
        b = build
        self.system = system
        cone = b.outlet.length if b.outlet.shape == "cone" else 0.0
        whole = b.body.length + cone
        self.scale = min((width - 2 * _STUB * width - 20) / whole, _TALL * width / b.body.bore)
        self.stub = (width - 20 - whole * self.scale) / 2
        self.tall = b.body.bore * self.scale
        self.axis = 46 + self.tall / 2
        self.left = 10 + self.stub
        self.right = self.left + b.body.length * self.scale
        self.tip = self.right + cone * self.scale
        self.end = self.tip + self.stub
        self.bottom = self.axis + self.tall / 2
        self.words, rows = _place_words(b, self)
        self.shares = self.bottom + 26 + _ROW * rows  # position of the pressure drops
        self.height = self.shares + 28 + 24

    def row(self, number: int) -> float:
        """Height (y) of a line of words below the drawing."""
        return self.bottom + 20 + _ROW * number


@dataclass(frozen=True)
class _Words:
    """A text below the drawing: x of its left end, and its line."""

    x: float
    row: int
    text: str

    @property
    def end(self) -> float:
        return self.x + _LETTER * len(self.text)


def _place_words(b: Build, at: _Side) -> tuple[dict[str, _Words], int]:
    """Positions of the words below the drawing without overlap, and their number of lines."""
    t = b.tube
    hose = length_text(b.hose.length, at.system) if b.hose.length > 0 else "no hose"
    inner = t.bore if b.hose.length <= 0 else b.hose.bore
    sunk = "" if t.countersunk == "no" else f", countersunk {t.countersunk}"
    middle = at.left + max(t.length * at.scale / 2, 60)
    wanted = [
        ("hose", hose, at.left - at.stub, "start", 0),
        ("hose bore", f"⌀ {length_text(inner, at.system)}", at.left - at.stub, "start", 1),
        ("holes", f"{counted(t.holes, 'hole')} {length_text(t.hole, at.system)}{sunk}", middle, "middle", 0),
        ("tube", f"{bore_text(t.bore, at.system)}, {t.under_liquid} under liquid", middle, "middle", 1),
        ("outlet", bore_text(b.outlet.bore, at.system), at.end, "end", 1),
    ]
    if b.packing.kind != "none":
        wide = max(b.packing.length * at.scale, 6.0)
        wanted.append(("packing", packing_words(b, at.system), at.right - max(wide / 2, 40), "middle", 0))
    placed: dict[str, _Words] = {}
    for name, text, x, anchor, row in wanted:
        wide = _LETTER * len(text)
        left = x - {"start": 0.0, "middle": wide / 2, "end": wide}[anchor]
        left = max(min(left, at.end - wide), at.left - at.stub)
        if name in ("holes", "tube"):  # a small shift is preferred to a further line
            left = max(left, max(one.end for one in placed.values() if one.row == row) + _APART)
        while any(
            one.row == row and left < one.end + _APART and one.x < left + wide + _APART for one in placed.values()
        ):
            row += 1  # noqa: PLW2901  the line it is on in the end
        placed[name] = _Words(left, row, text)
    return placed, max(one.row for one in placed.values()) + 1


@dataclass(frozen=True)
class Anchor:
    """Position of a part on the drawing: its middle, px in the drawing's coordinates (x along the air, y down)."""

    x: float
    y: float


def anchors(build: Build, width: float = 900.0) -> dict[str, Anchor]:
    """Positions of the marks of each of ``alarm_kinds.PARTS`` on a drawing of this ``width``.

    The reservoir is not drawn; its mark is at the solution at the bottom of the body, before the packing.
    """
    at = _Side(build, width)
    packing = max(build.packing.length * at.scale, 6.0) if build.packing.kind != "none" else 0.0
    tube = build.tube.length * at.scale
    room = at.right - packing - (at.left + tube)  # between tube and packing
    liquid = at.left + tube + room / 2 if room > at.tall / 3 else at.left + 0.8 * tube
    return {
        "connection": Anchor(at.left - 0.85 * at.stub, at.axis),
        "joint": Anchor(at.left, at.axis),
        "holes": Anchor(at.left + tube / 2, at.axis),
        "reservoir": Anchor(liquid, at.bottom - at.tall / 5),
        "packing": Anchor(at.right - packing / 2, at.axis),
        "outlet": Anchor((at.tip + at.end) / 2, at.axis),
    }


@dataclass(frozen=True)
class Handle:
    """Where a size is dragged: px on the drawing, "x" (leftwards) or "y" (upwards), and px per metre of the size."""

    x: float
    y: float
    along: str
    per_metre: float


def handles(build: Build, width: float = 900.0) -> dict[str, Handle]:
    """Points where outlet and packing can be dragged, by the path of their entry."""
    at = _Side(build, width)
    half = 0.5 * at.scale
    found = {"outlet.bore": Handle(at.tip + 0.35 * at.stub, at.axis - half * build.outlet.bore, "y", half)}
    if build.packing.kind != "none":
        found["packing.length"] = Handle(at.right - build.packing.length * at.scale, at.axis, "x", at.scale)
    return found


def draw(
    build: Build,
    *,
    shares: Sequence[PressureShare] = (),
    changed: Collection[str] = (),
    width: float = 900.0,
    over: str = "",
    above: float = 0.0,
    system: str = "metric",
) -> str:
    """The side view as a complete SVG element.

    ``shares`` : pressure drop of each element, written below it
    ``changed`` : paths like "outlet.bore" or parts like
    "outlet" marked as changed
    ``width`` : px, in the drawing's coordinates (it scales with the page)
    ``over`` : SVG drawn above the drawing, in its coordinates
    ``above`` : px left free for it at the top
    ``system`` : units of the words on it
    """
    at = _Side(build, width, system)
    marks = {path.partition(".")[0] for path in changed}
    share_of = {share.key: share for share in shares}
    parts = (
        ("hose", "hose", _hose(build, at), ("fittings", "hose")),
        ("body", "body", _body(build, at), ()),
        ("tube", "holes", _tube(build, at), ("holes", "head", "entry")),
        ("packing", "packing", _packing(build, at), ("packing", "pores")),
        ("outlet", "outlet", _outlet(build, at), ("outlet",)),
    )
    places = {
        "hose": at.left - at.stub / 2,
        "tube": at.left + max(build.tube.length * at.scale / 2, 60),
        "packing": at.right - max(build.packing.length * at.scale / 2, 40),
        "outlet": (at.tip + at.end) / 2,
    }
    groups = []
    pressure = entry_unit("pressure", system)
    for part, element, content, keys in parts:
        known = [share_of[key] for key in keys if key in share_of]
        text = ""
        if known and part in places:
            taken, share = sum(s.pressure.value for s in known), sum(s.share for s in known)
            text = _text(places[part], at.shares, f"{pressure.from_si(taken):.2g} {pressure.symbol}", "middle")
            text += _text(places[part], at.shares + _ROW, f"{100 * share:.0f} %", "middle")
        mark = " fl-changed" if part in marks else ""
        groups.append(f'<g class="fl-{part}{mark}" data-element="{element}">{content}{text}</g>')
    title = f"{build.name}: side view to scale"
    box = f"0 {0 - above:.0f} {width:.0f} {at.height + above:.0f}"
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="{box}" role="img" '
        f'aria-label="{escape(title)}"><title>{escape(title)}</title><desc>{escape(describe(build, system))}</desc>'
        f"<style>{_STYLE}</style>{''.join(groups)}{_bar(at)}{over}</svg>"
    )


def _hose(b: Build, at: _Side) -> str:
    inner = b.tube.bore if b.hose.length <= 0 else b.hose.bore
    half = min(inner * at.scale, at.tall) / 2
    y0, y1 = at.axis - half, at.axis + half
    x0, x1 = at.left - at.stub, at.left
    if b.hose.kind == "corrugated" and b.hose.length > 0:
        step = max(b.hose.pitch * at.scale, 3.0)
        n = max(int((x1 - x0) / step), 1)
        run = "".join(f"q{step / 2:.1f} -4 {step:.1f} 0" for _ in range(n))
        below = "".join(f"q{step / 2:.1f} 4 {step:.1f} 0" for _ in range(n))
        lines = f'<path class="fl-i" d="M{x0:.1f} {y0:.1f}{run}M{x0:.1f} {y1:.1f}{below}"/>'
    else:
        lines = f'<path class="fl-i" d="M{x0:.1f} {y0:.1f}H{x1:.1f}M{x0:.1f} {y1:.1f}H{x1:.1f}"/>'
    arrow = f'<path class="fl-t" d="M{x0 + 8:.1f} {at.axis:.1f}h{at.stub * 0.5:.1f}m-7 -4l7 4l-7 4"/>'
    label = _said(at, "hose") + _said(at, "hose bore")
    return _break(x0, y0, y1) + lines + arrow + label


def _body(b: Build, at: _Side) -> str:
    y0, y1 = at.axis - at.tall / 2, at.bottom
    text = f"{length_text(b.body.length, at.system)} long, {bore_text(b.body.bore, at.system)}"
    return (
        f'<path class="fl-i" d="M{at.left:.1f} {y0:.1f}H{at.right:.1f}M{at.left:.1f} {y1:.1f}H{at.right:.1f}'
        f'M{at.left:.1f} {y0:.1f}V{y1:.1f}"/>'
        f'<path class="fl-t fl-d" d="M{at.left:.1f} {y0 - 12:.1f}H{at.right:.1f}m0 -4v8'
        f'M{at.left:.1f} {y0 - 16:.1f}v8"/>' + _text((at.left + at.right) / 2, y0 - 18, text, "middle")
    )


def _tube(b: Build, at: _Side) -> str:
    t = b.tube
    half, wall = t.bore * at.scale / 2, t.wall * at.scale
    outer = half + wall
    x0, x1 = at.left, at.left + t.length * at.scale
    drawn = _liquid(b, at, outer) + (
        f'<path class="fl-i" d="M{x0:.1f} {at.axis - outer:.1f}H{x1:.1f}V{at.axis + outer:.1f}H{x0:.1f}"/>'
        f'<path class="fl-t" d="M{x0:.1f} {at.axis - half:.1f}H{x1 - wall:.1f}V{at.axis + half:.1f}H{x0:.1f}"/>'
    )
    radius = max(t.hole * at.scale / 2, 0.5)
    every = max(1, -(-t.holes_per_row // _MOST_HOLES))
    seen = (t.rows + 1) // 2  # the rows on the near side
    holes = []
    for row in range(min(seen, 12)):
        y = at.axis - outer * cos(pi * (row + 0.5) / min(seen, 12))
        holes += [
            f'<circle class="fl-h" cx="{x0 + (k + 0.5) * t.pitch * at.scale:.1f}" cy="{y:.1f}" r="{radius:.2f}"/>'
            for k in range(0, t.holes_per_row, every)
        ]
    label = _said(at, "holes") + _said(at, "tube")
    return drawn + "".join(holes) + label


def _liquid(b: Build, at: _Side, outer: float) -> str:
    """Draw the liquid up to its depth over the covered holes. Of holes all around the tube the lowest are covered;
    their mean height is that of an arc (its radius times sin θ/θ below the axis, θ half the arc).
    """
    t = b.tube
    if not t.under_liquid:
        return ""
    half_arc = pi * min(t.under_liquid / t.holes, 1.0)
    top = at.axis + outer * sin(half_arc) / half_arc - t.depth * at.scale
    top = min(max(top, at.axis - at.tall / 2), at.bottom)
    reach = at.right - (b.packing.length * at.scale if b.packing.kind != "none" else 0.0)
    reach = max(reach, at.left + t.length * at.scale)
    inner, end = t.bore * at.scale / 2, at.left + t.length * at.scale
    dry = max(top, at.axis - inner)  # the tube contains air, no liquid
    hollow = f"M{at.left:.1f} {dry:.1f}H{end:.1f}V{at.axis + inner:.1f}H{at.left:.1f}z" if dry < at.axis + inner else ""
    surface = f"M{at.left:.1f} {top:.1f}H{reach:.1f}"
    if abs(top - at.axis) < inner:
        surface = f"M{end:.1f} {top:.1f}H{reach:.1f}"
    return (
        f'<path class="fl-w" fill-rule="evenodd" d="M{at.left:.1f} {top:.1f}H{reach:.1f}V{at.bottom:.1f}'
        f'H{at.left:.1f}z{hollow}"/><path class="fl-t" d="{surface}"/>'
    )


def _packing(b: Build, at: _Side) -> str:
    p = b.packing
    if p.kind == "none":
        return ""
    wide = max(p.length * at.scale, 6.0)
    x0, y0 = at.right - wide, at.axis - at.tall / 2
    fill = []
    if p.kind == "screens":
        n = min(p.layers or 1, _MOST_SCREENS)
        fill = [f'<path class="fl-t" d="M{x0 + (k + 0.5) * wide / n:.1f} {y0:.1f}v{at.tall:.1f}"/>' for k in range(n)]
    elif p.kind == "beads":
        size = max((p.bead or 0.0) * at.scale, 4.0)
        across, up = max(int(wide / size), 1), max(int(at.tall / size), 1)
        skip = max(1, across * up // 400)
        fill = [
            _bead(x0 + (i + 0.5) * size, y0 + (j + 0.5) * size, size / 2)
            for i in range(across)
            for j in range(up)
            if (i * up + j) % skip == 0
        ]
    else:
        step = 9.0 if p.kind == "wire wool" else 6.0
        n = int(wide / step) + 1
        waves = "".join(f"q4 {at.tall / 8:.1f} 0 {at.tall / 4:.1f}t0 {at.tall / 4:.1f}" for _ in range(2))
        fill = [f'<path class="fl-t" d="M{x0 + k * step:.1f} {y0:.1f}{waves}"/>' for k in range(n)]
    frame = f'<path class="fl-i" d="M{x0:.1f} {y0:.1f}v{at.tall:.1f}M{at.right:.1f} {y0:.1f}v{at.tall:.1f}"/>'
    return frame + "".join(fill) + _said(at, "packing")


def _bead(x: float, y: float, radius: float) -> str:
    return f'<circle class="fl-t" cx="{x:.1f}" cy="{y:.1f}" r="{radius:.1f}"/>'


def _outlet(b: Build, at: _Side) -> str:
    half, y0, y1 = b.outlet.bore * at.scale / 2, at.axis - at.tall / 2, at.bottom
    upper, lower = at.axis - half, at.axis + half
    lines = (
        f'<path class="fl-i" d="M{at.right:.1f} {y0:.1f}L{at.tip:.1f} {upper:.1f}H{at.end:.1f}'
        f'M{at.right:.1f} {y1:.1f}L{at.tip:.1f} {lower:.1f}H{at.end:.1f}"/>'
    )
    ending = _break(at.end, upper, lower) if b.outlet.hose > 0 else ""
    label = _said(at, "outlet")
    if b.outlet.hose > 0:
        label += _text(at.end, y0 - 18, f"{length_text(b.outlet.hose, at.system)} of foam hose", "end")
    return lines + ending + label


def _break(x: float, y0: float, y1: float) -> str:
    """The wavy end of something that goes on."""
    step = (y1 - y0) / 2
    return f'<path class="fl-t" d="M{x:.1f} {y0:.1f}q4 {step / 2:.1f} 0 {step:.1f}t0 {step:.1f}"/>'


def _bar(at: _Side) -> str:
    """A scale bar apart from the drawing: the largest of 10, 20, 50, 100… mm (or 0.5, 1, 2, 5… in) up to a sixth of
    the drawing.
    """
    lengths = [m * 10.0**e for e in (-2, -1, 0) for m in (1, 2, 5)]
    if at.system != "metric":
        lengths = [m * 10.0**e * INCH for e in (-1, 0, 1) for m in (1, 2, 5)]
    fits = [length for length in lengths if length * at.scale <= (at.end - at.left) / 6]
    length = max(fits, default=lengths[0])
    x, y, wide = 10.0, at.height - 14.0, length * at.scale
    return (
        f'<path class="fl-h fl-d" d="M{x} {y}h{wide / 2:.1f}v5h{-wide / 2:.1f}z"/>'
        f'<path class="fl-t fl-d" d="M{x} {y}h{wide:.1f}v5h{-wide:.1f}z"/>'
        + _text(x + wide + 8, y + 6, f"scale: {length_text(length, at.system)}", "start")
    )


def _said(at: _Side, name: str) -> str:
    words = at.words[name]
    if words.end >= at.end - 1.0:  # at the right edge: only the mean width of characters is known
        return _text(at.end, at.row(words.row), words.text, "end")
    return _text(words.x, at.row(words.row), words.text, "start")


def _text(x: float, y: float, words: str, anchor: str) -> str:
    return f'<text class="fl-n" x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}">{escape(words)}</text>'
