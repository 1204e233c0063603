"""The likely fault of a change: the signature of each fault in the three views of the flow.

With the three views as x (anemometer), s (source at this pressure), b (build at this pressure):

    fault                          pressure    x over s     x over b
    leak or joint, before          falls       falls        stays
    leak or joint, after           falls       stays        rises
    packing gone                   falls       stays        rises much, at once
    solution runs out              falls       stays        rises, and goes on rising
    clogging, pinched hose         rises       stays        falls
    liquid creeping back           rises       stays        falls, and the flow bubbles
    source weaker                  falls       falls        stays, slowly
    anemometer fouled              stays       falls        falls

The last two columns are differences of logarithms from the state before.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import exp, isfinite, nan

from frothline.run.watch.alarm_kinds import KINDS
from frothline.run.watch.change_shape import ChangeShape

JOINT_OFF = -0.7  # ln of pressure: a separated joint removes more than half of it
GONE = -2.5  # ln: below a twelfth the pressure counts as gone
BLOWN = 0.30  # ln of flow over the build, at once: more than a plausible leak, where the build without its packing is
NO_PACKING = 0.2  # ln: how near a change comes to the known build without its packing
ALIKE = 0.5  # two views that change by the same to within this share changed together
BUBBLES = 1.8  # times the usual flutter; judgement
PUSHED = 0.002  # ln of pressure: minimum rise by clogging with any falling source
PUSHED_DOWN = 0.03
HOTTER = 4.0  # K: a larger rise is mentioned
SLOW = 0.16  # s: a machine loses its pressure slowly by inertia, a joint at once; judgement


@dataclass(frozen=True)
class Change:
    """An observed change: differences of logarithms from the reference, NaN if a view is missing.

    pressure, flow : of the readings themselves
    source, build : anemometer over source and over build
    tol_source, tol_build : changes too small to mention
    profile : of the view that moved;  fall_time : s that the
    pressure took for most of its fall;  bubbling : flutter over what it was, 1 is as before
    solution : share of the solution's usual consumption that is still drawn;  spilt : the scale lost much at once
    hotter : K over the usual;  bare : what the build's view would show without the packing, NaN where not known
    """

    pressure: float
    flow: float
    source: float = nan
    build: float = nan
    tol_source: float = 0.03
    tol_build: float = 0.02
    profile: ChangeShape | None = None
    fall_time: float = nan
    bubbling: float = 1.0
    solution: float = nan
    spilt: bool = False
    hotter: float = 0.0
    bare: float = nan
    build_known: bool = True

    @property
    def ramp(self) -> bool:
        return self.profile is not None and self.profile.kind == "ramp"


@dataclass(frozen=True)
class Diagnosis:
    """A diagnosis: ``code`` of KINDS, ``seen`` as text, ``size`` relative, ``view`` that shows it (to detect its
    end).
    """

    code: str
    seen: str
    size: float
    view: str  # "pressure", "source", "build"


def diagnose(change: Change) -> Diagnosis:
    """The likeliest known fault; "changed" if none fits."""
    c = change
    code, size, view = _code(c)
    assert code in KINDS
    return Diagnosis(code, _seen(c, code), exp(size) - 1.0 if isfinite(size) else nan, view)


def _code(c: Change) -> tuple[str, float, str]:
    p = c.pressure
    has_flow = isfinite(c.flow)
    if not isfinite(p):
        return ("source_off" if c.flow < -3.0 else "changed"), c.flow, "flow"
    if not has_flow and p >= JOINT_OFF:
        return "changed", p, "pressure"
    if has_flow and c.flow < -3.0 and abs(p) < 0.1:
        return "anemometer", c.flow, "build"
    source_moved = isfinite(c.source) and abs(c.source) > c.tol_source
    build_moved = isfinite(c.build) and abs(c.build) > c.tol_build
    if p < JOINT_OFF:
        return _collapse(c)
    together = source_moved and build_moved and abs(c.source - c.build) < ALIKE * abs(c.source)
    if together and abs(p) < 0.02 and has_flow and abs(c.flow) > 0.03 and c.flow * c.source > 0.0:
        return "anemometer", c.source, "build"
    if build_moved and (not source_moved or abs(c.build) > abs(c.source)):
        return _of_build(c)
    if source_moved:
        return _of_source(c, c.source)
    if not isfinite(c.source) and abs(p) > 0.01 and not build_moved:
        return _of_source(c, p)
    return "changed", c.build if isfinite(c.build) else p, "build" if isfinite(c.build) else "pressure"


def _collapse(c: Change) -> tuple[str, float, str]:
    """More than half of the pressure is gone."""
    slow = c.fall_time > SLOW
    if not isfinite(c.flow):
        return ("source_off" if slow and c.pressure < GONE else "changed"), c.pressure, "pressure"
    before = c.source < -0.35 if isfinite(c.source) else c.flow < 0.3
    if not before:
        return "joint_off_after", c.pressure, "pressure"
    if not slow:
        return "joint_off_before", c.pressure, "pressure"
    return ("source_off" if c.pressure < GONE else "source_weak"), c.pressure, "pressure"


def _of_build(c: Change) -> tuple[str, float, str]:
    if c.build < 0.0 and c.pressure < PUSHED:
        # clogging raises the pressure; less air at the same or a lower pressure is not clogging
        if not isfinite(c.source) and c.pressure < -PUSHED_DOWN:
            return _of_source(c, c.pressure)
        return "changed", c.build, "build"
    if c.build < 0.0:
        return ("liquid_back" if c.bubbling > BUBBLES else "clogging"), c.build, "build"
    if c.spilt:
        return "dry", c.build, "build"
    if isfinite(c.solution) and c.solution < 0.85:
        return ("dry" if c.solution < 0.05 else "thinning"), c.build, "build"
    if c.ramp:
        return "thinning", c.build, "build"
    return ("packing_blown" if _as_without_packing(c) else "leak_after"), c.build, "build"


def _as_without_packing(c: Change) -> bool:
    if isfinite(c.bare) and c.bare > NO_PACKING:
        return 0.5 * c.bare < c.build < 1.5 * c.bare + 0.1  # uncertainty of a model scaled to two sweeps
    return c.build > BLOWN


def _of_source(c: Change, moved: float) -> tuple[str, float, str]:
    view = "source" if isfinite(c.source) else "pressure"
    if moved > 0.0:
        return "source_strong", moved, view
    if c.ramp or c.fall_time > SLOW:
        return "source_weak", moved, view
    return "leak_before", moved, view


def _percent(value: float) -> str:
    return f"{100 * abs(exp(value) - 1.0):.0f} %" if abs(value) > 0.095 else f"{100 * abs(exp(value) - 1.0):.1f} %"


def _seen(c: Change, code: str) -> str:
    if not isfinite(c.pressure):
        return f"flow {'down' if c.flow < 0 else 'up'} by {_percent(c.flow)}; the pressure is not known"
    p = f"pressure {'down' if c.pressure < 0 else 'up'} by {_percent(c.pressure)}"
    if code == "source_off":
        return f"{p}, almost no flow"
    if not isfinite(c.flow):
        return f"{p}; the flow is not known"
    x = f"flow {'down' if c.flow < 0 else 'up'} by {_percent(c.flow)}"
    if code == "anemometer":
        return f"{x} at constant pressure"
    known = "than before at this pressure" if not c.build_known else "than the build passes at this pressure"
    if code in {"leak_after", "packing_blown", "thinning", "dry", "joint_off_after", "clogging", "liquid_back"}:
        word = "more" if c.build > 0 else "less"
        told = f"{_percent(c.build)} {word} air {known}" if isfinite(c.build) and abs(c.build) < 2.5 else x
        how = ", still growing" if c.ramp else ""
        drawn = f"; solution drawn {100 * c.solution:.0f} % of before" if isfinite(c.solution) and c.build > 0 else ""
        bubbles = f"; pressure fluctuation {c.bubbling:.1f}×" if code == "liquid_back" else ""
        return f"{p}, {told}{how}{drawn}{bubbles}"
    if isfinite(c.source) and abs(c.source) < 2.5:
        word = "less" if c.source < 0 else "more"
        hot = f"; the air is {c.hotter:.0f} K hotter than usual" if c.hotter > HOTTER else ""
        return f"{p}, {_percent(c.source)} {word} air than the source gives at this pressure{hot}"
    return f"{p}, {x}"
