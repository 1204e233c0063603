"""The chart of the full-screen guide: captured points, fitted curve, target band and present reading.

Pressure up, flow to the right, as in all charts of pressure and flow. It is a small drawing without a chart library, so
that it also moves on a slow phone. Input in SI, words in the reader's units.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from frothline.formatting import unit_of
from frothline.rounding import decimals_for, rounded
from frothline.sweep.guide_state import GuideState
from frothline.web.charts.palette import PALETTES, Palette, Scheme, tint
from frothline.web.charts.pressure_flow import round_up
from frothline.web.elements import Node, drawing
from frothline.web.pages.sweep import labels

WIDTH, HEIGHT = 560.0, 400.0  # px of the drawing
LEFT, RIGHT, TOP, BOTTOM = 64.0, 14.0, 14.0, 46.0  # px around the plot
CURVE_POINTS = 41
MEASURED, PREDICTED = 'stroke-width="3.5"', 'stroke-width="2.2" stroke-dasharray="8 6"'


class _Scales:
    """SI to px, axes from zero to a round figure in the reader's units."""

    def __init__(self, flow: float, pressure: float, system: str) -> None:
        self.flow, self.pressure = unit_of("flow", system), unit_of("pressure", system)
        self.most_flow = round_up(self.flow.from_si(flow)) / self.flow.factor
        self.most_pressure = round_up(self.pressure.from_si(pressure)) / self.pressure.factor

    def x(self, flow: float) -> float:
        share = min(max(flow / self.most_flow, 0.0), 1.0)
        return LEFT + share * (WIDTH - LEFT - RIGHT)

    def y(self, pressure: float) -> float:
        share = min(max(pressure / self.most_pressure, 0.0), 1.0)
        return HEIGHT - BOTTOM - share * (HEIGHT - TOP - BOTTOM)


def picture(sweep: GuideState, fit: Any, system: str, scheme: Scheme) -> list[Node]:
    """The chart as a block. ``fit`` : the source's curve; drawn only in a sweep of the source."""
    flows = [point.flow for point in sweep.captured] + [sweep.flow]
    pressures = [point.pressure for point in sweep.captured] + [sweep.pressure, *(sweep.target or ())]
    scales = _Scales(_most(flows, 1e-3), _most(pressures, 1e2), system)
    ink = PALETTES[scheme]
    parts = [_axes(scales, ink)]
    if sweep.target is not None:
        parts.append(_target(sweep.target, scales, ink))
    if fit is not None and sweep.of == "source":
        parts.append(_curve(fit, scales, ink))
    parts += [_point(point.flow, point.pressure, scales, ink) for point in sweep.captured]
    if not sweep.captured:
        parts.append(_text(0.5 * (LEFT + WIDTH - RIGHT), 0.4 * HEIGHT, "middle", labels.NO_POINT, ink))
    if math.isfinite(sweep.flow) and math.isfinite(sweep.pressure):
        x, y = scales.x(sweep.flow), scales.y(sweep.pressure)
        parts.append(
            f'<circle cx="{x:.0f}" cy="{y:.0f}" r="9" fill="{ink.ink}" stroke="{ink.paper}" stroke-width="3"/>'
        )
        pressure, flow = scales.pressure.from_si(sweep.pressure), scales.flow.from_si(sweep.flow)
        at = f"{pressure:.3g} {scales.pressure.symbol}, {flow:.3g} {scales.flow.symbol}"
        parts.append(_text(WIDTH - RIGHT, TOP + 14, "end", at, ink))  # the curve falls away from that corner
    svg = f'<svg viewBox="0 0 {WIDTH:g} {HEIGHT:g}" class="sweep-chart">{"".join(parts)}</svg>'
    return [drawing(svg, about(sweep, system))]


def about(sweep: GuideState, system: str) -> str:
    """The chart as text for screen readers."""
    unit = unit_of("pressure", system)
    words = labels.chart_about(len(sweep.captured))
    if sweep.target is not None:
        low, high = (rounded(unit.from_si(one), decimals_for(unit.factor * 10.0)) for one in sweep.target)
        words += labels.target_between(low, high, unit.symbol)
    return words


def _most(values: list[float], least: float) -> float:
    return 1.1 * max([least, *(value for value in values if math.isfinite(value))])


def _axes(scales: _Scales, ink: Palette) -> str:
    x0, x1, y0, y1 = LEFT, WIDTH - RIGHT, HEIGHT - BOTTOM, TOP
    lines, words = [], []
    for share in (0.0, 0.5, 1.0):
        pressure, flow = share * scales.most_pressure, share * scales.most_flow
        y, x = scales.y(pressure), scales.x(flow)
        lines.append(f"M{x0:g} {y:.1f}H{x1:g}")
        words.append(_text(x0 - 8, y + 6, "end", f"{scales.pressure.from_si(pressure):.3g}", ink))
        anchor = "end" if share == 1.0 else "middle"
        words.append(_text(x, y0 + 20, anchor, f"{scales.flow.from_si(flow):.3g}", ink))
    words.append(_text(x0 + 6, y1 + 14, "start", labels.pressure_axis(scales.pressure.symbol), ink))
    words.append(_text(x1, HEIGHT - 6, "end", labels.flow_axis(scales.flow.symbol), ink))
    return f'<path d="{"".join(lines)}" stroke="{ink.rule}" fill="none"/>{"".join(words)}'


def _text(x: float, y: float, anchor: str, words: str, ink: Palette) -> str:
    return f'<text x="{x:.0f}" y="{y:.0f}" text-anchor="{anchor}" font-size="16" fill="{ink.faint}">{words}</text>'


def _target(target: tuple[float, float], scales: _Scales, ink: Palette) -> str:
    low, high = (scales.y(pressure) for pressure in target)
    middle = 0.5 * (low + high)
    return (
        f'<rect x="{LEFT:g}" y="{high:.1f}" width="{WIDTH - LEFT - RIGHT:g}" height="{max(low - high, 3.0):.1f}" '
        f'fill="{tint(ink.predicted, 0.22)}" stroke="{ink.predicted}" stroke-dasharray="7 5"/>'
        f'<text x="{LEFT + 10:g}" y="{middle + 6:.0f}" font-size="17" font-weight="600" '
        f'fill="{ink.predicted}">{labels.TARGET}</text>'
    )


def _curve(fit: Any, scales: _Scales, ink: Palette) -> str:
    """The curve: solid and heavy where it was measured, dashed and thin where it is predicted."""
    flows = np.linspace(0.0, scales.most_flow, CURVE_POINTS)
    low, high = fit.range
    return "".join(
        _way(fit, part, scales, f'stroke="{colour}" {look}')
        for part, colour, look in (
            (flows[flows <= low], ink.predicted, PREDICTED),
            (np.unique(np.clip(flows, low, high)), ink.measured, MEASURED),
            (np.append(high, flows[flows > high]), ink.predicted, PREDICTED),
        )
    )


def _way(fit: Any, flows: Any, scales: _Scales, look: str) -> str:
    if len(flows) < 2:
        return ""
    pressures = np.asarray(fit.pressure(flows)[0], dtype=float)
    shown = [(q, p) for q, p in zip(flows, pressures, strict=True) if math.isfinite(p) and p >= 0.0]
    way = "L".join(f"{scales.x(q):.1f} {scales.y(p):.1f}" for q, p in shown)
    return f'<path d="M{way}" fill="none" {look}/>' if len(shown) > 1 else ""


def _point(flow: float, pressure: float, scales: _Scales, ink: Palette) -> str:
    return (
        f'<circle cx="{scales.x(flow):.1f}" cy="{scales.y(pressure):.1f}" r="7" fill="{ink.paper}" '
        f'stroke="{ink.measured}" stroke-width="3.5"/>'
    )
