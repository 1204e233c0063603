"""Self-test of parts that need a person: breath in the line, a press on the button, a weight on the scale."""

from __future__ import annotations

import math

import numpy as np

from frothline.bench.self_test.result import ABSENT, FAULTY, GOOD, ODD, SKIPPED, PartResult
from frothline.bench.self_test.rig_view import RigView

BREATH = 200.0  # Pa over rest: a breath into a closed pipe gives kilopascals, a draught gives a few pascals
LET_GO = 2.0  # s in which pressure falls from four fifths to one fifth once the end is open; an open tap takes 0.1 s
SPINS = 3.0  # Hz: a vane that makes it over half a second was blown at
WEIGHT = 0.2  # kg more on the scale


def _skip(part: str) -> PartResult:
    return PartResult(part, SKIPPED, "needs a person")


def breath(view: RigView) -> PartResult | None:
    rest = view.rest.get("line_pressure")
    if not view.hands:
        return _skip("tap")
    if rest is None:
        return PartResult("tap", SKIPPED, "cannot be checked without the pressure sensor")
    begin = view.clock()
    view.do(
        "Close the end of the line with the flat of your hand and blow into it; keep it closed.",
        ("throttle", 0.0),
        ("motor", True),
    )

    def top() -> float:
        _, value = view.since("line_pressure", begin)
        return float(np.max(value)) - rest if value.size else 0.0

    if not view.until(lambda: top() > BREATH, view.patience):
        remedy = (
            "Blow its tube through from the sensor's end outward, never into the sensor; check for a kink or a leak"
        )
        return PartResult("tap", FAULTY, f"the pressure changed by {top():.0f} Pa only", remedy, {"rise": top()})
    view.until(lambda: False, 0.7)  # wait for the full rise, so that the fall can be timed
    view.do("Now let go.", ("motor", False), ("throttle", 1.0))
    took = math.inf

    def fell() -> bool:
        nonlocal took
        when, value = view.since("line_pressure", begin)
        over = value - rest
        peak = int(np.argmax(over))
        high = np.flatnonzero(over[peak:] > 0.8 * over[peak])
        low = np.flatnonzero(over[peak:] < 0.2 * over[peak])
        if not low.size:
            return False
        took = float(when[peak + low[0]] - when[peak + high[high < low[0]][-1]])
        return True

    view.until(fell, max(view.patience / 3, 6.0))
    figures = {"rise": top(), "fall_seconds": took}
    if took > LET_GO:
        seen = f"rose by {top():.0f} Pa and fell only slowly"
        remedy = "If you let go in time, the tap or its tube is half blocked or holds water; clear it and test again"
        return PartResult("tap", ODD, seen, remedy, figures)
    return PartResult("tap", GOOD, f"open: rose by {top() / 1e3:.1f} kPa, fell within {took:.1f} s", figures=figures)


def rotor(view: RigView) -> PartResult | None:
    if view.channel("rotor") is None:
        return None
    if view.level < 2:
        return PartResult("rotor", ABSENT, "not fitted at level 1")
    if not view.until(view.stands, 20.0):  # first the air of the previous step escapes
        pulses = float(view.values("rotor_frequency", 1.0)[-1])
        remedy = "Keep draughts off the rotor; if there are none, the pulse line picks up noise: fit its filter"
        return PartResult("rotor", ODD, f"{pulses:.0f} pulses a second at rest", remedy)
    if not view.hands:
        return _skip("rotor")
    begin = view.clock()
    view.do("Blow through the line until the rotor spins.", ("throttle", 1.0), ("motor", True))

    def spinning() -> bool:
        when, value = view.since("rotor_frequency", begin)
        return bool(value.size) and float(np.median(value[when > when[-1] - 0.5])) > SPINS

    if not view.until(spinning, view.patience):
        remedy = "If the vane turns freely, check 5 V, ground and D8, and the gap between magnet and switch"
        return PartResult("rotor", FAULTY, "no pulses", remedy)
    view.do("Now stop blowing.", ("motor", False))
    stopped = view.until(view.stands, view.patience)
    _, value = view.since("rotor_frequency", begin)
    fastest = float(np.max(value))
    figures = {"rotor_frequency": fastest}
    if not stopped:
        seen = f"turned at up to {fastest:.0f} pulses a second and did not stop"
        return PartResult(
            "rotor", ODD, seen, "Keep draughts off the rotor; if there are none, the pulse line picks up noise", figures
        )
    return PartResult("rotor", GOOD, f"turned, up to {fastest:.0f} pulses a second, and stopped", figures=figures)


def button(view: RigView) -> PartResult | None:
    if view.channel("button") is None:
        return None
    if not view.hands:
        return _skip("button")
    before = sum(mark.kind == "button" for mark in view.now().marks)
    view.do("Press the rig's button once.", ("button", 0.2))
    if view.until(lambda: sum(mark.kind == "button" for mark in view.now().marks) > before, view.patience):
        return PartResult("button", GOOD, "pressed")
    return PartResult(
        "button", FAULTY, "no press was detected", "The button connects D2 to ground: measure 5 V open, 0 V pressed"
    )


def weight(view: RigView) -> PartResult | None:
    if "scale_counts" not in view.rest:
        return None
    if not view.hands:
        return _skip("scale")
    per_kilogram = view.counts_per_kilogram()
    rest = float(np.median(view.values("scale_counts", 1.0))) / per_kilogram  # may have changed since
    view.do("Put a full bottle or a brick on the scale.", ("solution", 1.0))

    def more() -> float:
        value = view.values("scale_counts", 1.0) / per_kilogram
        return float(np.median(value)) - rest if value.size else 0.0

    if view.until(lambda: abs(more()) > WEIGHT, view.patience):
        seen = f"{more():+.2f} kg when loaded"
        if more() < 0:
            return PartResult("scale", ODD, seen, "The sign is reversed: swap A+ and A- of the load cell")
        return PartResult("scale", GOOD, seen, figures={"scale_mass": more()})
    remedy = "Check the direction of the load cell and its four wires"
    return PartResult("scale", FAULTY, f"changed by {more() * 1e3:.0f} g only", remedy)
