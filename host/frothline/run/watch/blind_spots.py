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
        return ("neither pressure nor flow is known: nothing can be seen",)
    words = []
    if learning:
        words.append("the level of this run is still being learnt: only what goes off with a bang is seen yet")
    if "pressure" not in there:
        words.append("no pressure: only a change of the flow is seen, not where it comes from")
    if "flow" not in there:
        words.append("no anemometer: leaks cannot be placed, and small ones are not seen")
    if not source:
        words.append(
            "no source curve: leaks before the anemometer and a weakening source look alike, and small ones are not "
            "seen; sweep the source once"
        )
    if not build:
        words.append("no build: what the generator asks for is taken from this run, so a wrong start is not seen")
    if "mass" not in there:
        words.append("no scale: solution that runs out is told by pressure and flow alone, and later")
    elif scale_useless:
        words.append("the scale does not fall: the reservoir is refilled, or the scale does not carry it")
    if "temperature" not in there:
        words.append("no line thermometer: hot air is not seen")
    return tuple(words)
