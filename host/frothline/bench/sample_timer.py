"""Timer of a foam sample: start of filling, full, weighing, then readings of the drained liquid.

All steps use session time. One timer serves all pages and the rig's push button.
"""

from __future__ import annotations

import threading
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from math import isfinite

from frothline.errors import InputError
from frothline.foam.sample import Weighing
from frothline.quantities import is_number, read_quantity
from frothline.trials.sample_sidecar import read_time
from frothline.units import entry_unit

OFF, READY, FILLING, WEIGH, DRAIN = "off", "ready", "filling", "weigh", "drain"
READINGS = (60.0, 120.0, 180.0, 300.0, 600.0)  # s after full, times of the drained-liquid readings
NOT_TIMED = "not timed"  # text for an unknown fill time
SAME_PRESS = 0.5  # s, presses closer than this count as one; no bucket fills in this time
LATE = 0.25  # fraction of the time between two readings; a reading later than this counts as missed

# Text of the large button, and the instruction in the largest type.
BUTTONS = {
    READY: "Foam is flowing in – start",
    FILLING: "Bucket full – stop",
    WEIGH: "Save weight",
    DRAIN: "Save reading",
}
LABELS = {
    "container": "Bucket volume",
    "empty": "Empty weight",
    "full": "Full weight",
    "fill": "Fill time",
    "depth": "Foam depth",
    "drained": "Total drained",
}
KINDS = {"container": "volume", "empty": "mass", "full": "mass", "depth": "length", "drained": "drained"}
# Field that shows an objection to the readings as a whole.
AT_FIELD = {"sample: fill_time": "fill", "sample: full": "full", "sample: container_volume": "container"}
INSTRUCTIONS = {
    READY: "place the bucket",
    FILLING: "filling",
    WEIGH: "level off and weigh",
    DRAIN: "read the drained liquid",
}


@dataclass(frozen=True)
class Timing:
    """State of the timer. Times are s of session time, None before the step.

    container, empty, full : as typed;  drained : pairs of s since full and m³
    wrong : field -> reason why its entry was refused, until the next press
    """

    step: str = OFF
    container: str = ""
    empty: str = ""
    full: str = ""
    depth: str = ""
    under: float | None = None
    filled: float | None = None
    drained: tuple[tuple[float, float], ...] = ()
    recording: str = ""  # the recording at the time of the full bucket, and its length then
    recorded: float = 0.0
    wrong: Mapping[str, str] = field(default_factory=dict)
    typed_drained: str = ""  # a reading that was refused
    fill: str = ""  # fill time as typed, if it replaces the timed one
    confirmed: bool = False  # a person confirmed the readings
    question: str = ""  # the run's question about the sample, which is not used yet
    simulated: bool = False  # whether the simulation gave weight and fill time

    @property
    def fill_time(self) -> float | None:
        """Fill time in s, as typed or timed; None if not timed. Raises InputError for text that is not a time."""
        text = self.fill.strip()
        if text.casefold() == NOT_TIMED:
            return None
        if text:
            try:
                return read_time(text)
            except ValueError as error:
                raise InputError(str(error), where=LABELS["fill"]) from None
        return None if self.under is None or self.filled is None else self.filled - self.under

    def next_reading(self, now: float) -> float | None:
        """Seconds after full of the next or due reading; None when all are done."""
        if self.filled is None:
            return None
        last = self.drained[-1][0] if self.drained else 0.0
        since = now - self.filled
        for at, after in zip(READINGS, (*READINGS[1:], float("inf")), strict=True):
            if at > last + 0.3 * at and since < at + LATE * (after - at):
                return at
        return None

    def weighing(self) -> Weighing:
        """The readings. Raises InputError at an entry that is missing or unreadable."""
        depth = self._value("depth") if self.depth.strip() else None
        return Weighing(
            full=self._value("full"),
            empty=self._value("empty"),
            container_volume=self._value("container"),
            fill_time=self.fill_time,
            drained=self.drained,
            depth=depth,
            confirmed=self.confirmed,
        )

    def checked(self) -> Weighing:
        """The readings, checked against each other. An objection gives each reading as parsed."""
        weighing = self.weighing()
        full, empty, holds = (self._as(name) for name in ("full", "empty", "container"))
        if weighing.full <= weighing.empty:
            raise InputError(
                f"full ({full}) is not heavier than empty ({empty})", where=LABELS["full"], remedy=_unit_wanted(self)
            )
        try:
            weighing.check()
        except InputError as error:
            raise InputError(
                f"{error.what}, with {holds}, {empty} empty and {full} full",
                where=LABELS.get(AT_FIELD.get(error.where, ""), error.where),
                remedy=_unit_wanted(self) or error.remedy,
            ) from None
        return weighing

    def taken_as(self, name: str) -> str:
        """The unit assumed for a figure without one; empty for an empty field or a figure with a unit."""
        text = getattr(self, name).strip()
        if not is_number(text):
            return ""
        if name == "fill":
            return f"taken as {text} s"
        return f"taken as {self._as(name)}"

    def unreadable(self, name: str) -> str:
        """Reason why a field's text is unreadable; empty if readable or if the field is empty."""
        if not getattr(self, name).strip():
            return ""
        try:
            self._value(name)
        except InputError as error:
            return f"{error.what}."
        return ""

    def _value(self, name: str) -> float:
        return _read(getattr(self, name), KINDS[name], LABELS[name])

    def _as(self, name: str) -> str:
        """A field's text with its given or assumed unit."""
        text = getattr(self, name).strip()
        unit = entry_unit(KINDS[name], "metric").symbol
        return f"{text} {unit}" if is_number(text) else text


def _unit_wanted(at: Timing) -> str:
    bare = any(is_number(text) for text in (at.full, at.empty))
    return "A number without a unit is grams; write other units, like 0.8 kg" if bare else ""


class SampleTimer:
    """The timer of a session. All methods may be called from any thread; ``now`` is session time, s."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._at = Timing()

    def look(self) -> Timing:
        return self._at

    def begin(self, container: str = "", empty: str = "") -> None:
        """Prepare for a bucket; its volume and empty mass stay from the last sample, and are as given for the first."""
        with self._lock:
            if self._at.step == OFF:
                at = self._at
                self._at = Timing(READY, at.container or container, at.empty or empty, depth=at.depth)

    def weigh_simulated(self, density: float, rate: float) -> None:
        """Enter what a bucket of foam of this density, kg/m³, weighs and how long it takes to fill at this rate, m³/s.

        Nothing changes at another step, or where the bucket's volume or empty mass is not readable.
        """
        with self._lock:
            at = self._at
            if at.step != WEIGH or any(at.unreadable(name) or not getattr(at, name) for name in ("container", "empty")):
                return
            volume, empty = (_read(getattr(at, name), KINDS[name], LABELS[name]) for name in ("container", "empty"))
            full, fill = f"{1e3 * (empty + density * volume):.0f} g", f"{volume / rate:.1f} s"
            self._at = replace(at, full=full, fill=fill, simulated=True)

    def weigh_again(self) -> None:
        """Return to the weighing with all entries, because the sample could not be saved."""
        with self._lock:
            if self._at.step == DRAIN and not self._at.drained:
                self._at = replace(self._at, step=WEIGH)

    def ask(self, question: str) -> None:
        """Return to the weighing with the question and an editable fill time, because the sample contradicts the
        run.
        """
        self.weigh_again()
        with self._lock:
            at = self._at
            took = at.fill_time
            fill = at.fill or (NOT_TIMED if took is None else f"{took:.1f} s")
            self._at = replace(at, question=question, fill=fill, confirmed=False)

    def end(self) -> None:
        with self._lock:
            self._at = replace(self._at, step=OFF)

    def press(
        self,
        now: float,
        typed: dict[str, str],
        recording: str = "",
        recorded: float = 0.0,
        *,
        confirmed: bool = False,
    ) -> str:
        """Handle the large button with the fields' texts; returns words to show. Raises InputError for an unreadable
        reading; the step then stays. ``confirmed``: a person confirmed the readings.
        """
        with self._lock:
            self._at = replace(self._with(typed), wrong={}, typed_drained="", confirmed=confirmed)
            try:
                return self._press(now, typed, recording, recorded)
            except InputError as error:
                wrong = next((name for name, label in LABELS.items() if label == error.where), "")
                if wrong:
                    told = f"{error.what[:1].upper()}{error.what[1:]}. {error.remedy}".strip()
                    self._at = replace(
                        self._at,
                        wrong={wrong: told},
                        typed_drained=typed.get("drained", "") if wrong == "drained" else "",
                    )
                raise

    def _press(self, now: float, typed: dict[str, str], recording: str, recorded: float) -> str:
        at = self._at
        if at.step == READY:
            self._at = replace(
                at, step=FILLING, under=now, filled=None, full="", drained=(), fill="", question="", simulated=False
            )
        elif at.step == FILLING and at.under is not None and now - at.under < SAME_PRESS:
            return ""
        elif at.step == FILLING:
            unreadable = {name: told for name in ("container", "empty") if (told := at.unreadable(name))}
            self._at = replace(at, step=WEIGH, filled=now, recording=recording, recorded=recorded, wrong=unreadable)
        elif at.step == WEIGH:
            at.checked()
            self._at = replace(at, step=DRAIN, question="")
            return "weighed"
        elif at.step == DRAIN:
            return self._note(now, typed.get("drained", ""))
        return ""

    def push(self, now: float, recording: str = "", recorded: float = 0.0) -> None:
        """Handle the rig's button, for steps that need no figures."""
        if self._at.step in {READY, FILLING}:
            self.press(now, {}, recording, recorded)

    def _with(self, typed: dict[str, str]) -> Timing:
        at = self._at
        return replace(
            at,
            container=typed.get("container", at.container).strip(),
            empty=typed.get("empty", at.empty).strip(),
            full=typed.get("full", at.full).strip(),
            depth=typed.get("depth", at.depth).strip(),
            fill=typed.get("fill", at.fill).strip(),
        )

    def _note(self, now: float, text: str) -> str:
        at = self._at
        assert at.filled is not None
        if not text.strip():
            raise InputError("no reading entered", where=LABELS["drained"], remedy="Enter the reading, like 12 mL")
        volume = read_in(text.strip())
        since = now - at.filled
        if at.drained and volume < at.drained[-1][1]:
            raise InputError(
                f"less than the last reading ({at.drained[-1][1] * 1e6:.0f} mL)",
                where=LABELS["drained"],
                remedy="Enter the total drained since the bucket was full",
            )
        noted = replace(at, drained=(*at.drained, (since, volume)))
        noted.weighing().check()
        self._at = noted
        return f"saved: {volume * 1e6:.0f} mL after {since:.0f} s"


def read_in(text: str) -> float:
    """Parse a typed volume to m³. Raises InputError."""
    return _read(text, "drained", LABELS["drained"])


def _read(text: str, kind: str, where: str) -> float:
    if not text.strip():
        raise InputError("no value entered", where=where, remedy=f"Enter the {where.lower()}")
    try:
        value = read_quantity(text, kind)
    except ValueError as error:
        raise InputError(str(error), where=where) from None
    if not isfinite(value):
        raise InputError(f"“{text}” is not a {kind}", where=where)
    return value
