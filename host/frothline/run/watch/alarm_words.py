"""Words of the alarms "thinning" and "dry" in agreement with the scale."""

from __future__ import annotations

from frothline.run.watch.alarm_kinds import ALARM, KINDS, WARNING, AlarmKind

# Words of "thinning" and "dry" where the scale shows that the reservoir is not nearly empty, or that solution is drawn.
DRAWS_LESS = AlarmKind(
    "thinning",
    WARNING,
    "generator",
    "less solution is drawn",
    "By the scale enough is left, and less of it is drawn: the intake, its hose or the pump is blocked or takes air, "
    "or the reservoir was not filled as the sheet says. The foam gets dry.",
    "Look into the reservoir, then at the intake and its hose. What comes from here on is not the foam that was "
    "weighed.",
    parts=("reservoir",),
    mark="draws less",
)


DRAWS_NONE = AlarmKind(
    "dry",
    ALARM,
    "generator",
    "no solution is drawn",
    "By the scale enough is left, and none of it is drawn: the intake, its hose or the pump is blocked or takes air, "
    "or the reservoir was not filled as the sheet says. Air alone passes, and the foam is over.",
    "Stop the air, look into the reservoir, then at the intake and its hose. Do not count what came after the alarm as "
    "foam.",
    parts=("reservoir",),
    mark="draws none",
)


NOT_BACK = AlarmKind(
    "dry",
    ALARM,
    "generator",
    "foam is not back yet",
    "Solution is drawn again, and the line still passes more air than it did while it foamed.",
    "Wait until the packing is wet again. Do not count as foam what comes until the alarm ends.",
    parts=("reservoir",),
    mark="not back yet",
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
