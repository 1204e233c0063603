"""Charts as plain SVG with axes, lines, bands and points, so that a report needs no script or library.

Numbers are in the reader's units. Measured lines are solid, predicted lines dashed, uncertainty a tint, so that a grey
print is readable. Colours come from the page's style sheet by class.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from html import escape

import numpy as np
from numpy.typing import ArrayLike

from frothline.label_case import label_case
from frothline.numerics.arrays import Floats

_LEFT, _RIGHT, _TOP, _BOTTOM = 62.0, 14.0, 12.0, 44.0  # px around the axes


def ticks(low: float, high: float, wanted: int = 6) -> list[float]:
    """Round numbers from ``low`` to ``high``, about ``wanted`` of them, in steps of 1, 2 or 5 times a power of ten.

    >>> ticks(0.0, 14.2)
    [0.0, 2.0, 4.0, 6.0, 8.0, 10.0, 12.0, 14.0]
    """
    span = high - low
    if not math.isfinite(span) or span <= 0:
        return [low]
    rough = span / max(wanted, 1)
    size = 10.0 ** math.floor(math.log10(rough))
    step = min((m * size for m in (1.0, 2.0, 5.0, 10.0)), key=lambda s: abs(math.log(s / rough)))
    first, last = math.ceil(low / step - 1e-9), math.floor(high / step + 1e-9)
    return [round(k * step, 12) + 0.0 for k in range(first, last + 1)]


def number(value: float) -> str:
    """A tick's number: no trailing zeros, a real minus."""
    return f"{value:.6g}".replace("-", "−")


_LEAST_RANGE = 1e-200  # below it the scale of an axis would not be finite


def _drawable(ends: tuple[float, float]) -> tuple[float, float]:
    """The range of an axis; one that is empty or not finite, as forged frames give it, is replaced."""
    low, high = ends
    if not (math.isfinite(low) and math.isfinite(high) and math.isfinite(high - low)):
        return 0.0, 1.0
    return ends if high - low > _LEAST_RANGE else (low - 0.5 * max(abs(low), 1.0), low + 0.5 * max(abs(low), 1.0))


class Chart:
    """One pair of axes. Ranges and data have the same units; data outside are clipped at the frame."""

    def __init__(
        self,
        x: tuple[float, float],
        y: tuple[float, float],
        *,
        x_label: str,
        y_label: str,
        title: str,
        size: tuple[float, float] = (660.0, 330.0),
    ) -> None:
        """``title`` is the text for screen readers."""
        self.x, self.y, self.size, self.title = _drawable(x), _drawable(y), size, title
        self._labels = label_case(x_label), label_case(y_label)
        self._behind: list[str] = []
        self._inside: list[str] = []
        self._over: list[str] = []

    def px(self, x: float) -> float:
        """Horizontal position of a value, px."""
        low, high = self.x
        return _LEFT + (x - low) / (high - low) * (self.size[0] - _LEFT - _RIGHT)

    def py(self, y: float) -> float:
        """Vertical position of a value, px."""
        low, high = self.y
        return self.size[1] - _BOTTOM - (y - low) / (high - low) * (self.size[1] - _TOP - _BOTTOM)

    def _path(self, xs: Iterable[float], ys: Iterable[float]) -> str:
        out, pen = [], "M"
        for x, y in zip(xs, ys, strict=True):
            if not (math.isfinite(x) and math.isfinite(y)):
                pen = "M"  # an unknown value breaks the line
                continue
            out.append(f"{pen}{self.px(x):.1f} {self.py(y):.1f}")
            pen = "L"
        return "".join(out)

    def line(self, xs: ArrayLike, ys: ArrayLike, kind: str = "measured") -> None:
        """``kind`` : measured (solid), predicted (dashed) or thin."""
        path = self._path(np.asarray(xs, float).tolist(), np.asarray(ys, float).tolist())
        self._inside.append(f'<path class="{kind}" d="{path}"/>')

    def band(self, xs: ArrayLike, lower: ArrayLike, upper: ArrayLike, kind: str = "measured") -> None:
        """Draw the tinted band between two lines."""
        x, lo, hi = (np.asarray(v, float) for v in (xs, lower, upper))
        good = np.isfinite(lo) & np.isfinite(hi)
        if good.sum() < 2:
            return
        path = self._path(np.concatenate([x[good], x[good][::-1]]), np.concatenate([lo[good], hi[good][::-1]]))
        self._behind.append(f'<path class="{kind} tint" d="{path}Z"/>')

    def span(self, start: float, end: float, words: str = "") -> None:
        """Draw a tinted range of the horizontal axis, with a label at the top."""
        left, right = self.px(max(start, self.x[0])), self.px(min(end, self.x[1]))
        top, bottom = self.py(self.y[1]), self.py(self.y[0])
        self._behind.append(
            f'<rect class="measured tint" x="{left:.1f}" y="{top:.1f}" width="{max(right - left, 1):.1f}" '
            f'height="{bottom - top:.1f}"/>'
        )
        if words:
            self._over.append(_text((left + right) / 2, top + 12, words, "middle", "small"))

    def points(
        self, xs: ArrayLike, ys: ArrayLike, ux: ArrayLike | None = None, uy: ArrayLike | None = None, kind: str = "dot"
    ) -> None:
        """Draw points with bars of ± ``ux``, ``uy`` where given."""
        x, y = np.asarray(xs, float), np.asarray(ys, float)
        for bars, horizontal in ((ux, True), (uy, False)):
            if bars is None:
                continue
            for a, b, u in zip(x, y, np.asarray(bars, float), strict=True):
                ends = ((a - u, b), (a + u, b)) if horizontal else ((a, b - u), (a, b + u))
                path = self._path(*zip(*ends, strict=True))
                self._inside.append(f'<path class="bar" d="{path}"/>')
        for a, b in zip(x.tolist(), y.tolist(), strict=True):
            if math.isfinite(a) and math.isfinite(b):
                self._inside.append(f'<circle class="{kind}" cx="{self.px(a):.1f}" cy="{self.py(b):.1f}" r="3.4"/>')

    def ellipse(self, centre: tuple[float, float], covariance: ArrayLike) -> None:
        """Draw the 95 % region of two normal quantities (chi square of 2: 5.991) with this (x, y) covariance."""
        values, vectors = np.linalg.eigh(np.asarray(covariance, float))
        turn = np.linspace(0.0, 2 * math.pi, 61)
        radii = np.sqrt(np.maximum(values, 0.0) * 5.991)
        ring = np.asarray(centre)[:, None] + vectors @ (radii[:, None] * np.array([np.cos(turn), np.sin(turn)]))
        self._inside.append(f'<path class="predicted tint edge" d="{self._path(ring[0], ring[1])}Z"/>')

    def note(self, x: float, y: float, words: str, anchor: str = "start") -> None:
        """Draw a text at a position."""
        self._over.append(_text(self.px(x), self.py(y), words, anchor, "small"))

    def across(self, y: float, words: str = "") -> None:
        """Draw a thin horizontal line over the whole width."""
        self._inside.append(
            f'<path class="thin" d="M{self.px(self.x[0]):.1f} {self.py(y):.1f}H{self.px(self.x[1]):.1f}"/>'
        )
        if words:
            self._over.append(_text(self.px(self.x[1]) - 4, self.py(y) - 4, words, "end", "small"))

    def svg(self) -> str:
        """The chart as an SVG element."""
        width, height = self.size
        left, right = self.px(self.x[0]), self.px(self.x[1])
        top, bottom = self.py(self.y[1]), self.py(self.y[0])
        grid = []
        for value in ticks(*self.x):
            at = self.px(value)
            grid.append(f'<path class="grid" d="M{at:.1f} {top:.1f}V{bottom:.1f}"/>')
            grid.append(_text(at, bottom + 16, number(value), "middle"))
        for value in ticks(*self.y, 5):
            at = self.py(value)
            grid.append(f'<path class="grid" d="M{left:.1f} {at:.1f}H{right:.1f}"/>')
            grid.append(_text(left - 7, at + 4, number(value), "end"))
        middle = (top + bottom) / 2
        labels = _text((left + right) / 2, height - 8, self._labels[0], "middle")
        labels += (
            f'<text x="14" y="{middle:.1f}" text-anchor="middle" transform="rotate(-90 14 {middle:.1f})">'
            f"{escape(self._labels[1])}</text>"
        )
        # a nested svg clips at the frame without an id, which two charts of a page could share
        inner = (
            f'<svg x="{left:.1f}" y="{top:.1f}" width="{right - left:.1f}" height="{bottom - top:.1f}" '
            f'viewBox="{left:.1f} {top:.1f} {right - left:.1f} {bottom - top:.1f}">'
            f"{''.join(self._behind)}{''.join(self._inside)}</svg>"
        )
        frame = f'<path class="frame" d="M{left:.1f} {top:.1f}V{bottom:.1f}H{right:.1f}"/>'
        return (
            f'<svg class="chart" viewBox="0 0 {width:.0f} {height:.0f}" role="img" aria-label="{escape(self.title)}">'
            f"<title>{escape(self.title)}</title>{''.join(grid)}{inner}{frame}{''.join(self._over)}{labels}</svg>"
        )


def intervals(
    rows: Sequence[tuple[str, float, float, float]], *, unit: str, title: str, zero: bool = True, width: float = 660.0
) -> str:
    """Chart of intervals: one row each of label, value, lower, upper, as a dot on its interval over a common axis.

    With ``zero`` the axis includes and marks zero: an interval across zero may be no effect.
    """
    known = [row for row in rows if math.isfinite(row[1])]
    if not known:
        return ""
    ends = [v for row in known for v in row[1:] if math.isfinite(v)] + ([0.0] if zero else [])
    low, high = min(ends), max(ends)
    pad = 0.06 * ((high - low) or abs(high) or 1.0)
    low, high = low - pad, high + pad
    left, right, step = 250.0, width - 16.0, 26.0
    height = step * len(known) + 46

    def at(value: float) -> float:
        return left + (min(max(value, low), high) - low) / (high - low) * (right - left)

    out = []
    bottom = step * len(known) + 8
    for value in ticks(low, high, 5):
        out.append(f'<path class="grid" d="M{at(value):.1f} 4V{bottom:.1f}"/>')
        out.append(_text(at(value), bottom + 16, number(value), "middle"))
    if zero:
        out.append(f'<path class="frame" d="M{at(0):.1f} 4V{bottom:.1f}"/>')
    for k, (words, value, lower, upper) in enumerate(known):
        y = step * (k + 0.5) + 4
        sure = lower > 0 or upper < 0 or not zero
        begin, end = (v if math.isfinite(v) else edge for v, edge in ((lower, low), (upper, high)))
        out.append(_text(left - 10, y + 4, label_case(words), "end"))
        out.append(f'<path class="{"measured" if sure else "bar"}" d="M{at(begin):.1f} {y:.1f}H{at(end):.1f}"/>')
        out.append(f'<circle class="dot{"" if sure else " open"}" cx="{at(value):.1f}" cy="{y:.1f}" r="4"/>')
    out.append(_text((left + right) / 2, height - 6, label_case(unit), "middle"))
    return (
        f'<svg class="chart" viewBox="0 0 {width:.0f} {height:.0f}" role="img" aria-label="{escape(title)}">'
        f"<title>{escape(title)}</title>{''.join(out)}</svg>"
    )


def thinned(time: ArrayLike, value: ArrayLike, columns: int = 400) -> tuple[Floats, Floats]:
    """Decimate to at most two samples per column, its smallest and its largest in order of time."""
    t, v = np.asarray(time, float), np.asarray(value, float)
    if len(t) <= 2 * columns:
        return t, v
    keep: list[int] = []
    for part in np.array_split(np.arange(len(t)), columns):
        inside = v[part]
        if not np.isfinite(inside).any():
            keep.append(int(part[0]))
            continue
        keep += sorted({int(part[np.nanargmin(inside)]), int(part[np.nanargmax(inside)])})
    return t[keep], v[keep]


def _text(x: float, y: float, words: str, anchor: str, kind: str = "") -> str:
    mark = f' class="{kind}"' if kind else ""
    return f'<text{mark} x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}">{escape(words)}</text>'
