"""Reckons which bore and which sensors suit which air source, from the package's own formulas and budgets.

    python hardware/bores/bores.py        writes README.md and bores.svg beside this file
    python hardware/bores/bores.py --source "my vacuum,18,45,1.6"     prints the tables for a source of your own:
                                          name, shut-off kPa, free delivery L/s, exponent of its curve

Nothing is chosen by hand here: limits stand at the head, tables are computed, and the choice is what they leave.
"""

from __future__ import annotations

import argparse
import csv
import math
import sys
import textwrap
from collections.abc import Iterable
from dataclasses import dataclass, replace
from functools import lru_cache
from html import escape
from pathlib import Path

import numpy as np

from frothline.errors import SensorError
from frothline.estimate import Z95
from frothline.generator.stock_sizes import PIPES_BY_NAME as SOLD
from frothline.generator.stock_sizes import StockPipe
from frothline.physics import air, pipe, safety
from frothline.physics.exhaust import exhaust_temperature_rise
from frothline.physics.hole import sharp_plate_flow
from frothline.physics.orifice import straight_length_iso_5167_2_2003
from frothline.sensors.calibration import Calibration
from frothline.sensors.converter import Converter
from frothline.sensors.datasheets import PRESSURE, SENSOR
from frothline.sensors.description import Channel, RigDescription
from frothline.sensors.flow import straight_pipe
from frothline.sensors.spool import Spool
from frothline.wire import ENUMS, WIRE

HERE = Path(__file__).parent
KIND = ENUMS["channel_kind"]

AMBIENT, ROOM = 101_325.0, 293.15  # Pa, K: free air
SPEED_SHARE = (
    0.75  # of the vane's largest speed at free delivery, so that it lives and a stronger source fits; judgement
)
STARTS = 2.0  # times the start-up speed at a tenth of free delivery; judgement
LOSS_SHARE = 0.05  # of the shut-off pressure that the spool itself may take at free delivery; judgement
MARGIN = 1.25  # sensor range over shut-off pressure: hammer when a valve shuts, and a stronger source; judgement
MISTAKE = 800e3  # Pa gauge: a workshop compressor put on the spool by mistake
ROTOR_LOSS = 0.5  # velocity heads; common practice, no source
CELL, CELL_OPEN = 0.009, 0.78  # m, share: cells of the printed straightener and what they leave open
SMOOTH = 1.5e-6  # m, drawn plastic pipe [white]
SENSORS = ("mpx5010", "mpxv7025", "mpx5050")
DRAWN = Spool.default()
# A standard gives the least wall of a pipe, and what is sold is thicker: the drawn pipe has the bore of the spool file.
PIPES_BY_NAME = {
    name: replace(one, wall=(one.outer - DRAWN.pipe.bore) / 2) if one.outer == DRAWN.pipe.outer_diameter else one
    for name, one in SOLD.items()
    if name.count("x") == 1
}
CALIBRATED = 0.012  # relative standard uncertainty of the vane's K on this page: what the plates bring; judgement
BORES = ("25x1.9", "32x2.4", "40x3", "50x3.7", "63x4.7", "75x5.6", "90x6.7", "110x8.1")

# Most that each part stands, Pa: NXP MPX5050 rev 5 and MPX5010GS rev 2 tables (read); the others from memory.
OVERLOAD = {"MPX5010": 75e3, "MPX5050": 200e3, "MPXV7025": 200e3, "MPXV7007": 75e3, "MPXV7002": 75e3}


@dataclass(frozen=True)
class Source:
    """p = shut_off (1 - (q/free)^exponent); Pa and m3/s at 1.2 kg/m3. Magnitudes of catalogue order, from memory."""

    name: str
    shut_off: float
    free: float
    exponent: float

    def pressure(self, flow: float) -> float:
        return self.shut_off * (1 - (flow / self.free) ** self.exponent)

    @property
    def peak(self) -> float:
        """Flow of the largest air power: d(p q)/dq = 0."""
        return self.free * (1 / (1 + self.exponent)) ** (1 / self.exponent)


SOURCES = (
    Source("small vacuum", 14.5e3, 0.045, 1.6),
    Source("workshop vacuum", 20e3, 0.060, 1.6),
    Source("two-stage vacuum motor", 25e3, 0.055, 1.5),
    Source("side-channel blower", 15e3, 0.030, 1.1),
    Source("lobe or vane pump with relief valve", 22e3, 0.022, 12.0),
    Source("compressor behind a regulator", 15e3, 0.004, 6.0),
    Source("leaf blower", 4e3, 0.150, 1.8),
)


@dataclass(frozen=True)
class Suit:
    """One source in one pipe. Speeds m/s in the line, at a tenth of free delivery and at it; loss Pa there."""

    source: Source
    pipe: StockPipe
    slow: float
    fast: float
    loss: float
    length: float

    def width_at(self, flow: float) -> float:
        """Relative 95 % half-width of the flow there, with a zero taken."""
        return _width_in(self.source, self.pipe, flow)

    @property
    def reasons(self) -> tuple[str, ...]:
        """Why it will not do; empty when it will."""
        rotor = Spool.default().rotor
        return tuple(
            words
            for bad, words in (
                (self.fast > SPEED_SHARE * rotor.largest_speed, "too fast"),
                (self.slow < STARTS * rotor.start_speed, "too slow"),
                (self.loss > LOSS_SHARE * self.source.shut_off, "takes pressure"),
            )
            if bad
        )


def description(**sensors: str) -> RigDescription:
    """A board with these sensors on these channels, as its own stream would describe it."""
    bits = sum(1 << KIND[kind] for kind in sensors)
    channels = {kind: Channel(KIND[kind], SENSOR[sensor], kind, 100.0, "") for kind, sensor in sensors.items()}
    return RigDescription("bores", "0", "atmega328p", 1, 1, 0, WIRE.tick_hz, 100, bits, bits, 1.0, channels)


FULL = {"pressure": "mpx5050", "rotor": "pulse_rotor", "temperature": "ntc_10k_3950", "ambient": "bme280"}


def spool_of(bought: StockPipe) -> Spool:
    """The spool as drawn, in another pipe: lengths keep their number of bores, the vane its pulses per metre of air."""
    drawn = Spool.default()
    grown = bought.bore / drawn.pipe.bore
    body = replace(
        drawn.pipe,
        bore=bought.bore,
        outer_diameter=bought.outer,
        u_bore=1e-4,  # by calliper
        straight_upstream=drawn.pipe.straight_upstream * grown,
        straight_downstream=drawn.pipe.straight_downstream * grown,
        tap_to_rotor=drawn.pipe.tap_to_rotor * grown,
    )
    rotor = replace(
        drawn.rotor,
        pulses_per_cubic_metre=drawn.rotor.pulses_per_cubic_metre / grown**2,
        calibrated=True,
        u_relative=CALIBRATED,
    )
    return replace(drawn, pipe=body, rotor=rotor)


def line_temperature(pressure: float) -> float:
    """K of the air that a blower has brought to a gauge pressure, Pa."""
    return ROOM + float(exhaust_temperature_rise(ROOM, pressure, AMBIENT))


def line_density(pressure: float) -> float:
    return float(air.density(line_temperature(pressure), AMBIENT + pressure, 0.2))


def spool_loss(spool: Spool, flow: float, pressure: float) -> float:
    """Pa that straight pipe, straightener and vane take of a standard flow."""
    density = line_density(pressure)
    mass = flow * air.STANDARD_DENSITY
    bore = spool.pipe.bore
    speed = mass / density / spool.pipe.area
    viscosity = float(air.viscosity(line_temperature(pressure)))
    wall = float(pipe.friction_factor(pipe.reynolds(mass, bore, viscosity), SMOOTH / bore))
    straight = wall * (spool.pipe.straight_upstream + spool.pipe.straight_downstream) / bore
    cells = float(pipe.friction_factor(density * speed / CELL_OPEN * CELL / viscosity))
    straightener = (cells * bore / CELL + pipe.sudden_contraction(1.0, math.sqrt(CELL_OPEN))) / CELL_OPEN**2
    return float(pipe.loss_pressure(straight + straightener + ROTOR_LOSS, density, speed))


def width(converter: Converter, flow: float, pressure: float) -> float:
    """Relative 95 % half-width of one second's mean of a standard flow; NaN where the sensor cannot read it."""
    try:
        budget = converter.budget(
            "standard_flow",
            flow,
            line_pressure=max(pressure, 1.0),
            line_temperature=line_temperature(pressure),
            ambient_pressure=AMBIENT,
            ambient_temperature=ROOM,
        )
    except SensorError:
        return math.nan
    estimate = budget.estimate(0.95, samples=100)
    return (estimate.upper - estimate.lower) / 2 / flow


@lru_cache
def suit(source: Source, bought: StockPipe) -> Suit:
    spool = spool_of(bought)

    def speed(flow: float) -> float:
        return flow * air.STANDARD_DENSITY / line_density(source.pressure(flow)) / spool.pipe.area

    free = source.free
    length = spool.pipe.straight_upstream + spool.pipe.straight_downstream
    return Suit(source, bought, speed(0.1 * free), speed(free), spool_loss(spool, free, 0.0), length)


@lru_cache
def _width_in(source: Source, bought: StockPipe, flow: float) -> float:
    converter = Converter(description(**FULL), Calibration().with_zero("pressure", 0.04), spool_of(bought))
    return width(converter, flow, source.pressure(flow))


def pipes() -> tuple[StockPipe, ...]:
    return tuple(PIPES_BY_NAME[name] for name in BORES)


def best(source: Source) -> Suit | None:
    """Of the pipes that will do, the one whose flow is known best at a tenth of free delivery."""
    will_do = [one for one in (suit(source, bought) for bought in pipes()) if not one.reasons]
    return min(will_do, key=lambda one: (round(one.width_at(0.1 * source.free), 4), one.length), default=None)


def for_most(sources: Iterable[Source] = SOURCES) -> StockPipe:
    """The one pipe that does for most sources; of equals, the one whose widths at a tenth add up to least."""
    every = tuple(sources)

    def merit(bought: StockPipe) -> tuple[int, float]:
        fits = [one for one in (suit(source, bought) for source in every) if not one.reasons]
        return len(fits), -sum(one.width_at(0.1 * one.source.free) for one in fits) / max(len(fits), 1)

    return max(pipes(), key=merit)


# --- the page ---------------------------------------------------------------------------------------------------------


def _percent(value: float) -> str:
    return "–" if math.isnan(value) else f"±{100 * value:.1f} %"


def bore_table(source: Source) -> list[str]:
    rows = [
        "| pipe | bore | at a tenth | at free delivery | spool takes | straight pipe | flow known to, at a tenth | "
        "at most air power | at free delivery | |",
        "|---|---|---|---|---|---|---|---|---|---|",
    ]
    chosen = best(source)
    for bought in pipes():
        one = suit(source, bought)
        known = " | ".join(_percent(one.width_at(q)) for q in (0.1 * source.free, source.peak, source.free))
        words = ", ".join(one.reasons) or ("**best**" if chosen and chosen.pipe == bought else "does")
        rows.append(
            f"| {bought.name} | {bought.bore * 1e3:.1f} mm | {one.slow:.1f} m/s | {one.fast:.1f} m/s | "
            f"{one.loss:.0f} Pa | {one.length * 1e3:.0f} mm | {known} | {words} |"
        )
    return rows


def choice_table() -> list[str]:
    rows = ["| source | shut-off | free delivery | best pipe | its bore | also do |", "|---|---|---|---|---|---|"]
    for source in SOURCES:
        chosen = best(source)
        others = [b.name for b in pipes() if not suit(source, b).reasons and not (chosen and b == chosen.pipe)]
        name, bore = (chosen.pipe.name, f"{chosen.pipe.bore * 1e3:.1f} mm") if chosen else ("none of these", "–")
        rows.append(
            f"| {source.name} | {source.shut_off / 1e3:g} kPa | {source.free * 1e3:g} L/s | {name} | {bore} | "
            f"{', '.join(others) or '–'} |"
        )
    return rows


def sensor_table() -> list[str]:
    """Range against each shut-off pressure, and how well a pressure is known after a zero."""
    rows = [
        "| sensor | range | a count | withstands | at 1 kPa | at 10 kPa | at 20 kPa | range does for shut-off up to | "
        "a compressor by mistake |",
        "|---|---|---|---|---|---|---|---|---|",
    ]
    for name in SENSORS:
        sensor = PRESSURE[SENSOR[name]]
        known = [
            "beyond" if value > sensor.high else f"±{_pressure_width(name, value):.0f} Pa"
            for value in (1e3, 10e3, 20e3)
        ]
        over = MISTAKE / OVERLOAD[sensor.part]
        rows.append(
            f"| {sensor.part} | {sensor.low / 1e3:g} to {sensor.high / 1e3:g} kPa | {1 / sensor.k / 1024:.0f} Pa | "
            f"{OVERLOAD[sensor.part] / 1e3:.0f} kPa | {' | '.join(known)} | {sensor.high / MARGIN / 1e3:g} kPa | "
            f"{over:.0f} times what it withstands: destroyed |"
        )
    return rows


def sensor_for(source: Source) -> tuple[str, float]:
    """Of the parts whose range leaves the margin, the one that knows half the shut-off pressure best; its ±Pa, 95 %."""
    fits = [name for name in SENSORS if PRESSURE[SENSOR[name]].high >= MARGIN * source.shut_off]
    known = {name: _pressure_width(name, source.shut_off / 2) for name in fits}
    chosen = min(known, key=lambda name: known[name])
    return PRESSURE[SENSOR[chosen]].part, known[chosen]


@lru_cache
def _pressure_width(name: str, pressure: float) -> float:
    sensor = PRESSURE[SENSOR[name]]
    converter = Converter(description(**{**FULL, "pressure": name}), Calibration().with_zero("pressure", sensor.c))
    estimate = converter.budget("line_pressure", pressure).estimate(0.95, samples=100)
    return (estimate.upper - estimate.lower) / 2


def plates_table(bought: StockPipe) -> list[str]:
    """Level 1: flow from line pressure through a drilled plate, by pressure sensor, after a zero."""
    with (HERE.parent / "spool/plates.csv").open(encoding="utf-8") as file:
        plates = [(float(r["hole_mm"]) / 1e3, float(r["typical_pressure_kPa"]) * 1e3) for r in csv.DictReader(file)]
    parts = SENSORS
    rows = [f"| hole | pressure | {' | '.join(PRESSURE[SENSOR[p]].part for p in parts)} |", "|---|---|---|---|---|"]
    spool = spool_of(bought)
    for hole, pressure in plates:
        made = replace(spool, flow=replace(spool.flow, element="plate"), plate=replace(spool.plate, hole=hole))
        known = []
        for name in parts:
            sensor = PRESSURE[SENSOR[name]]
            board = description(pressure=name, temperature="ntc_10k_3950", ambient="bme280")
            converter = Converter(board, Calibration().with_zero("pressure", sensor.c), made)
            flow = _plate_flow(made, hole, pressure)
            known.append(_percent(width(converter, flow, pressure)) if pressure < sensor.high else "beyond its range")
        rows.append(f"| {hole * 1e3:g} mm | {pressure / 1e3:.1f} kPa | {' | '.join(known)} |")
    return rows


def _plate_flow(spool: Spool, hole: float, pressure: float) -> float:
    density = line_density(pressure)
    return float(sharp_plate_flow(spool.pipe.bore, hole, pressure, AMBIENT, density).mass_flow / air.STANDARD_DENSITY)


def meter_table(source: Source, bought: StockPipe) -> list[str]:
    """An orifice or a Venturi tube in place of the vane, by low-range sensor, after a zero."""
    rows = [
        "| in place of the vane | sensor | at a tenth | at most air power | at free delivery |",
        "|---|---|---|---|---|",
    ]
    spool = spool_of(bought)
    spool = replace(spool, orifice=replace(spool.orifice, bore=0.7 * bought.bore))
    for element in ("orifice", "venturi"):
        for name in ("mpxv7002", "mpxv7007"):
            sensor = PRESSURE[SENSOR[name]]
            sensors = {**FULL, "differential": name}
            del sensors["rotor"]
            made = replace(spool, flow=replace(spool.flow, element=element))
            zeros = Calibration().with_zero("pressure", 0.04).with_zero("differential", sensor.c)
            converter = Converter(description(**sensors), zeros, made)
            known = [
                _percent(width(converter, q, source.pressure(q))) for q in (0.1 * source.free, source.peak, source.free)
            ]
            rows.append(f"| {element} | {sensor.part} | {' | '.join(known)} |")
    return rows


def picture(source: Source) -> str:
    """Width of the flow's interval over the flow, one line a pipe, as SVG in the colour of the text around it."""
    wide, high, left, bottom = 760.0, 380.0, 64.0, 44.0
    top_percent, low_percent = 30.0, 1.0

    def x(flow: float) -> float:
        return left + (wide - left - 24) * flow / source.free

    def y(percent: float) -> float:
        share = math.log(min(max(percent, low_percent), top_percent) / low_percent) / math.log(
            top_percent / low_percent
        )
        return high - bottom - share * (high - bottom - 16)

    parts = []
    for percent in (1, 2, 5, 10, 20):
        parts.append(f'<path class="g" d="M{left:.0f} {y(percent):.1f}H{x(source.free):.1f}"/>')
        parts.append(f'<text x="{left - 6:.0f}" y="{y(percent) + 4:.1f}" text-anchor="end">±{percent} %</text>')
    for tenth in range(0, 11, 2):
        flow = source.free * tenth / 10
        parts.append(f'<text x="{x(flow):.1f}" y="{high - 24:.0f}" text-anchor="middle">{flow * 1e3:.0f}</text>')
    chosen = best(source)
    flows = source.free * np.geomspace(0.05, 1.0, 8)
    for bought in pipes()[3:]:
        points = [(float(q), 100 * suit(source, bought).width_at(float(q))) for q in flows]
        path = "L".join(f"{x(q):.1f} {y(w):.1f}" for q, w in points if not math.isnan(w))
        mark = "b" if chosen is not None and bought == chosen.pipe else "l"
        parts.append(f'<path class="{mark}" d="M{path}"/>')
        q, w = next((q, w) for q, w in points if not math.isnan(w))
        parts.append(
            f'<text class="n" x="{x(q) - 4:.1f}" y="{y(w) + 3:.1f}" text-anchor="end">{bought.bore * 1e3:.0f} mm</text>'
        )
    style = (
        ".g{stroke:currentColor;stroke-opacity:.2;fill:none}.l{stroke:currentColor;stroke-width:1.2;fill:none}"
        ".b{stroke:#1b7f6b;stroke-width:3;fill:none}"
        "text{font:12px system-ui,sans-serif;fill:currentColor}.n{font-size:11px}"
    )
    title = f"How well the flow of a {source.name} is known, by bore of the spool"
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {wide:.0f} {high:.0f}" role="img" color="#22313a">'
        f"<title>{escape(title)}</title><style>{style}</style>{''.join(parts)}"
        f'<text x="{(left + x(source.free)) / 2:.0f}" y="{high - 6:.0f}" text-anchor="middle">'
        "L/s at 1.2 kg/m³</text></svg>\n"
    )


def _wrapped(*words: str, quote: str = "") -> str:
    return textwrap.fill(
        " ".join(words),
        118,
        initial_indent=quote,
        subsequent_indent=quote,
        break_long_words=False,
        break_on_hyphens=False,
    )


def page() -> str:
    typical, most = SOURCES[1], for_most()
    rotor, throat = Spool.default().rotor, Spool.default().venturi.throat
    count = sum(not suit(source, most).reasons for source in SOURCES)
    asked = straight_pipe(spool_of(most))
    bend = straight_length_iso_5167_2_2003(0.75, "single 90° bend")
    energy = [safety.stored_gas_energy(p, 1e-3) for p in (typical.shut_off, MISTAKE)]
    push = [safety.push_fit_force(most.outer, p) for p in (typical.shut_off, MISTAKE)]
    sensors = (
        f"| {s.name}, {s.shut_off / 1e3:g} kPa | {sensor_for(s)[0]} | ±{sensor_for(s)[1]:.0f} Pa |" for s in SOURCES
    )
    blocks = (
        "# Which bore, which sensors",
        _wrapped(
            "Computed by `bores.py` from the package's own formulas and uncertainty budgets; a test makes it again and",
            "compares. Curves of the sources are of catalogue order, from memory: put in your own with `--source`.",
        ),
        _wrapped(
            f"**The choice: {most.name} pipe, bore {most.bore * 1e3:.1f} mm, does for {count} of the {len(SOURCES)}",
            f"sources below; the {sensor_for(typical)[0]} for the pressure.**",
        ),
        _wrapped(
            "**Never put compressed air on PVC or other plastic pipe.** A workshop compressor",
            f"({MISTAKE / 1e3:.0f} kPa) stores {energy[1]:.0f} J in each litre of pipe, a blower {energy[0]:.1f} J,",
            f"and pushes on the cap of a {most.outer * 1e3:.0f} mm pipe with {push[1]:.0f} N instead of",
            f"{push[0]:.0f} N. Plastic then shatters and throws its pieces; no water rating printed on it holds for gas",
            "(US labour inspectorate's bulletins of 1988 and 1990, ASME B31.9). No sensor below survives it either. A compressor",
            "comes in only through a regulator, with a relief valve behind it, in pipe its maker rates for gas; local",
            "codes come first.",
            quote="> ",
        ),
        "## Bore",
        "A bore will do when, in the line,",
        f"- the vane sees at most {SPEED_SHARE:.0%} of its {rotor.largest_speed:g} m/s at free delivery,\n"
        f"- it still sees {STARTS:g} times its start-up speed of {rotor.start_speed:g} m/s at a tenth of that flow,\n"
        f"- and pipe, straightener and vane take at most {LOSS_SHARE:.0%} of the shut-off pressure.",
        _wrapped(
            "Of those that will do, the best is the one whose flow is known best at a tenth of free delivery. The",
            "three limits are judgement, and stand at the head of the script. A standard gives the least wall of a pipe:",
            f"the {most.name} pipe is taken with the bore of the spool file, {most.bore * 1e3:.1f} mm.",
        ),
        "\n".join(choice_table()),
        _wrapped(
            "None of these does for the leaf blower. For the compressor the pipe of PVC is a size only: compressed air never",
            "goes into plastic, but into metal pipe behind regulator and relief.",
            "[Four sources](../spool/four-sources.md) has a way for both, and for a tyre inflator, with plates and with or",
            "without a board.",
        ),
        f"### The {typical.name} in every bore",
        "![Interval of the flow over the flow, a line for each bore](bores.svg)",
        "\n".join(bore_table(typical)),
        _wrapped(
            "Speeds are in the line; “known to” is the 95 % interval of a mean over one second, with a zero taken and the",
            f"vane's K factor calibrated to ±{100 * Z95 * CALIBRATED:.1f} %. Before that the flow of a vane out of a fan is known to",
            f"±{100 * Z95 * rotor.u_relative:.0f} % in every bore (judgement).",
        ),
        _wrapped(
            f"Straight pipe as drawn is {asked.upstream:.0f} bores before the vane and {asked.downstream:.0f} behind.",
            f"The hose widens into the pipe, an expander by ISO 5167-2:2003, table 3; by its strictest row {asked.words}.",
            f"After a bend it lists {bend.full:g} bores, or {bend.half_per_cent_more:g} at 0.5 %: have the bends",
            "elsewhere. The slender cone of the adapter and the straightener make the flow better than the table knows:",
            "it has no column for them, and no figure is claimed here.",
        ),
        "## Pressure sensor",
        f"Range at least {MARGIN:g} times the shut-off pressure. Known to, 95 %, after a zero:",
        "\n".join(sensor_table()),
        "\n".join(("| source | sensor | half its shut-off pressure known to |", "|---|---|---|", *sensors)),
        _wrapped(
            "Chosen is, of those that leave the margin, the one that knows half the shut-off pressure best. A smaller",
            "range does not pay: its error band is larger. A calibration against a U-tube of water replaces the band.",
        ),
        "## Flow without an anemometer: the drilled plates",
        f"Level 1 reads the flow off the line pressure. Typical source, pipe {most.name}, 95 %:",
        "\n".join(plates_table(most)),
        "## Flow by orifice or Venturi tube",
        _wrapped(
            f"For the {typical.name} in {most.name} (orifice ratio 0.70, Venturi throat {throat * 1e3:g} mm), 95 %; a",
            "dash where the sensor cannot read that flow:",
        ),
        "\n".join(meter_table(typical, most)),
        _wrapped(
            "A difference of pressure falls with the square of the flow, so the low end is lost first; the vane is",
            "linear and keeps it.",
        ),
    )
    return "\n\n".join(blocks) + "\n"


def main() -> int:
    parser = argparse.ArgumentParser(description="Which bore and which sensors suit which air source.")
    parser.add_argument("--source", metavar="NAME,KPA,L/S,EXPONENT", help="print the table of a source of your own")
    asked = parser.parse_args().source
    if asked:
        name, shut_off, free, exponent = asked.split(",")
        source = Source(name, float(shut_off) * 1e3, float(free) / 1e3, float(exponent))
        print("\n".join(bore_table(source)))
        print(f"\npressure sensor: {sensor_for(source)[0]}")
        return 0
    (HERE / "README.md").write_text(page(), "utf-8")
    (HERE / "bores.svg").write_text(picture(SOURCES[1]), "utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main())
