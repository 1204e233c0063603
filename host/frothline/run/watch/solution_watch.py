"""Alarms of missing solution, by the scale or by the increased air flow of a drying build."""

from __future__ import annotations

from collections.abc import Mapping
from math import exp, isfinite, nan

from frothline.run.state import FOAMING, UNKNOWN
from frothline.run.watch.alarm_kinds import KINDS
from frothline.run.watch.alarm_words import words_of
from frothline.run.watch.phases import PhaseTracker
from frothline.run.watch.startup import share_of
from frothline.run.watch.watch_state import WatchState


class SolutionWatch:
    """Raises "thinning" and "dry", and updates their words by the scale."""

    def __init__(self, state: WatchState, phases: PhaseTracker) -> None:
        self._state = state
        self._phases = phases

    def look(self, block: Mapping[str, float]) -> None:
        state = self._state
        drawn, book, level = state.readings.drawn, state.alarms, state.moving
        if state.phase == FOAMING and not book.blamed and state.change is None:
            state.draw.learn(drawn)
        if level is None:
            return
        if state.phase == FOAMING and state.draw.tells and isfinite(drawn):
            if state.draw.falls_short(drawn) and not level.off("flow", block["flow"]) < -0.2:
                book.held("scale", state.time, 0.5, self.thinning)  # less air would draw less solution
            else:
                book.let_go("scale")
        elif "thinning" in book.lasting:
            before = book.lasting["thinning"].before
            grown = before.off("build", block["build"]) if before is not None else nan
            if self._is_dry(grown):
                book.held("dry", state.time, 1.0, lambda: self._dry(grown))
            else:
                book.let_go("dry")
        nearly = state.solution_share < 0.05 and level.off("build", block["build"]) > 0.05
        if nearly and state.phase in (FOAMING, UNKNOWN):  # no further wait is needed
            book.end("leak_after", state.time)
            self.thinning()

    def _is_dry(self, grown: float) -> bool:
        """Whether the build is dry: by the scale if possible, else by the approach of the build's view to that of a dry
        build.
        """
        state = self._state
        s, share = state.settings, state.drawn_share
        if isfinite(share):
            return share < s.spent and (grown > 0.1 or not isfinite(grown))
        if state.views.dried is None or state.moving is None:
            return grown > s.dry_at
        whole = state.views.dried.at(exp(state.moving.level["pressure"]))
        return grown > min(s.dry_at, s.dry_share * whole)

    def thinning(self) -> None:
        state = self._state
        state.seen["thinning"] = ""
        kind = words_of("thinning", state.solution_share, state.drawn_share)
        state.alarms.say(
            "thinning",
            state.time,
            self._shortage("thinning"),
            onset=state.time - 1.0,
            before=state.moving,
            view="build",
            as_kind=kind,
        )
        self._phases.after_alarm("thinning")
        state.charts.reset()
        state.change = None

    def _shortage(self, code: str) -> str:
        """The present observation of missing solution; the scale continues during the alarm."""
        state = self._state
        drawn = state.drawn_share
        now = f"solution drawn {_coarse(drawn)} of before" if isfinite(drawn) else "more air passes"
        left = (
            f"; {_coarse(state.solution_share)} of the initial solution is left"
            if isfinite(state.solution_share)
            else ""
        )
        return (state.seen.get(code) or now) + left

    def update_words(self) -> None:
        """Update alarms of missing solution with the present scale reading."""
        state = self._state
        for code in ("thinning", "dry"):
            if code in state.alarms.lasting and isfinite(state.solution_share):
                kind = words_of(code, state.solution_share, state.drawn_share)
                state.alarms.say_as(code, self._shortage(code), kind)
                if kind is not KINDS[code]:
                    state.words = kind.title

    def _dry(self, grown: float) -> None:
        state = self._state
        entry = state.alarms.lasting["thinning"]
        state.alarms.end("thinning", state.time)
        seen = f"{share_of(grown)} air than while foaming at this pressure"
        state.alarms.say(
            "dry",
            state.time,
            seen,
            onset=entry.alarm.onset,
            size=exp(grown) - 1.0,
            before=entry.before,
            view="build",
            as_kind=words_of("dry", state.solution_share, state.drawn_share),
        )
        state.seen["dry"] = seen
        self._phases.after_alarm("dry")


def _coarse(share: float) -> str:
    """Round to steps of 5 %, below 10 % of 1 %, so that the words do not change with every reading."""
    return f"{share * 100:.0f} %" if share < 0.1 else f"{round(share * 20) * 5} %"
