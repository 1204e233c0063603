"""The kinds of alarms, one per row, with place on the line, meaning and action.

Pages, command line and recording show these words. The observation of the run is added when an alarm is raised.
"""

from __future__ import annotations

from dataclasses import dataclass
from types import MappingProxyType
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Mapping

NOTICE, WARNING, ALARM = "notice", "warning", "alarm"
SEVERITIES = (NOTICE, WARNING, ALARM)  # as in the recording
PLACES = ("source", "hose", "spool", "generator", "outlet", "bucket")  # along the line, in flow order
PARTS = ("connection", "joint", "holes", "reservoir", "packing", "outlet")  # of a build, as in its drawing


Range = tuple[float, float]
ALL: Range = (1.0, 1.0)


@dataclass(frozen=True)
class Remaining:
    """Air and foam that a fault leaves, as ranges: ``air``, the share of the measured air that reaches the generator;
    ``foam``, the share of the usual foam that this air makes. ``words``: reason for a missing foam rate, else empty.
    """

    air: Range = ALL
    foam: Range = ALL
    words: str = ""

    @property
    def whole(self) -> bool:
        return self.air == self.foam == ALL


@dataclass(frozen=True)
class AlarmKind:
    """One kind of alarm. ``code`` is stable and fits the recording (24 bytes); ``title`` is large type, few words.

    ``place`` is one of PLACES. ``parts`` are the possible PARTS, the likeliest first: several if the measurements
    cannot distinguish them, none for a fault outside of generator and hose. ``mark`` is its word on the drawing, short
    enough that two fit next to each other.

    ``side``: only one alarm of a side is active at a time; the more severe one is the earlier row. ``ends_watching``:
    the watch is suspended until the line is back. ``spoils_foam``: foam made during the alarm differs from the weighed
    foam. ``no_foam``: the indicated air makes no foam. ``learnable``: the levels of the line can be learnt during it.
    ``own_limit``: raised and ended by a fixed limit, so that a new start of the air does not end it. ``remaining``: air
    and foam that it leaves. ``air_by_size``: the anemometer shows (1 + size) times the air that reaches the generator.
    ``line_place`` and ``line_word``: place and word in the diagram of the line, if different from ``place`` and
    ``title``.
    """

    code: str
    severity: str
    place: str
    title: str
    means: str
    do: str
    parts: tuple[str, ...] = ()
    mark: str = ""
    side: str = ""
    ends_watching: bool = False
    spoils_foam: bool = False
    no_foam: bool = False
    learnable: bool = False
    own_limit: bool = False
    remaining: Remaining | None = None
    air_by_size: bool = False
    line_place: str = ""
    line_word: str = ""


# Without packing the bubbles are coarse and burst: at most half of the foam, judgement. A joint that is off takes more
# than half of the pressure (see ``fault_signatures``), so at most two thirds of the air reaches the generator.
_ROWS = (  # within a side the most severe first
    AlarmKind(
        "packing_blown",
        ALARM,
        "outlet",
        "packing blown out",
        "The packing has left through the outlet: nothing holds the air back, and what comes is no foam to count on.",
        "Stop the air. Put the packing back behind a screen or a bar, then start again.",
        parts=("packing",),
        mark="blown out",
        side="foam",
        ends_watching=True,
        spoils_foam=True,
        no_foam=True,
        remaining=Remaining(foam=(0.0, 0.5), words="the packing has left: what comes is not the foam that was weighed"),
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
        side="foam",
        ends_watching=True,
        spoils_foam=True,
        no_foam=True,
        line_word="joint off",
        remaining=Remaining(air=(0.0, 0.7), words="a joint is off: how much air reaches the generator is not known"),
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
        side="foam",
        ends_watching=True,
        spoils_foam=True,
        no_foam=True,
    ),
    AlarmKind(
        "thinning",
        WARNING,
        "generator",
        "foam getting too dry: solution nearly out",
        "The solution no longer stands over the intake: less is drawn, and the foam gets dry and then ends.",
        "Refill now, or stop filling the batch: what comes from here on is not the foam that was weighed.",
        parts=("reservoir",),
        mark="running dry",
        side="foam",
        spoils_foam=True,
        line_word="foam getting too dry",
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
        side="foam",
        line_word="leak",
        air_by_size=True,
    ),
    AlarmKind(
        "source_off",
        ALARM,
        "source",
        "no air",
        "The air source has stopped, or nothing of it arrives.",
        "Look at the switch, the mains and the hose. Mind that liquid may run back to the source.",
        side="air",
        ends_watching=True,
        spoils_foam=True,
        no_foam=True,
        remaining=Remaining(foam=(0.0, 1.0), words="no air"),
    ),
    AlarmKind(
        "joint_off_before",
        ALARM,
        "source",
        "joint off before the anemometer",
        "A hose or joint between the air source and the spool has come off.",
        "Stop the air, push the joint home and secure it, then start again.",
        side="air",
        ends_watching=True,
        spoils_foam=True,
        no_foam=True,
        line_place="inlet",
        line_word="joint off",
        remaining=Remaining(foam=(0.0, 1.0), words="a joint is off before the spool: hardly any air arrives"),
    ),
    AlarmKind(
        "leak_before",
        WARNING,
        "source",
        "leak before the anemometer",
        "The source gives air that does not arrive at the spool: a leak between the two.",
        "Feel and listen along the hose and joints before the spool; soapy water shows the place.",
        side="air",
        line_place="inlet",
        line_word="leak",
    ),
    AlarmKind(
        "source_weak",
        WARNING,
        "source",
        "air source weaker than before",
        "The air source gives less than when it was measured, or than earlier in this run: a filling filter, low "
        "mains or a slow leak.",
        "Look at the filter and the inlet first, then at the mains; sweep the source again if it stays so.",
        side="air",
    ),
    AlarmKind(
        "source_strong",
        NOTICE,
        "source",
        "source gives more than its curve",
        "The source runs stronger than when it was measured: higher mains, a cleaned filter, or colder air.",
        "Nothing to mend. Sweep the source again, so that leaks can be seen.",
        learnable=True,
    ),
    AlarmKind(
        "liquid_back",
        ALARM,
        "generator",
        "solution flowing back",
        "Solution stands in the air connection and bubbles there; it can run back to the spool and into the source.",
        "Let the air run on while you raise the hose above the liquid's level or lower the level; stopping the air "
        "first lets the liquid run back.",
        parts=("connection",),
        mark="liquid back",
        side="liquid",
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
        side="liquid",
    ),
    AlarmKind(
        "hot",
        WARNING,
        "source",
        "air gets too hot",
        "The air source heats its air: it works too near to shut-off, its filter is full, or its motor is failing.",
        "Open a bleed before the spool to give it air, or stop and let it cool.",
        learnable=True,
        own_limit=True,
    ),
    AlarmKind(
        "too_hot",
        ALARM,
        "source",
        "air too hot for plastic pipe",
        "Plastic pipe and hose lose their strength at this temperature, and the motor its insulation.",
        "Stop the source now and let it cool. Find out why before the next run.",
        learnable=True,
        own_limit=True,
    ),
    AlarmKind(
        "pressure_high",
        ALARM,
        "spool",
        "pressure too high",
        "The pressure is above what push-fit joints and this spool are meant for.",
        "Open the bleed or stop the source. A compressor needs a regulator and a relief valve.",
        learnable=True,
        own_limit=True,
    ),
    AlarmKind(
        "anemometer",
        WARNING,
        "spool",
        "anemometer disagrees",
        "Pressure, curve and build agree, the anemometer agrees with neither: it is fouled, blocked or loose.",
        "Stop, take the rotor out, rinse foam and grit off, see that it spins freely.",
        air_by_size=True,
    ),
    AlarmKind(
        "anemometer_off",
        WARNING,
        "spool",
        "anemometer silent",
        "No pulses come although the line has pressure: its plug is out, its cable is broken, or the rotor is stuck.",
        "Look at the plug and the cable first, then at the rotor. Until then the flow is not watched.",
        mark="silent",
        learnable=True,
        own_limit=True,
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
        learnable=True,
        own_limit=True,
    ),
    AlarmKind(
        "thermometer_off",
        WARNING,
        "spool",
        "line thermometer silent",
        "The line temperature is not read any more: too hot air is not seen.",
        "Look at the plug and the cable of the thermometer. Feel the pipe by hand until it is back.",
        learnable=True,
        own_limit=True,
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
        learnable=True,
        own_limit=True,
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
        "off_at_start",
        NOTICE,
        "spool",
        "not where it should meet",
        "From the beginning the line does not work where curve and build sheet say it should.",
        "Check the build sheet against the bench, and whether the curve is of this source.",
        learnable=True,
    ),
)
KINDS: Mapping[str, AlarmKind] = MappingProxyType({row.code: row for row in _ROWS})


def _codes(column: str) -> frozenset[str]:
    return frozenset(row.code for row in _ROWS if getattr(row, column))


ENDS_WATCHING, SPOILS_FOAM, NO_FOAM = _codes("ends_watching"), _codes("spoils_foam"), _codes("no_foam")
LEARNABLE, OWN_LIMIT = _codes("learnable"), _codes("own_limit")
SIDES = {side: tuple(row.code for row in _ROWS if row.side == side) for side in ("air", "foam", "liquid")}
