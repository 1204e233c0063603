"""Plausibility checks of a sweep: stopped rotor, too small range, contradicting flows."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from frothline.errors import InputError
from frothline.numerics.arrays import Floats
from frothline.sensors.datasheets import RatiometricPressure
from frothline.sensors.finding import Finding
from frothline.sensors.plausibility import Batch, Blocks, blocks_of, look_at_samples, rises_together, tap_findings


def look_at_sweep(
    series: Batch,
    points: tuple[Floats, Floats] | None = None,
    *,
    running: bool = False,
    sensor: RatiometricPressure | None = None,
) -> list[Finding]:
    """Findings on a recording of a sweep, including the findings on its samples.

    ``points``: pressure (Pa) and flow (m3/s or kg/s), (n,) each, of the points shown and fitted. They give the range of
    the sweep; without them the samples do. ``running``: the sweep is not finished. ``sensor``: see
    ``look_at_samples``.
    """
    found = look_at_samples(series, sensor)
    blocks = blocks_of(series)
    if blocks is None:
        return found
    found += [item for item in (tap_findings(blocks, running=running), rises_together(blocks)) if item is not None]
    stood = float(np.nanmean(blocks.stopped))
    if stood > 0.95 and np.count_nonzero(np.isfinite(blocks.pressure)) >= 4:
        return [*found, *_stood(blocks, found)]
    p, q = blocks.both
    if p.size < 4:
        return found
    if any(item.code == "tap-blocked" for item in found):
        return found
    return [*found, *look_at_reach(*(points if points is not None and points[0].size else (p, q)))]


def _stood(blocks: Blocks, found: Sequence[Finding]) -> list[Finding]:
    """Findings for a rotor without any pulse."""
    p = blocks.pressure[np.isfinite(blocks.pressure)]
    high_p, low_p = float(np.quantile(p, 0.98)), float(np.quantile(p, 0.02))
    if high_p - low_p > 0.2 * max(high_p, 1000.0):
        words = "the pressure changes and the rotor does not turn"
        remedy = "Check the anemometer's plug, and that its vane turns freely when you blow at it"
        return [Finding("rotor-silent", "warning", "rotor", words, remedy)]
    if any(item.code == "tap-blocked" for item in found):
        return []
    return [_one_end("shut-off", "the rotor did not turn", "Open the line in steps until it is fully open")]


def look_at_reach(p: Floats, q: Floats) -> list[Finding]:
    """Missing parts of a source's curve, from pressures (Pa) and flows, (n,) each. Advice only."""
    found: list[Finding] = []
    if p.size < 4:
        return found
    high_p, low_p = float(np.quantile(p, 0.98)), float(np.quantile(p, 0.02))
    high_q, low_q = float(np.quantile(q, 0.98)), float(np.quantile(q, 0.02))
    if high_q > 0 and high_q - low_q < 0.25 * high_q and high_p - low_p < 0.25 * max(high_p, 1.0):
        end = "free delivery" if high_p < 1500.0 else "one opening"
        words = f"the flow stayed between {100 * low_q / high_q:.0f} and 100 % of its largest"
        found.append(_one_end(end, words, "Close the line in steps until no air flows, then open it again"))
    elif high_q > 0:
        if low_q > 0.35 * high_q:
            found.append(_lacks("low flow", f"the smallest flow was {100 * low_q / high_q:.0f} % of the largest"))
        if low_p > 0.5 * high_p:
            found.append(_lacks("high flow", f"the lowest pressure was {100 * low_p / high_p:.0f} % of the highest"))
    return found


def _one_end(end: str, seen: str, remedy: str) -> Finding:
    return Finding("sweep-one-end", "notice", "sweep", f"the sweep never left {end}: {seen}", remedy)


def _lacks(part: str, seen: str) -> Finding:
    remedy = "Close the line further" if part == "low flow" else "Open the line further, to free delivery if it can be"
    return Finding("sweep-short", "notice", "sweep", f"the sweep lacks points at {part}: {seen}", remedy)


def compare_flows(flow: Floats, reference: Floats, u_relative: float, words: str) -> list[Finding]:
    """Comparison of a flow with another estimate of the same flow, (n,) each.

    The reference may be plates, a bag, or the source's known curve at the measured pressures. ``u_relative`` is the
    standard uncertainty of their ratio, ``words`` names the reference. Raises InputError for arrays of unequal length,
    and for an uncertainty that is negative or not a number.
    """
    if np.shape(flow) != np.shape(reference):
        what = f"{np.size(flow)} flows do not match {np.size(reference)} of {words}"
        raise InputError(what, where="compare flows", remedy="Give one reference for each flow")
    if not 0.0 <= u_relative < np.inf:
        what = f"an uncertainty of {u_relative:g} is not valid"
        raise InputError(what, where="compare flows", remedy="Give a standard uncertainty of zero or more")
    good = np.isfinite(flow) & np.isfinite(reference) & (reference > 0.15 * np.nanmax(reference))
    if np.count_nonzero(good) < 3:
        return []
    ratio = flow[good] / reference[good]
    middle = float(np.median(ratio))
    even = float(np.quantile(ratio, 0.9) - np.quantile(ratio, 0.1)) < 0.12
    if abs(middle - 1) < max(3 * u_relative, 0.05):
        return []
    seen = f"the anemometer reads {100 * abs(1 - middle):.0f} % {'less' if middle < 1 else 'more'} than {words}"
    if 0.5 < middle < 0.88 and even:
        return [
            Finding(
                "flow-backwards",
                "warning",
                "rotor",
                f"{seen}, by the same share at every opening, as with a vane fitted backwards",
                "Check the arrow on the anemometer and turn it round. If the arrow is right, remove what brakes "
                "the vane, and calibrate it",
            )
        ]
    if not even:
        cause = "the difference varies with the opening, as with a leak between the two or a vane that rubs"
        remedy = "Check for a leak with soapy water, then blow at the vane: it must spin freely"
    else:
        cause = "as with a wrong K factor or another spool"
        remedy = "Check that the spool file and the calibration belong to this spool"
    return [Finding("flow-disagrees", "warning", "rotor", f"{seen}; {cause}", remedy)]
