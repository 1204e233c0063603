"""Self-test of each part with the rig at rest."""

from __future__ import annotations

import math

import numpy as np

from frothline.bench.self_test.result import ABSENT, FAULTY, GOOD, ODD, PartResult
from frothline.bench.self_test.rig_view import REST_LOOK, RigView
from frothline.sensors.linear_line import NOT_SET
from frothline.sensors.plausibility import LOW_SUPPLY_REMEDY
from frothline.units import ZERO_CELSIUS

CALIBRATE_SUPPLY = "Measure 5V to GND with a multimeter, and run `frothline calibrate supply`"
HIGH_SUPPLY_REMEDY = "Use another USB port, and connect nothing else to the supply"
SUPPLY, SUPPLY_LIMIT = 5.0, 0.25  # V: NXP MPX5050 table (read), 4.75 to 5.25 V
LIMIT_OVER_STANDARD = math.sqrt(3.0)  # of a rectangle: budgets hold standard uncertainties, limits are needed here
QUIET_PRESSURE = 40.0  # Pa, standard deviation at rest: ten times what the converter's own noise leaves at 100 Hz
LEAST_ZERO = 50.0  # Pa, day-to-day drift of a calibrated sensor's zero; judgement
COLD, WARM = 263.15, 318.15  # K, of a workshop; judgement
NEAR_THE_ROOM = 8.0  # K between line and room at rest; NTC and module may differ by 2 K; judgement
LOW_AIR, HIGH_AIR = 60e3, 108e3  # Pa: 4000 m above the sea to the highest ever at sea level
QUIET_SCALE = 0.05  # kg, standard deviation at rest; judgement


def link(view: RigView) -> PartResult:
    arrived = view.until(
        lambda: view.now().board is not None and len(view.values("rotor_frequency", 1)) + view.clock() > 0, 8.0
    )
    now = view.now()
    board = now.board
    if board is None or not arrived:
        words = now.converter_trouble or "the board answers, but no samples arrive"
        return PartResult("link", FAULTY, words, "Press its reset button, then flash it again")
    words = f"{board.label or 'no label'}, firmware {board.firmware}, {board.rate} samples a second"
    return PartResult("link", GOOD, words, figures={"rate": float(board.rate)})


def come_to_rest(view: RigView) -> None:
    view.do(
        "Switch the air source off, open the end of the line, empty the scale, and touch nothing.",
        ("motor", False),
        ("throttle", 1.0),
    )
    begin = view.clock()

    def still() -> bool:
        if view.clock() - begin < 3.5:
            return False
        pressure = view.session.window("line_pressure", 2.0).value
        half = len(pressure) // 2
        if half < 3 or not np.isfinite(pressure).any():
            return view.clock() - begin > 6.0
        drift = abs(float(np.nanmean(pressure[:half]) - np.nanmean(pressure[half:])))
        return drift < QUIET_PRESSURE and view.stands()

    view.until(still, 20.0)


def supply(view: RigView) -> PartResult:
    value, u = view.latest("supply_voltage")
    if math.isnan(value):
        return PartResult("supply", FAULTY, "the supply cannot be read", "Flash the board again")
    figures = {"supply_voltage": value, "u_supply_voltage": u}
    seen = f"{value:.2f} V±{LIMIT_OVER_STANDARD * u:.2f} V"
    if abs(value - SUPPLY) > SUPPLY_LIMIT + LIMIT_OVER_STANDARD * u:
        remedy = f"Sensors need 4.75 to 5.25 V. {LOW_SUPPLY_REMEDY if value < SUPPLY else HIGH_SUPPLY_REMEDY}"
        return PartResult("supply", ODD, seen, remedy, figures)
    if LIMIT_OVER_STANDARD * u > SUPPLY_LIMIT:
        seen += "; not calibrated, so the 4.6 V of a board with a diode behind its USB plug would not be seen"
        return PartResult("supply", GOOD, seen, CALIBRATE_SUPPLY, figures)
    return PartResult("supply", GOOD, seen, figures=figures)


def pressure(view: RigView) -> PartResult:
    return _ratiometric(view, "pressure", "line_pressure", "A0") or PartResult(
        "pressure", FAULTY, "the board has no pressure sensor enabled", "Enable it in the board's settings"
    )


def difference(view: RigView) -> PartResult | None:
    return _ratiometric(view, "differential", "differential_pressure", "A3")


def _ratiometric(view: RigView, kind: str, name: str, pin: str) -> PartResult | None:
    channel = view.channel(kind)
    if channel is None or channel.sensor == "none":
        return None
    sensor = view.pressure_sensor(kind)
    if sensor is None:
        remedy = (
            f"Set it: `frothline settings --{kind}-range 0 30kPa --{kind}-accuracy 1`, with the figures of its sheet"
        )
        return PartResult(kind, FAULTY, f"the sensor is {channel.sensor.replace('_', ' ')}, and {NOT_SET}", remedy)
    value, u = view.latest(name)
    if math.isnan(value):
        remedy = f"Measure at {pin}: {sensor.part} gives {5 * sensor.c:.2f} V at rest. Check its plug and its 5 V"
        return PartResult(kind, FAULTY, "no signal: the pin is at one end of its range", remedy)
    samples = view.values(name, REST_LOOK)
    noise = float(np.std(samples))
    view.rest[name] = value
    figures = {name: value, f"u_{name}": u, "noise": noise}
    limit = max(LIMIT_OVER_STANDARD * u, LEAST_ZERO)
    seen = f"{value / 1e3:+.2f} kPa at rest (limit of {sensor.part}: ±{limit / 1e3:.2f} kPa), noise {noise:.0f} Pa"
    if abs(value) > 3 * limit:
        remedy = "Air still moves, the fitted sensor differs from the settings, or two plugs are swapped"
        return PartResult(kind, FAULTY, seen, remedy, figures)
    if abs(value) > limit:
        return PartResult(kind, ODD, seen, "Open the line to the room, then take a zero", figures)
    if noise > QUIET_PRESSURE:
        remedy = "Fit the filter and the capacitors of the wiring plan; keep the leads away from the motor's"
        return PartResult(kind, ODD, seen, remedy, figures)
    return PartResult(kind, GOOD, seen, figures=figures)


def temperature(view: RigView) -> PartResult:
    value, u = view.latest("line_temperature")
    if math.isnan(value):
        remedy = "Measure at A2: about 2.5 V at 25 °C; 5 V is an open thermistor, 0 V a shorted one"
        return PartResult("temperature", FAULTY, "no signal: the thermistor is open or shorted", remedy)
    seen = f"{value - ZERO_CELSIUS:.1f} °C in the line"
    figures = {"line_temperature": value, "u_line_temperature": u}
    room, _ = view.latest("ambient_temperature")
    if not COLD < value < WARM:
        remedy = "Check whether resistor and thermistor are swapped, and which thermistor the settings name"
        return PartResult("temperature", FAULTY, seen, remedy, figures)
    if not math.isnan(room) and abs(value - room) > NEAR_THE_ROOM:
        seen += f", {abs(value - room):.0f} K {'above' if value > room else 'below'} room temperature"
        remedy = "Let a line that was just used cool down for ten minutes; otherwise check the 10 kohm resistor"
        return PartResult("temperature", ODD, seen, remedy, figures)
    return PartResult("temperature", GOOD, seen, figures=figures)


def ambient(view: RigView) -> PartResult:
    channel = view.channel("ambient")
    pressure, _ = view.latest("ambient_pressure")
    if channel is None or not channel.present or math.isnan(pressure):
        seen = "does not answer on its two wires"
        if view.level < 2:
            return PartResult("ambient", ABSENT, f"{seen}; the spool file's ambient values are used instead")
        remedy = "Check SDA on A4, SCL on A5, 5 V and ground; keep the wires under 0.3 m"
        return PartResult("ambient", FAULTY, seen, remedy)
    warmth, _ = view.latest("ambient_temperature")
    humidity, _ = view.latest("ambient_humidity")
    damp = "" if math.isnan(humidity) else f", {100 * humidity:.0f} % humid"
    seen = f"{pressure / 100:.0f} hPa, {warmth - ZERO_CELSIUS:.1f} °C{damp}"
    figures = {"ambient_pressure": pressure, "ambient_temperature": warmth, "ambient_humidity": humidity}
    if not (LOW_AIR < pressure < HIGH_AIR and COLD < warmth < WARM):
        return PartResult("ambient", FAULTY, f"{seen}: not plausible for room air", "Try another module", figures)
    return PartResult("ambient", GOOD, seen, figures=figures)


def scale_at_rest(view: RigView) -> PartResult | None:
    """Result of the scale before a weight is put on; None without a finding."""
    channel = view.channel("scale")
    value = view.latest("scale_counts")[0] / view.counts_per_kilogram()
    if channel is None or not channel.present or math.isnan(value):
        if view.level < 3:
            return PartResult("scale", ABSENT, "no answer; only level 3 has a scale")
        remedy = "Check DOUT on D4, SCK on D5, 5 V and ground, and the four wires of the load cell"
        return PartResult("scale", FAULTY, "does not answer", remedy)
    view.rest["scale_counts"] = value
    noise = float(np.std(view.values("scale_counts", REST_LOOK))) / view.counts_per_kilogram()
    if noise > QUIET_SCALE:
        remedy = "Set it on a firm floor away from the blower; check the load cell's wires"
        return PartResult("scale", ODD, f"varies by {noise * 1e3:.0f} g at rest", remedy, {"noise": noise})
    return None


def losses(view: RigView) -> PartResult:
    lost = view.now().losses
    counts = {
        "damaged frames": lost.damaged,
        "missing frames": lost.missing,
        "resets of the board": lost.board_resets,
        "ADC samples lost": lost.health.get("adc_overruns", 0),
        "errors on the two-wire bus": lost.health.get("bus_errors", 0),
    }
    bad = [f"{count} {words}" for words, count in counts.items() if count]
    figures = {words.replace(" ", "_"): float(count) for words, count in counts.items()}
    if bad:
        remedy = (
            "Use a shorter USB cable, away from the motor's leads; for bus errors, use shorter wires to the "
            "ambient module"
        )
        return PartResult("losses", ODD, ", ".join(bad), remedy, figures)
    return PartResult("losses", GOOD, f"none in {lost.frames} frames", figures=figures)
