"""Problems of a sweep and their remedies, in plain words."""

from __future__ import annotations

from collections.abc import Sequence
from math import isfinite

import numpy as np

from frothline.curve.steady import Refusal
from frothline.curve.steady_points import PointArrays, SteadyPoint
from frothline.errors import NotIdentifiable
from frothline.numerics.distributions import chi_square_quantile, rank_correlation
from frothline.numerics.errors_in_both import PolynomialFit
from frothline.numerics.uncertainty import student_factor

WIDEST_GAP = 0.3  # of the highest flow, between neighbouring points
LEAST_PRESSURE = 30.0  # Pa; less than this at every opening means no source, or no pressure reading
STARVED_PRESSURE = 2.5  # no hump is that high
STARVED_FLOW = 1.2
LITRES = 1e3  # per m3, for the words
ONE_PLACE = 0.1  # of the largest pressure and of the largest flow: points closer together are one point


def sort_out(
    points: Sequence[SteadyPoint], *, supply_runs_down: bool = True
) -> tuple[list[SteadyPoint], list[Refusal]]:
    """Points that a fit may use, and the others with the reason.

    ``supply_runs_down`` : the points are those of an air source, whose pressure falls as the flow grows. A point with
        far less pressure than an earlier point at more flow is then refused. For a generator the rule must be off,
        because its pressure rises with flow: the rule would refuse every good point at low flow after one at high flow.
    """
    usable: list[SteadyPoint] = []
    refused: list[Refusal] = []
    for point in points:
        if not (isfinite(point.pressure) and isfinite(point.flow)):
            refused.append(Refusal(point.start, point.end, "pressure or flow is not known"))
        elif not (isfinite(point.u_pressure) and isfinite(point.u_flow)):
            refused.append(Refusal(point.start, point.end, "held too briefly for an uncertainty"))
        elif point.u_pressure < 0.0 or point.u_flow < 0.0:
            refused.append(Refusal(point.start, point.end, "its uncertainty is below zero"))
        elif _same_as_one_of(point, usable):
            refused.append(Refusal(point.start, point.end, "duplicate of another point"))
        elif point.flow < -3 * point.u_flow - 1e-9:
            refused.append(
                Refusal(point.start, point.end, "the flow is negative: check the direction of the anemometer")
            )
        else:
            usable.append(point)
    starved = [point for point in usable if _starved(point, usable)] if supply_runs_down else []
    if starved and len(usable) - len(starved) >= 3:
        most = max(point.flow for point in starved)
        reason = (
            "the supply had run down: far less pressure than at a larger flow before; "
            f"it keeps up about {most * LITRES:.2g} L/s at most"
        )
        refused += [Refusal(point.start, point.end, reason) for point in starved]
        usable = [point for point in usable if point not in starved]
    return usable, refused


def _same_as_one_of(point: SteadyPoint, others: Sequence[SteadyPoint]) -> bool:
    """True if a point was entered twice: pressure and flow are identical, and so are the times if known."""
    return any(
        (point.pressure, point.flow) == (other.pressure, other.flow)
        and (point.start == other.start or not (isfinite(point.start) and isfinite(other.start)))
        for other in others
    )


def _starved(point: SteadyPoint, among: Sequence[SteadyPoint]) -> bool:
    """True if an earlier point had much more pressure at clearly more flow: a tank or a battery ran down."""
    return any(
        other.start < point.start
        and other.flow - 2 * other.u_flow > STARVED_FLOW * (point.flow + 2 * point.u_flow)
        and other.pressure > STARVED_PRESSURE * (point.pressure + 2 * point.u_pressure)
        for other in among
    )


def refuse_one_place(points: Sequence[SteadyPoint]) -> None:
    """Raise NotIdentifiable where several points are practically one point, which does not determine a curve."""
    if len(points) < 2 or not _one_place(points):
        return
    p = float(np.mean([point.pressure for point in points]))
    q = float(np.mean([point.flow for point in points]))
    where = f"{p / 1e3:.3g} kPa and {q * LITRES:.3g} L/s"
    raise NotIdentifiable(
        f"all {len(points)} points are at nearly the same pressure and flow, {where}: no curve",
        remedy="A run is at one opening; record a sweep of the source, from closed to fully open",
    )


def _one_place(points: Sequence[SteadyPoint]) -> bool:
    q, p = np.array([point.flow for point in points]), np.array([point.pressure for point in points])
    return bool(np.ptp(p) <= ONE_PLACE * np.max(np.abs(p)) and np.ptp(q) <= ONE_PLACE * np.max(np.abs(q)))


def refuse_impossible(points: Sequence[SteadyPoint]) -> None:
    """Raise NotIdentifiable with the reason where the points cannot be an air source's curve."""
    q = np.array([point.flow for point in points])
    p = np.array([point.pressure for point in points])
    top_q, top_p = float(np.max(q)), float(np.max(np.abs(p)))
    if top_q <= 0:
        raise NotIdentifiable(
            "no flow was measured at any point", remedy="Check that the anemometer is connected and turns freely"
        )
    if top_p <= 0 or (float(np.ptp(p)) < 0.05 * top_p and float(np.ptp(q)) < 0.3 * top_q):
        raise NotIdentifiable(
            "all points are at nearly the same pressure and flow",
            remedy="Throttle the source from closed to fully open while recording",
        )
    if float(np.ptp(q)) > 0.5 * top_q and (float(np.ptp(p)) < 0.01 * top_p or top_p < LEAST_PRESSURE):
        raise NotIdentifiable(
            f"the pressure is constant at {float(np.mean(p)):.0f} Pa while the flow changes from "
            f"{q.min() * LITRES:.3g} to {top_q * LITRES:.3g} L/s",
            remedy="Check for a blocked pressure tap or a hose that is off",
        )
    rank = rank_correlation(q, p)
    if rank > 0.7:
        raise NotIdentifiable(
            "pressure rises with flow; an air source's falls",
            remedy="Check for swapped channels, or a sweep through a generator",
        )
    if float(np.ptp(q)) < 0.1 * top_q and float(np.ptp(p)) < 0.5 * top_p:
        raise NotIdentifiable("the sweep never left one end", remedy=where_to_add(points))


def where_to_add(points: Sequence[SteadyPoint]) -> str:
    """Where further points would help most, as text."""
    if len(points) < 2 or _one_place(points):
        return "Hold for a few seconds at each of about ten openings between closed and fully open"
    words = advice(points, float("nan"), float("nan"))
    text = "; ".join(words) or "add points between the existing ones"
    return text[0].upper() + text[1:]


def advice(points: Sequence[SteadyPoint], shut_off: float, free_delivery: float) -> tuple[str, ...]:
    """Missing measurements of a sweep; shut-off (Pa) and free delivery (m3/s) as fitted, NaN if not."""
    q = np.sort([point.flow for point in points])
    p = np.array([point.pressure for point in points])
    words: list[str] = []
    top = free_delivery if isfinite(free_delivery) else float(q[-1])
    highest = shut_off if isfinite(shut_off) else float(p.max())
    of_pressure = "shut-off" if isfinite(shut_off) else "the highest"
    of_flow = "free delivery" if isfinite(free_delivery) else "the largest"
    if float(p.min()) > 0.25 * highest:
        words.append(
            f"more points at high flow: the lowest pressure reached is {100 * p.min() / highest:.0f} % of {of_pressure}"
        )
    if q[0] > 0.2 * top:
        words.append(f"more points at low flow: the smallest flow reached is {100 * q[0] / top:.0f} % of {of_flow}")
    edges = np.diff(q)
    if len(edges) and float(edges.max()) > WIDEST_GAP * top:
        k = int(np.argmax(edges))
        words.append(f"a point between {q[k] * LITRES:.3g} and {q[k + 1] * LITRES:.3g} L/s")
    if len(points) < 7:
        words.append(f"{len(points)} points give wide intervals; ten would halve them")
    return tuple(words)


def notes(points: Sequence[SteadyPoint], fit: PolynomialFit, arrays: PointArrays) -> tuple[str, ...]:
    """Notes on the curve: slow drift of the source, and scatter larger than stated by the points."""
    words: list[str] = []
    drift = drift_over_sweep(points, fit, arrays)
    if drift is not None:
        words.append(drift)
    freedom = fit.degrees_of_freedom
    stated = bool(np.any(arrays.var_p > 0) or np.any(arrays.var_q > 0))
    if stated and freedom > 0 and fit.chi_square > chi_square_quantile(0.99, freedom):
        ratio = np.sqrt(fit.chi_square / freedom)
        words.append(
            f"the scatter of the points is {ratio:.1f}× that within each stretch (voltage, throttle, warming); the "
            "intervals include it"
        )
    return tuple(words)


def drift_over_sweep(points: Sequence[SteadyPoint], fit: PolynomialFit, arrays: PointArrays) -> str | None:
    """A note if the source's pressure drifted steadily with time over the sweep, else None.

    Tested as one more column of the regression, pressure times time (partial t-test at 1 %). Only a sweep that returns
    to earlier openings can distinguish drift from shape.
    """
    time = np.array([(point.start + point.end) / 2 for point in points])
    if not np.all(np.isfinite(time)) or float(np.ptp(time)) == 0 or fit.degrees_of_freedom < 3:
        return None
    when = (time - time.mean()) / float(np.ptp(time))
    column = np.sqrt(fit.weight) * arrays.p * when
    own = column - fit.design @ np.linalg.lstsq(fit.design, column, rcond=None)[0]
    if float(own @ own) < 0.05 * float(column @ column):
        return None  # time and flow are collinear
    size = float(own @ fit.residual) / float(own @ own)
    left = fit.residual - size * own
    freedom = fit.degrees_of_freedom - 1
    u = np.sqrt(float(left @ left) / freedom / float(own @ own))
    if abs(size) < 0.003 or abs(size) < float(student_factor(freedom, 0.99)) * u:
        return None
    way = "rose" if size > 0 else "fell"
    return (
        f"the source drifted: its pressure {way} by {100 * abs(size):.1f} % from the first point to the last; warm "
        "up the source first"
    )
