"""Summary of a run on every page: phase, alarms, key figures."""

from __future__ import annotations

from typing import cast

from frothline.bench import snapshot as bench
from frothline.bench.snapshot import Snapshot
from frothline.estimate import Estimate
from frothline.formatting import (
    DASH,
    PERCENT,
    RATIO,
    Shown,
    running_time,
    show_estimate,
    show_estimate_in,
    show_time,
    unit_of,
)
from frothline.run.state import PRIMING, RunState, no_foam_reason
from frothline.run.watch.alarm_kinds import ALARM, KINDS, NOTICE
from frothline.run.watch.alarms import Alarm
from frothline.web.live_figures import LineFault, Place
from frothline.web.texts import put_figure

PHASES = {
    "waiting": "No air yet",
    "air alone": "Air only, no foam yet",
    "priming": "Priming",
    "foaming": "Foaming",
    "thinning": "Foam getting too dry",
    "dry": "Reservoir dry",
    "unknown": "Running",
}


NO_RUN = "no run yet"


def figures(run: RunState | None, system: str) -> dict[str, str]:
    """The three large figures, the phase and the clock of the run."""
    texts: dict[str, str] = {}
    for name, quantity in (("foam_rate", "foam_rate"), ("foam_total", "volume"), ("time_left", "time")):
        put_figure(texts, f"run-{name}", run_figure(run, name, quantity, system))
    if run is not None and run.running and run.phase == PRIMING and texts["run-foam_total"] != DASH:
        texts["run-foam_total-under"] = f"estimate while priming: {texts['run-foam_total-under']}"
    said = phase(run)
    texts["run-phase"] = f"{said[:1].upper()}{said[1:]}"
    texts["run-good"] = good_until(run, system)
    texts["run-clock"] = "" if run is None else running_time(run.elapsed)
    return texts


def phase(run: RunState | None) -> str:
    """State of the run as text: the most severe active alarm, else the phase in the words of the watch."""
    if run is None:
        return ""
    if not run.running:
        return "the run has ended"
    alarm = gravest(run)
    if alarm is not None and alarm.code == "pressure_off":
        return run.phase_words if run.phase_words.startswith("not monitoring") else f"not monitoring: {alarm.title}"
    return alarm.title if alarm is not None else run.phase_words or PHASES[run.phase]


def gravest(run: RunState | None) -> Alarm | None:
    """The most severe active alarm; warnings and notices do not count."""
    lasting = run.alarms if run is not None and run.running else ()
    return next((alarm for alarm in lasting if alarm.severity == ALARM and alarm.active), None)


def sounding(run: RunState | None) -> list[str]:
    """A key for each active alarm, by which a page tracks silenced alarms."""
    if run is None or not run.running:
        return []
    lasting = (alarm for alarm in run.alarms if alarm.severity == ALARM and alarm.active)
    return [f"{run.started:.1f}/{alarm.number}" for alarm in lasting]


def over_everything(now: Snapshot) -> dict[str, str]:
    """The most severe alarm for full-screen pages; empty without one."""
    alarm = gravest(now.run)
    if alarm is None and now.link.state == bench.LOST:
        return {"over-title": "USB cable unplugged", "over-do": "Plug it back in; recording resumes."}
    return {"over-title": alarm.title if alarm else "", "over-do": alarm.do if alarm else ""}


def good_until(run: RunState | None, system: str) -> str:
    """Amount of foam made before the first alarm that spoils foam; empty without such an alarm."""
    alarm = None if run is None else run.spoilt
    if run is None or alarm is None:
        return ""
    at = f"“{alarm.title}” at {running_time(alarm.onset - run.started)}"
    shown = show_estimate(run.output.foam_good, "volume", system)
    if shown.value == DASH:
        return f"No good foam was made before {at}."
    return f"Good foam until {at}: {shown.value} {shown.unit} ({shown.under})."


def run_figure(run: RunState | None, name: str, quantity: str, system: str) -> Shown:
    """A figure of ``RunFigures`` as text, or the reason why it is unknown."""
    minutes = name == "time_left"
    if run is None:
        return Shown(DASH, "min" if minutes else unit_of(quantity, system).symbol, NO_RUN)
    estimate, why = getattr(run.output, name), run.output.why.get(name, "")
    if name in {"foam_rate", "time_left"} and (stopping := no_foam_reason(run)):
        estimate, why = None, stopping
    if minutes and not (estimate is not None and estimate.value == 0.0 == estimate.upper):
        return show_time(estimate, reason=why)
    shown = shown_figure(estimate, quantity, system, why)
    return Shown(shown.value, "min", shown.under) if minutes else shown


def shown_figure(estimate: Estimate | None, quantity: str, system: str, why: str = "") -> Shown:
    """An estimate as text; ``quantity`` "1" and "%" are a ratio and a share."""
    unit = {"1": RATIO, "%": PERCENT}.get(quantity) or unit_of(quantity, system)
    if estimate is not None and estimate.value == 0.0 == estimate.upper:
        return Shown("0", unit.symbol, "none left")
    known = estimate if estimate is not None and estimate.known else None
    return show_estimate_in(known, unit, reason=why)


def line_texts(run: RunState | None, system: str) -> dict[str, str]:
    """Texts at bucket and generator on the line; empty without a run."""
    if run is None or not run.running:
        return {}
    foam, left = run_figure(run, "foam_rate", "foam_rate", system), run_figure(run, "solution_left", "volume", system)
    return {
        "line-foam": "" if foam.value == DASH else f"{foam.value} {foam.unit}",
        "line-solution": "" if left.value == DASH else f"{left.value} {left.unit} left",
    }


def faults(run: RunState | None) -> tuple[LineFault, ...]:
    """The alarms of a run at their place on the line."""
    if run is None or not run.running:
        return ()
    return tuple(
        LineFault(
            cast("Place", KINDS[alarm.code].line_place or alarm.place),
            KINDS[alarm.code].line_word or alarm.title,
            alarm=alarm.severity != NOTICE,
        )
        for alarm in run.alarms
    )
