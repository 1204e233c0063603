"""The self-test: walks through a rig part by part and says what it saw of each, on one card.

First everything at rest, where each sensor's reading is known beforehand; then what only a hand can bring about: breath
in the line, a press on the button, a weight on the scale. Each of these has its time; what has not come by then is
faulty. A simulated rig has no one beside it, so its hands are those of the test itself (``Step.hand``).

Nothing is printed here and nothing asked at a keyboard: ``run`` tells what is to be done through a callback and sees by
the sensors whether it was done. Limits stand with their reasons at the head of the file.
"""

from __future__ import annotations

import math
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import datetime
from typing import TYPE_CHECKING

import numpy as np

from frothline.bench.snapshot import ENDED, LOST, ChannelState, Snapshot
from frothline.errors import InputError, PortLost
from frothline.sensors.datasheets import PRESSURE, SENSOR
from frothline.sensors.load_cell import counts_per_kilogram
from frothline.units import ZERO_CELSIUS

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from frothline.bench.session import Session

GOOD, ODD, FAULTY, ABSENT, SKIPPED = "good", "odd", "faulty", "absent", "skipped"
VERDICTS = (GOOD, ODD, FAULTY, ABSENT, SKIPPED)

SUPPLY, SUPPLY_LIMIT = 5.0, 0.25  # V: NXP MPX5050 table (read), 4.75 to 5.25 V
LIMIT_OVER_STANDARD = math.sqrt(3.0)  # of a rectangle: budgets carry standard uncertainties, limits are asked for here
QUIET_PRESSURE = 40.0  # Pa, standard deviation at rest: ten times what the converter's own noise leaves at 100 Hz
LEAST_ZERO = 50.0  # Pa: a calibrated sensor's zero wanders by so much from day to day; judgement
COLD, WARM = 263.15, 318.15  # K, of a workshop; judgement
NEAR_THE_ROOM = 8.0  # K between line and room at rest; NTC and module may differ by 2 K; judgement
LOW_AIR, HIGH_AIR = 60e3, 108e3  # Pa: 4000 m above the sea to the highest ever at sea level
QUIET_SCALE = 0.05  # kg, standard deviation at rest; judgement
BREATH = 200.0  # Pa over rest: a breath into a closed pipe gives kilopascals, a draught gives a few pascals
LET_GO = 2.0  # s in which pressure falls from four fifths to one fifth once the end is open; an open tap takes 0.1 s
SPINS = 3.0  # Hz: a vane that makes it over half a second was blown at
WEIGHT = 0.2  # kg more on the scale

REST_LOOK = 2.0  # s over which a reading at rest is taken
LOOK_EVERY = 0.05  # s


@dataclass(frozen=True)
class PartResult:
    """What was seen of one part. ``part`` is stable for scripts; ``figures`` are SI."""

    part: str
    verdict: str
    seen: str
    remedy: str = ""
    figures: dict[str, float] = field(default_factory=dict)


@dataclass(frozen=True)
class ReportCard:
    """The outcome of a self-test."""

    made: str  # ISO 8601, local time
    port: str
    label: str
    firmware: str
    simulated: bool
    level: int
    outcomes: tuple[PartResult, ...]

    @property
    def passed(self) -> bool:
        """Whether nothing is odd or faulty; parts that are not fitted or were not asked do not count."""
        return not self.wrong

    @property
    def wrong(self) -> tuple[PartResult, ...]:
        return tuple(one for one in self.outcomes if one.verdict in {ODD, FAULTY})


@dataclass(frozen=True)
class Progress:
    """For whoever shows the test: ``kind`` is "do" (an instruction), "wait" (progress 0 to 1) or "outcome"."""

    kind: str
    words: str = ""
    progress: float = 0.0
    outcome: PartResult | None = None


def _nothing(_: Progress) -> None:
    return


class SelfTest:
    """One walk through the rig of an open session.

    Parameters
    ----------
    session : started; the test neither opens nor closes it.
    level : 1, 2 or 3 of the parts list: what is missing below it is a fault, what is there beyond it is tested too.
    hands : False leaves out all that needs a person.
    patience : s that each thing done by hand may take.
    """

    def __init__(self, session: Session, *, level: int = 2, hands: bool = True, patience: float = 30.0) -> None:
        if level not in {1, 2, 3}:
            raise InputError(f"there is no level {level}", where="level", remedy="Say 1, 2 or 3, as in the parts list")
        if not 0 < patience <= 600:
            raise InputError(f"{patience:g} s is no patience", where="patience", remedy="Give 1 to 600 s")
        self.session = session
        self.level = level
        self.hands = hands
        self.patience = patience
        self._tell: Callable[[Progress], None] = _nothing
        self._rest: dict[str, float] = {}

    def run(self, tell: Callable[[Progress], None] = _nothing) -> ReportCard:
        """Walk through; takes about 10 s at rest and, with hands, as long as the hands take. Raises PortLost."""
        self._tell = tell
        made = datetime.now().astimezone().isoformat(timespec="seconds")
        outcomes = [self._link()]
        if outcomes[0].verdict != FAULTY:
            self._come_to_rest()
            for at_rest in (self._supply, self._pressure, self._difference, self._temperature, self._ambient):
                outcomes += self._said(at_rest())
            outcomes += self._said(self._scale_at_rest())
            for by_hand in (self._breath, self._rotor, self._button, self._weight):
                outcomes += self._said(by_hand())
            outcomes += self._said(self._losses())
        now = self._now()
        board = now.board
        return ReportCard(
            made,
            now.link.port,
            board.label if board else "",
            board.firmware if board else "",
            now.simulated,
            self.level,
            tuple(outcomes),
        )

    # --- looking ----------------------------------------------------------------------------------------------------

    def _now(self) -> Snapshot:
        now = self.session.snapshot()
        if now.link.state == LOST:
            raise PortLost("the port was lost during the test", where=now.link.port, remedy="Look at the USB cable")
        if now.link.state == ENDED:
            raise InputError(
                "a recording that is played back has no parts to be tested", where=now.link.port, remedy="Plug a rig in"
            )
        return now

    def _channel(self, kind: str) -> ChannelState | None:
        board = self._now().board
        return next((one for one in board.channels if one.kind == kind), None) if board else None

    def _values(self, name: str, seconds: float) -> NDArray[np.float64]:
        """Known samples of the newest ``seconds``."""
        value = self.session.window(name, seconds).value
        return value[np.isfinite(value)]

    def _latest(self, name: str) -> tuple[float, float]:
        """Mean over REST_LOOK and standard uncertainty; NaN where unknown."""
        window = self.session.window(name, REST_LOOK)
        good = np.isfinite(window.value)
        if not good.any() or not good[-1]:
            return math.nan, math.nan
        return float(window.value[good].mean()), float(window.u[good].mean())

    def _clock(self) -> float:
        """s, of the newest sample: the board's time, so that a simulated rig may run fast."""
        time_ = self.session.window("line_pressure", 0.5).time
        return float(time_[-1]) if len(time_) else -math.inf

    def _since(self, name: str, begin: float) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        window = self.session.window(name, max(self._clock() - begin, 0.0) + 0.1)
        keep = (window.time >= begin) & np.isfinite(window.value)
        return window.time[keep], window.value[keep]

    def _until(self, seen: Callable[[], bool], patience: float) -> bool:
        """Whether it was seen before the time was over."""
        began = time.monotonic()
        while True:
            self._now()
            if seen():
                return True
            gone = time.monotonic() - began
            if gone > patience:
                return False
            self._tell(Progress("wait", progress=gone / patience))
            time.sleep(LOOK_EVERY)

    def _do(self, words: str, *hand: tuple[str, object]) -> None:
        """Tell the person; on a simulated rig, do it."""
        self._tell(Progress("do", words))
        simulation = self.session.simulation
        for name, value in hand if simulation is not None else ():
            if name == "throttle" and "phase" in simulation.truth():
                simulation.control(name, 0.0)  # a generator is at the end, and the throttle is a bleed before the spool
            else:
                simulation.control(name, value)

    def _said(self, outcome: PartResult | None) -> list[PartResult]:
        if outcome is None:
            return []
        self._tell(Progress("outcome", outcome.seen, 1.0, outcome))
        return [outcome]

    # --- at rest ----------------------------------------------------------------------------------------------------

    def _link(self) -> PartResult:
        arrived = self._until(
            lambda: self._now().board is not None and len(self._values("rotor_frequency", 1)) + self._clock() > 0, 8.0
        )
        now = self._now()
        board = now.board
        if board is None or not arrived:
            words = now.converter_trouble or "the board answers, but its samples do not come"
            return self._said(PartResult("link", FAULTY, words, "Press its reset button; then flash it again"))[0]
        words = f"{board.label or 'no label'}, firmware {board.firmware}, {board.rate} samples a second"
        return self._said(PartResult("link", GOOD, words, figures={"rate": float(board.rate)}))[0]

    def _come_to_rest(self) -> None:
        self._do(
            "Switch the air source off, open the end of the line, empty the scale, and touch nothing.",
            ("motor", False),
            ("throttle", 1.0),
        )
        begin = self._clock()

        def still() -> bool:
            if self._clock() - begin < 3.5:
                return False
            pressure = self.session.window("line_pressure", 2.0).value
            half = len(pressure) // 2
            if half < 3 or not np.isfinite(pressure).any():
                return self._clock() - begin > 6.0
            drift = abs(float(np.nanmean(pressure[:half]) - np.nanmean(pressure[half:])))
            return drift < QUIET_PRESSURE and self._stands()

        self._until(still, 20.0)

    def _supply(self) -> PartResult:
        value, u = self._latest("supply_voltage")
        if math.isnan(value):
            return PartResult("supply", FAULTY, "the supply cannot be read", "Flash the board again")
        figures = {"supply_voltage": value, "u_supply_voltage": u}
        seen = f"{value:.2f} V, known to ±{LIMIT_OVER_STANDARD * u:.2f} V"
        if abs(value - SUPPLY) > SUPPLY_LIMIT + LIMIT_OVER_STANDARD * u:
            remedy = "Sensors need 4.75 to 5.25 V: a shorter USB cable, another port, nothing else on the supply"
            return PartResult("supply", ODD, seen, remedy, figures)
        return PartResult("supply", GOOD, seen, figures=figures)

    def _pressure(self) -> PartResult:
        return self._ratiometric("pressure", "line_pressure", "A0") or PartResult(
            "pressure", FAULTY, "the board has no pressure sensor enabled", "Enable it in the board's settings"
        )

    def _difference(self) -> PartResult | None:
        return self._ratiometric("differential", "differential_pressure", "A3")

    def _ratiometric(self, kind: str, name: str, pin: str) -> PartResult | None:
        channel = self._channel(kind)
        sensor = PRESSURE.get(SENSOR.get(channel.sensor, 0)) if channel else None
        if channel is None or sensor is None:
            return None
        value, u = self._latest(name)
        if math.isnan(value):
            remedy = (
                f"Measure at {pin}: an {sensor.part} gives {5 * sensor.c:.2f} V at rest. Look at its plug and its 5 V"
            )
            return PartResult(kind, FAULTY, "no signal: the pin lies at one of its ends", remedy)
        samples = self._values(name, REST_LOOK)
        noise = float(np.std(samples))
        self._rest[name] = value
        figures = {name: value, f"u_{name}": u, "noise": noise}
        limit = max(LIMIT_OVER_STANDARD * u, LEAST_ZERO)
        seen = f"{value / 1e3:+.2f} kPa at rest (an {sensor.part} may be {limit / 1e3:.2f} off), noise {noise:.0f} Pa"
        if abs(value) > 3 * limit:
            remedy = "Air still moves, or another sensor is fitted than the settings say, or two plugs are swapped"
            return PartResult(kind, FAULTY, seen, remedy, figures)
        if abs(value) > limit:
            return PartResult(kind, ODD, seen, "Look whether the line is open to the room; then take a zero", figures)
        if noise > QUIET_PRESSURE:
            remedy = "Fit the filter and the capacitors of the wiring plan; keep the leads away from the motor's"
            return PartResult(kind, ODD, seen, remedy, figures)
        return PartResult(kind, GOOD, seen, figures=figures)

    def _temperature(self) -> PartResult:
        value, u = self._latest("line_temperature")
        if math.isnan(value):
            remedy = "Measure at A2: about 2.5 V at 25 °C; 5 V is an open thermistor, 0 V a shorted one"
            return PartResult("temperature", FAULTY, "no signal: the thermistor is open or shorted", remedy)
        seen = f"{value - ZERO_CELSIUS:.1f} °C in the line"
        figures = {"line_temperature": value, "u_line_temperature": u}
        room, _ = self._latest("ambient_temperature")
        if not COLD < value < WARM:
            remedy = "Look whether resistor and thermistor have changed places, and which one the settings name"
            return PartResult("temperature", FAULTY, seen, remedy, figures)
        if not math.isnan(room) and abs(value - room) > NEAR_THE_ROOM:
            seen += f", {abs(value - room):.0f} K {'over' if value > room else 'under'} the room"
            remedy = "Let a line that was just used cool down for ten minutes; otherwise check the 10 kohm resistor"
            return PartResult("temperature", ODD, seen, remedy, figures)
        return PartResult("temperature", GOOD, seen, figures=figures)

    def _ambient(self) -> PartResult:
        channel = self._channel("ambient")
        pressure, _ = self._latest("ambient_pressure")
        if channel is None or not channel.present or math.isnan(pressure):
            seen = "does not answer on its two wires"
            if self.level < 2:
                return PartResult("ambient", ABSENT, f"{seen}; the spool file's weather is taken instead")
            remedy = "Look at SDA on A4, SCL on A5, 5 V and ground; keep the wires under 0.3 m"
            return PartResult("ambient", FAULTY, seen, remedy)
        warmth, _ = self._latest("ambient_temperature")
        humidity, _ = self._latest("ambient_humidity")
        damp = "" if math.isnan(humidity) else f", {humidity:.0%} humid"
        seen = f"{pressure / 100:.0f} hPa, {warmth - ZERO_CELSIUS:.1f} °C{damp}"
        figures = {"ambient_pressure": pressure, "ambient_temperature": warmth, "ambient_humidity": humidity}
        if not (LOW_AIR < pressure < HIGH_AIR and COLD < warmth < WARM):
            return PartResult("ambient", FAULTY, f"{seen}: no weather is like that", "Try another module", figures)
        return PartResult("ambient", GOOD, seen, figures=figures)

    def _scale_at_rest(self) -> PartResult | None:
        """Only says something where there is something to say before a weight is put on."""
        channel = self._channel("scale")
        value = self._latest("scale_counts")[0] / self._counts_per_kilogram()
        if channel is None or not channel.present or math.isnan(value):
            if self.level < 3:
                return PartResult("scale", ABSENT, "none answers; only level 3 has one")
            remedy = "Look at DOUT on D4, SCK on D5, 5 V and ground, and the four wires of the load cell"
            return PartResult("scale", FAULTY, "does not answer", remedy)
        self._rest["scale_counts"] = value
        noise = float(np.std(self._values("scale_counts", REST_LOOK))) / self._counts_per_kilogram()
        if noise > QUIET_SCALE:
            remedy = "Set it on a firm floor away from the blower; look at the load cell's wires"
            return PartResult("scale", ODD, f"wanders by {noise * 1e3:.0f} g at rest", remedy, {"noise": noise})
        return None

    # --- by hand ----------------------------------------------------------------------------------------------------

    def _skip(self, part: str) -> PartResult:
        return PartResult(part, SKIPPED, "needs a person")

    def _breath(self) -> PartResult | None:
        rest = self._rest.get("line_pressure")
        if not self.hands:
            return self._skip("tap")
        if rest is None:
            return PartResult("tap", SKIPPED, "cannot be seen without the pressure sensor")
        begin = self._clock()
        self._do(
            "Close the end of the line with the flat of your hand and blow into it; keep it closed.",
            ("throttle", 0.0),
            ("motor", True),
        )

        def top() -> float:
            _, value = self._since("line_pressure", begin)
            return float(np.max(value)) - rest if value.size else 0.0

        if not self._until(lambda: top() > BREATH, self.patience):
            remedy = (
                "Blow its tube through from the sensor's end outward, never into the sensor; look for a kink or a leak"
            )
            return PartResult(
                "tap", FAULTY, f"the pressure moved by no more than {top():.0f} Pa", remedy, {"rise": top()}
            )
        self._until(lambda: False, 0.7)  # let it rise on, so that the fall can be timed
        self._do("Now let go.", ("motor", False), ("throttle", 1.0))
        took = math.inf

        def fell() -> bool:
            nonlocal took
            when, value = self._since("line_pressure", begin)
            over = value - rest
            peak = int(np.argmax(over))
            high = np.flatnonzero(over[peak:] > 0.8 * over[peak])
            low = np.flatnonzero(over[peak:] < 0.2 * over[peak])
            if not low.size:
                return False
            took = float(when[peak + low[0]] - when[peak + high[high < low[0]][-1]])
            return True

        self._until(fell, max(self.patience / 3, 6.0))
        figures = {"rise": top(), "fall_seconds": took}
        if took > LET_GO:
            seen = f"rose by {top():.0f} Pa and fell only slowly"
            remedy = "If you had let go: the tap or its tube is half blocked, or holds water; clear it and test again"
            return PartResult("tap", ODD, seen, remedy, figures)
        return PartResult(
            "tap", GOOD, f"open: rose by {top() / 1e3:.1f} kPa, fell within {took:.1f} s", figures=figures
        )

    def _rotor(self) -> PartResult | None:
        if self._channel("rotor") is None:
            return None
        if self.level < 2:
            return PartResult("rotor", ABSENT, "not fitted at level 1")
        if not self._until(self._stands, 20.0):  # the air of the step before runs out first
            pulses = float(self._values("rotor_frequency", 1.0)[-1])
            remedy = "Is there a draught? Else the pulse line picks up noise: fit its filter"
            return PartResult("rotor", ODD, f"{pulses:.0f} pulses a second at rest", remedy)
        if not self.hands:
            return self._skip("rotor")
        begin = self._clock()
        self._do("Blow through the line until the rotor spins.", ("throttle", 1.0), ("motor", True))

        def spinning() -> bool:
            when, value = self._since("rotor_frequency", begin)
            return bool(value.size) and float(np.median(value[when > when[-1] - 0.5])) > SPINS

        if not self._until(spinning, self.patience):
            remedy = "Does the vane turn freely? Then look at 5 V, ground and D8, and at the gap of magnet and switch"
            return PartResult("rotor", FAULTY, "no pulses", remedy)
        self._do("Now stop blowing.", ("motor", False))
        stopped = self._until(self._stands, self.patience)
        _, value = self._since("rotor_frequency", begin)
        fastest = float(np.max(value))
        figures = {"rotor_frequency": fastest}
        if not stopped:
            seen = f"turned at up to {fastest:.0f} pulses a second and did not stop"
            return PartResult("rotor", ODD, seen, "Is there a draught? Else the pulse line picks up noise", figures)
        return PartResult("rotor", GOOD, f"turned, up to {fastest:.0f} pulses a second, and stopped", figures=figures)

    def _stands(self) -> bool:
        known = self._values("rotor_frequency", 0.3)
        return not known.size or float(known[-1]) == 0.0

    def _button(self) -> PartResult | None:
        if self._channel("button") is None:
            return None
        if not self.hands:
            return self._skip("button")
        before = sum(mark.kind == "button" for mark in self._now().marks)
        self._do("Press the rig's button once.", ("button", 0.2))
        if self._until(lambda: sum(mark.kind == "button" for mark in self._now().marks) > before, self.patience):
            return PartResult("button", GOOD, "pressed")
        return PartResult("button", FAULTY, "no press came", "It joins D2 to ground: measure 5 V open, 0 V pressed")

    def _weight(self) -> PartResult | None:
        if "scale_counts" not in self._rest:
            return None
        if not self.hands:
            return self._skip("scale")
        per_kilogram = self._counts_per_kilogram()
        rest = float(np.median(self._values("scale_counts", 1.0))) / per_kilogram  # may have changed since
        self._do("Put a full bottle or a brick on the scale.", ("solution", 1.0))

        def more() -> float:
            value = self._values("scale_counts", 1.0) / per_kilogram
            return float(np.median(value)) - rest if value.size else 0.0

        if self._until(lambda: abs(more()) > WEIGHT, self.patience):
            seen = f"{more():+.2f} kg when loaded"
            if more() < 0:
                return PartResult("scale", ODD, seen, "It counts backwards: swap A+ and A- of the load cell")
            return PartResult("scale", GOOD, seen, figures={"scale_mass": more()})
        remedy = "Look which way the load cell bends, and at its four wires"
        return PartResult("scale", FAULTY, f"moved by {more() * 1e3:.0f} g only", remedy)

    def _counts_per_kilogram(self) -> float:
        """By the figures of the spool file: an uncalibrated scale gives counts alone, and this walk needs no more."""
        return counts_per_kilogram(self.session.spool.scale)

    def _losses(self) -> PartResult:
        lost = self._now().losses
        counts = {
            "damaged frames": lost.damaged,
            "missing frames": lost.missing,
            "resets of the board": lost.board_resets,
            "conversions lost": lost.health.get("adc_overruns", 0),
            "errors on the two-wire bus": lost.health.get("bus_errors", 0),
        }
        bad = [f"{count} {words}" for words, count in counts.items() if count]
        figures = {words.replace(" ", "_"): float(count) for words, count in counts.items()}
        if bad:
            remedy = "A shorter USB cable away from the motor's leads; bus errors: shorter wires to the ambient module"
            return PartResult("losses", ODD, ", ".join(bad), remedy, figures)
        return PartResult("losses", GOOD, f"none in {lost.frames} frames", figures=figures)
