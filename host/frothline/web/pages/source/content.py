"""Words of the source's page: its figures in standard air, and what may be typed beside the recording's buttons."""

from __future__ import annotations

from frothline.bench.snapshot import Snapshot
from frothline.formatting import DASH, show_estimate
from frothline.web.elements import Node
from frothline.web.form_fields import entry

NAME, WORDS = "name", "words"  # of the entries, as they come back with the button


def name_entry(*, running: bool) -> list[Node]:
    """Nothing while a recording runs: its file has its name by then."""
    return [] if running else [entry("record", NAME, "recording name", example="by date and time")]


def mark_entry() -> list[Node]:
    return [entry("mark", WORDS, "words for a mark", example="hose kinked, bucket full")]


def in_standard_air(now: Snapshot, system: str) -> str:
    """The figures that compare from day to day, in words: those of air of 1.2 kg/m³, or why there are none."""
    standard = None if now.fit is None else now.fit.standard
    if standard is None:
        return ""
    if standard.why_not:
        return f"In standard air, 1.2 kg/m³: not known, {standard.why_not}"
    shown = (
        (name, show_estimate(estimate, quantity, system))
        for name, estimate, quantity in (
            ("shut-off", standard.shut_off, "pressure"),
            ("free delivery", standard.free_delivery, "flow"),
            ("air power", standard.air_power, "power"),
        )
    )
    words = ", ".join(f"{name} {one.value} {one.unit} ({one.under})" for name, one in shown if one.value != DASH)
    return f"In standard air, 1.2 kg/m³ (here it is {standard.found_in:.2f}): {words}"


def fit_words(now: Snapshot, why: str) -> str:
    if now.fit is None and now.fit_running:
        return "working on the curve"
    if now.fit is None:
        return f"No curve yet: {why}" if now.points else "A guided sweep finds its curve."
    return ". ".join(text[:1].upper() + text[1:] for text in now.fit.advice)
