"""Other words of some alarms: "thinning" and "dry" in agreement with the scale, frozen sensors."""

from __future__ import annotations

from frothline.run.watch.alarm_kinds import ALARM, KINDS, WARNING, AlarmKind

# Words of "thinning" and "dry" where the scale shows that the reservoir is not nearly empty, or that solution is drawn.
DRAWS_LESS = AlarmKind(
    "thinning",
    WARNING,
    "generator",
    "less solution is drawn",
    "The scale shows enough solution, but less is drawn: intake, hose or pump is blocked or draws air, or the "
    "reservoir was not filled as in the sheet. The foam gets too dry.",
    "Check the reservoir, then the intake and its hose. The foam from now on differs from the sample.",
    parts=("reservoir",),
    mark="draws less",
)


DRAWS_NONE = AlarmKind(
    "dry",
    ALARM,
    "generator",
    "no solution is drawn",
    "The scale shows enough solution, but none is drawn: intake, hose or pump is blocked or draws air, or the "
    "reservoir was not filled as in the sheet. Only air flows.",
    "Stop the air. Check the reservoir, then the intake and its hose. Do not use the foam made after the alarm.",
    parts=("reservoir",),
    mark="draws none",
)


NOT_BACK = AlarmKind(
    "dry",
    ALARM,
    "generator",
    "foam is not back yet",
    "Solution is drawn again, but the air flow is still higher than while foaming.",
    "Wait until the packing is wet again. Do not use the foam made before the alarm ends.",
    parts=("reservoir",),
    mark="not back yet",
)


FROZEN = "exactly the same reading for seconds while air flows"


PRESSURE_FROZEN = AlarmKind(
    "pressure_off",
    ALARM,
    "spool",
    "pressure reading frozen",
    "The pressure is not measured: the sensor hangs and repeats its last reading, or its cable is damaged. "
    "Overpressure, leaks and clogging are not detected.",
    "Unplug the pressure sensor, or the board, and plug it in again. Watch the line yourself until the reading moves, "
    "or stop the air.",
)


FLOW_FROZEN = AlarmKind(
    "anemometer_off",
    WARNING,
    "spool",
    "anemometer reading frozen",
    "The flow is not measured: the anemometer hangs and repeats its last reading.",
    "Unplug the anemometer, or the board, and plug it in again. Until the reading moves the flow is not monitored.",
    mark="frozen",
)


PLENTY = 0.3  # of the load: with more left the solution is not running out; judgement


DRAWN = 0.2  # of the usual consumption: with more drawn the draw is not zero; judgement


def words_of(code: str, left: float, drawn: float) -> AlarmKind:
    """Words of an alarm that agree with the scale: ``left`` share of the load, ``drawn`` share of the usual; or NaN."""
    if code == "thinning" and left > PLENTY:
        return DRAWS_LESS
    if code == "dry" and drawn > DRAWN:
        return NOT_BACK
    if code == "dry" and left > PLENTY:
        return DRAWS_NONE
    return KINDS[code]
