"""What the run watch says: one kind of alarm a row, with where on the line it sits, what it means and what to do.

The words stand here once; pages, prompt and recording show them. What was seen in this very run is put into the alarm
when it is raised.
"""

from __future__ import annotations

from dataclasses import dataclass
from types import MappingProxyType
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Mapping

    from frothline.estimate import Estimate

NOTICE, WARNING, ALARM = "notice", "warning", "alarm"
SEVERITIES = (NOTICE, WARNING, ALARM)  # as in the recording
PLACES = ("source", "hose", "spool", "generator", "outlet", "bucket")  # along the line, as the air goes
PARTS = ("connection", "joint", "holes", "reservoir", "packing", "outlet")  # of a build, as its drawing shows them


@dataclass(frozen=True)
class AlarmKind:
    """One kind of alarm. ``code`` is stable and fits the recording (24 bytes); ``title`` is large type, few words.

    ``place`` is one of PLACES; ``parts`` those of PARTS it can sit at, the likeliest first: more than one where what is
    measured cannot tell them apart, none where it does not sit on the generator or its hose. ``mark`` is the word that
    stands beside it there, so short that two of them find room side by side.
    """

    code: str
    severity: str
    place: str
    title: str
    means: str
    do: str
    parts: tuple[str, ...] = ()
    mark: str = ""


@dataclass(frozen=True)
class Alarm:
    """One alarm of one run.

    ``severity`` is one of SEVERITIES, ``place`` one of PLACES (for the mark on the drawing); ``title`` a few words in
    large type; ``seen`` what was measured, ``means`` what it likely is, ``do`` what to do. ``time`` is s of session
    time when it was raised, ``onset`` when it seems to have begun, ``ended`` when it was over (None while it lasts).
    ``size`` is the change that was seen, relative, where there is one. ``number`` counts alarms of the run from 1: an
    alarm keeps it when its words change or when it ends.
    """

    number: int
    code: str
    severity: str
    place: str
    title: str
    seen: str
    means: str
    do: str
    time: float
    onset: float
    ended: float | None = None
    size: Estimate | None = None
    mark: str = ""  # the word at its part on the drawing

    @property
    def active(self) -> bool:
        return self.ended is None


_ROWS = (
    AlarmKind(
        "packing_blown",
        ALARM,
        "outlet",
        "packing blown out",
        "The packing has left through the outlet: nothing holds the air back, and what comes is no foam to count on.",
        "Stop the air. Put the packing back behind a screen or a bar, then start again.",
        parts=("packing",),
        mark="blown out",
    ),
    AlarmKind(
        "joint_off_after",
        ALARM,
        "hose",
        "joint off after the anemometer",
        "A hose or joint between spool and generator has come off.",
        "Stop the air, push the joint home and secure it, then start again.",
        parts=("joint",),
        mark="joint off",
    ),
    AlarmKind(
        "joint_off_before",
        ALARM,
        "source",
        "joint off before the anemometer",
        "A hose or joint between the air source and the spool has come off.",
        "Stop the air, push the joint home and secure it, then start again.",
    ),
    AlarmKind(
        "leak_after",
        WARNING,
        "hose",
        "leak after the anemometer",
        "Air that was measured does not pass the generator: a leak between spool and generator. Where "
        "the packing takes little of the pressure, a packing that has gone looks the same.",
        "Feel and listen along the hose and joints after the spool; soapy water shows the place.",
        parts=("joint",),
        mark="leak",
    ),
    AlarmKind(
        "leak_before",
        WARNING,
        "source",
        "leak before the anemometer",
        "The source gives air that does not arrive at the spool: a leak between the two.",
        "Feel and listen along the hose and joints before the spool; soapy water shows the place.",
    ),
    AlarmKind(
        "source_weak",
        WARNING,
        "source",
        "source gives less than it did",
        "The air source gives less than when it was measured, or than earlier in this run: a filling filter, low "
        "mains or a slow leak.",
        "Look at the filter and the inlet first, then at the mains; sweep the source again if it stays so.",
    ),
    AlarmKind(
        "source_strong",
        NOTICE,
        "source",
        "source gives more than its curve",
        "The source runs stronger than when it was measured: higher mains, a cleaned filter, or colder air.",
        "Nothing to mend. Sweep the source again, so that leaks can be seen.",
    ),
    AlarmKind(
        "clogging",
        WARNING,
        "generator",
        "generator clogs",
        "The generator asks for more pressure than it did: packing or holes fill up, or the foam hose is pinched.",
        "Look along the foam hose for a kink, then rinse packing and holes with clean water.",
        parts=("packing", "holes"),
        mark="clogs",
    ),
    AlarmKind(
        "liquid_back",
        ALARM,
        "generator",
        "liquid creeps back",
        "Solution stands in the air connection and bubbles there; it can run back to the spool and into the source.",
        "Let the air run on while you raise the hose above the liquid's level or lower the level; stopping the air "
        "first lets the liquid run back.",
        parts=("connection",),
        mark="liquid back",
    ),
    AlarmKind(
        "thinning",
        WARNING,
        "generator",
        "foam thins: solution nearly out",
        "The solution no longer stands over the intake: less is drawn, and the foam gets dry and then ends.",
        "Refill now, or stop filling the batch: what comes from here on is not the foam that was weighed.",
        parts=("reservoir",),
        mark="running dry",
    ),
    AlarmKind(
        "dry",
        ALARM,
        "generator",
        "reservoir dry",
        "No solution is left: air alone passes, and the foam is over.",
        "Stop the air or refill. Do not count what came after the alarm as foam.",
        parts=("reservoir",),
        mark="reservoir dry",
    ),
    AlarmKind(
        "hot",
        WARNING,
        "source",
        "air gets too hot",
        "The air source heats its air: it works too near to shut-off, its filter is full, or its motor is failing.",
        "Open a bleed before the spool to give it air, or stop and let it cool.",
    ),
    AlarmKind(
        "too_hot",
        ALARM,
        "source",
        "air too hot for plastic pipe",
        "Plastic pipe and hose lose their strength at this temperature, and the motor its insulation.",
        "Stop the source now and let it cool. Find out why before the next run.",
    ),
    AlarmKind(
        "pressure_high",
        ALARM,
        "spool",
        "pressure too high",
        "The pressure is above what push-fit joints and this spool are meant for.",
        "Open the bleed or stop the source. A compressor needs a regulator and a relief valve.",
    ),
    AlarmKind(
        "anemometer",
        WARNING,
        "spool",
        "anemometer disagrees",
        "Pressure, curve and build agree, the anemometer agrees with neither: it is fouled, blocked or loose.",
        "Stop, take the rotor out, rinse foam and grit off, see that it spins freely.",
    ),
    AlarmKind(
        "anemometer_off",
        WARNING,
        "spool",
        "anemometer silent",
        "No pulses come although the line has pressure: its plug is out, its cable is broken, or the rotor is stuck.",
        "Look at the plug and the cable first, then at the rotor. Until then the flow is not watched.",
        mark="silent",
    ),
    AlarmKind(
        "pressure_off",
        ALARM,
        "spool",
        "pressure sensor silent",
        "No pressure is read any more: the sensor's plug is out or its cable is broken. Too much pressure, leaks and "
        "clogging are not seen.",
        "Look at the plug and the cable of the pressure sensor. Watch the line yourself until it is back, or stop the "
        "air.",
    ),
    AlarmKind(
        "thermometer_off",
        WARNING,
        "spool",
        "line thermometer silent",
        "The line temperature is not read any more: too hot air is not seen.",
        "Look at the plug and the cable of the thermometer. Feel the pipe by hand until it is back.",
    ),
    AlarmKind(
        "scale_off",
        WARNING,
        "generator",
        "scale silent",
        "The mass of the reservoir is not read any more: solution that runs out is seen later, and what is left is "
        "calculated from the air.",
        "Look at the plug and the cable of the scale, and whether the reservoir still stands on it.",
        parts=("reservoir",),
        mark="scale silent",
    ),
    AlarmKind(
        "changed",
        WARNING,
        "spool",
        "flow and pressure have changed",
        "Something on the line has changed, and with what is known of this line it cannot be said what.",
        "Look along the whole line. With a swept source and a build sheet the watch could say where.",
    ),
    AlarmKind(
        "source_off",
        ALARM,
        "source",
        "no air",
        "The air source has stopped, or nothing of it arrives.",
        "Look at the switch, the mains and the hose. Mind that liquid may run back to the source.",
    ),
    AlarmKind(
        "off_at_start",
        NOTICE,
        "spool",
        "not where it should meet",
        "From the beginning the line does not work where curve and build sheet say it should.",
        "Check the build sheet against the bench, and whether the curve is of this source.",
    ),
)
KINDS: Mapping[str, AlarmKind] = MappingProxyType({row.code: row for row in _ROWS})

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
PLENTY = 0.3  # of the load: with more than that left the solution is not running out; judgement
DRAWN = 0.2  # of the usual consumption: with more than that drawn it is not true that none is; judgement


def words_of(code: str, left: float, drawn: float) -> AlarmKind:
    """Words of an alarm that agree with the scale: ``left`` share of the load, ``drawn`` share of the usual; or NaN."""
    if code == "thinning" and left > PLENTY:
        return DRAWS_LESS
    if code == "dry" and drawn > DRAWN:
        return NOT_BACK
    if code == "dry" and left > PLENTY:
        return DRAWS_NONE
    return KINDS[code]
