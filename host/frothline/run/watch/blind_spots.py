"""Faults that cannot be detected with the fitted sensors."""

from __future__ import annotations

from collections.abc import Collection


def cannot_see(
    there: Collection[str], *, source: bool, build: bool, scale_useless: bool, learning: bool
) -> tuple[str, ...]:
    """List these faults as sentences.

    there : the known ones of pressure, flow, mass, temperature
    source, build : whether the source's curve and the build's line are known
    scale_useless : whether there is a scale that does not fall
    learning : whether the level is not known yet
    """
    if "pressure" not in there and "flow" not in there:
        return ("neither pressure nor flow is known: no alarm is possible",)
    words = []
    if learning:
        words.append("the normal level of this run is still being learnt: only abrupt faults are detected yet")
    if "pressure" not in there:
        words.append("no pressure: a change of the flow is detected, but not its cause")
    if "flow" not in there:
        words.append("no anemometer: leaks cannot be located, and small leaks are not detected")
    if not source:
        words.append(
            "no source curve: leaks before the anemometer and a weakening source cannot be separated, and small "
            "ones are not detected; sweep the source once"
        )
    if not build:
        words.append("no build: the generator's resistance is taken from this run, so a wrong start is not detected")
    if "mass" not in there:
        words.append("no scale: low solution is detected from pressure and flow only, and later")
    elif scale_useless:
        words.append("the mass on the scale does not fall: the reservoir is refilled, or is not on the scale")
    if "temperature" not in there:
        words.append("no line thermometer: hot air is not detected")
    return tuple(words)
