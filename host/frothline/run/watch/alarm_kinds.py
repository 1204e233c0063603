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
        "The packing has left through the outlet. The foam is not usable.",
        "Stop the air. Put the packing back behind a screen or a bar, then start again.",
        parts=("packing",),
        mark="blown out",
        side="foam",
        ends_watching=True,
        spoils_foam=True,
        no_foam=True,
        remaining=Remaining(foam=(0.0, 0.5), words="the packing has left: the foam differs from the sample"),
    ),
    AlarmKind(
        "joint_off_after",
        ALARM,
        "hose",
        "joint off after the anemometer",
        "A hose or joint between spool and generator has come off.",
        "Stop the air, push the joint fully in and secure it, then start again.",
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
        "The reservoir is empty. Only air flows.",
        "Stop the air or refill. Do not use the foam made after the alarm.",
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
        "The solution level is below the intake: less solution is drawn, and the foam gets too dry.",
        "Refill now, or stop filling the batch: the foam from now on differs from the sample.",
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
        "Measured air does not reach the generator: leak between spool and generator. With a low pressure drop in "
        "the packing, a lost packing looks the same.",
        "Feel and listen along the hose and joints after the spool; soapy water shows the leak.",
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
        "The air source has stopped, or its air does not arrive.",
        "Check the switch, the mains and the hose. Liquid may run back to the source.",
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
        "Stop the air, push the joint fully in and secure it, then start again.",
        side="air",
        ends_watching=True,
        spoils_foam=True,
        no_foam=True,
        line_place="inlet",
        line_word="joint off",
        remaining=Remaining(foam=(0.0, 1.0), words="a joint is off before the spool: almost no air arrives"),
    ),
    AlarmKind(
        "leak_before",
        WARNING,
        "source",
        "leak before the anemometer",
        "Air from the source does not reach the spool: leak between the two.",
        "Feel and listen along the hose and joints before the spool; soapy water shows the leak.",
        side="air",
        line_place="inlet",
        line_word="leak",
    ),
    AlarmKind(
        "source_weak",
        WARNING,
        "source",
        "air source weaker than before",
        "The air source is weaker than when it was measured, or than earlier in this run: clogging filter, low "
        "mains voltage or slow leak.",
        "Check the filter and the inlet first, then the mains. Sweep the source again if the alarm remains.",
        side="air",
    ),
    AlarmKind(
        "source_strong",
        NOTICE,
        "source",
        "air source stronger than its curve",
        "The air source is stronger than when it was measured: higher mains voltage, cleaned filter or colder air.",
        "No repair needed. Sweep the source again so that leaks can be detected.",
        learnable=True,
    ),
    AlarmKind(
        "liquid_back",
        ALARM,
        "generator",
        "solution flowing back",
        "Solution is in the air connection and bubbles there. It can run back to the spool and into the source.",
        "Keep the air on. Raise the hose above the liquid level, or lower the level. Do not stop the air first: "
        "the liquid would run back.",
        parts=("connection",),
        mark="liquid back",
        side="liquid",
    ),
    AlarmKind(
        "clogging",
        WARNING,
        "generator",
        "generator clogs",
        "The generator needs more pressure than before: packing or holes are clogging, or the foam hose is kinked.",
        "Check the foam hose for a kink, then rinse packing and holes with clean water.",
        parts=("packing", "holes"),
        mark="clogs",
        side="liquid",
    ),
    AlarmKind(
        "hot",
        WARNING,
        "source",
        "air gets too hot",
        "The air source heats its air: it runs too near shut-off, its filter is full, or its motor is failing.",
        "Open a bleed before the spool for more air flow, or stop and let the source cool.",
        learnable=True,
        own_limit=True,
    ),
    AlarmKind(
        "too_hot",
        ALARM,
        "source",
        "air too hot for plastic pipe",
        "Plastic pipe and hose lose their strength at this temperature, and the motor its insulation.",
        "Stop the source now and let it cool. Find the cause before the next run.",
        learnable=True,
        own_limit=True,
    ),
    AlarmKind(
        "pressure_high",
        ALARM,
        "spool",
        "pressure too high",
        "The pressure is above the limit of push-fit joints and of this spool.",
        "Open the bleed or stop the source. A compressor needs a regulator and a relief valve.",
        learnable=True,
        own_limit=True,
    ),
    AlarmKind(
        "anemometer",
        WARNING,
        "spool",
        "anemometer disagrees",
        "Pressure, curve and build agree; the anemometer disagrees. It is fouled, blocked or loose.",
        "Stop, take the rotor out, rinse off foam and grit, and check that it spins freely.",
        air_by_size=True,
    ),
    AlarmKind(
        "anemometer_off",
        WARNING,
        "spool",
        "anemometer silent",
        "No pulses although the line has pressure: unplugged, cable broken, or rotor stuck.",
        "Check the plug and the cable first, then the rotor. Until then the flow is not monitored.",
        mark="silent",
        learnable=True,
        own_limit=True,
    ),
    AlarmKind(
        "pressure_off",
        ALARM,
        "spool",
        "pressure sensor silent",
        "The pressure is not measured: sensor unplugged or cable broken. Overpressure, leaks and clogging are not "
        "detected.",
        "Check the plug and the cable of the pressure sensor. Watch the line yourself until the signal is back, or "
        "stop the air.",
        learnable=True,
        own_limit=True,
    ),
    AlarmKind(
        "thermometer_off",
        WARNING,
        "spool",
        "line thermometer silent",
        "The line temperature is not measured. Hot air is not detected.",
        "Check the plug and the cable of the thermometer. Feel the pipe by hand until the signal is back.",
        learnable=True,
        own_limit=True,
    ),
    AlarmKind(
        "scale_off",
        WARNING,
        "generator",
        "scale silent",
        "The mass of the reservoir is not measured. Low solution is detected later, and the remaining solution is "
        "calculated from the air flow.",
        "Check the plug and the cable of the scale, and that the reservoir is on the scale.",
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
        "The line has changed. The cause cannot be identified with the fitted sensors.",
        "Check the whole line. A source curve and a build sheet would allow the cause to be located.",
    ),
    AlarmKind(
        "off_at_start",
        NOTICE,
        "spool",
        "operating point off",
        "Since the start, the line is not at the operating point of curve and build sheet.",
        "Compare the build sheet with the generator, and check that the curve is of this source.",
        learnable=True,
    ),
)
KINDS: Mapping[str, AlarmKind] = MappingProxyType({row.code: row for row in _ROWS})


def _codes(column: str) -> frozenset[str]:
    return frozenset(row.code for row in _ROWS if getattr(row, column))


ENDS_WATCHING, SPOILS_FOAM, NO_FOAM = _codes("ends_watching"), _codes("spoils_foam"), _codes("no_foam")
LEARNABLE, OWN_LIMIT = _codes("learnable"), _codes("own_limit")
SIDES = {side: tuple(row.code for row in _ROWS if row.side == side) for side in ("air", "foam", "liquid")}
