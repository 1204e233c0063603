"""Plausibility findings on the pages: marks on the line and sentences below the chart."""

from __future__ import annotations

from collections.abc import Sequence

from frothline.sensors.finding import Finding
from frothline.web.elements import Node, node
from frothline.web.live_figures import LineFault, Place

PLACES: dict[str, Place] = {
    "pressure": "tap",
    "differential": "spool",
    "rotor": "rotor",
    "thermal": "rotor",
    "temperature": "spool",
    "ambient": "spool",
    "supply": "spool",
    "scale": "bucket",
    "sweep": "source",
}
# Two or three words for the mark on the line; the source page has the sentence.
WORDS = {
    "supply-sagging": "supply sags",
    "supply-low": "supply too low",
    "flow-backwards": "backwards?",
    "flow-disagrees": "flow disagrees",
    "pressure-wrong-sensor": "swapped?",
    "channels-swapped": "swapped?",
    "tap-blocked": "blocked?",
    "tap-sluggish": "half blocked?",
    "pressure-rises-with-flow": "swapped?",
    "rotor-silent": "not turning",
    "sensor-silent": "no signal",
    "sensor-clipped": "at its limit",
}
AT = {
    "source": "At the source",
    "tap": "At the pressure tap",
    "spool": "On the spool",
    "rotor": "At the rotor",
    "bucket": "At the bucket",
}


def faults(found: Sequence[Finding], known: Sequence[LineFault] = ()) -> tuple[LineFault, ...]:
    """Marks on the line; a place with a mark already (a silent sensor) gets no second one."""
    taken = {fault.place for fault in known}
    made: dict[tuple[str, str], LineFault] = {}
    for one in found:
        place, word = PLACES.get(one.channel), WORDS.get(one.code)
        if one.severity == "warning" and place is not None and word is not None and place not in taken:
            made.setdefault((place, word), LineFault(place, word))
    return tuple(made.values())


def pieces(found: Sequence[Finding]) -> list[Node | None]:
    """Sentences with place, observation and action."""
    if not found:
        return []
    items = [
        node(
            "li",
            node("b", f"{AT.get(PLACES.get(one.channel, ''), 'On the rig')}: "),
            f"{one.what}. ",
            node("span", f"{one.remedy}."),
            data_code=one.code,
            data_is=one.severity,
        )
        for one in found
    ]
    wrong = any(one.severity == "warning" for one in found)
    return [node("h2", "What looks wrong" if wrong else "Missing in the sweep"), node("ul", *items)]
