"""The wiring: one table of parts and nets, its pins those of the firmware, its values those that the sampling needs."""

import importlib.util
import json
import re
import shutil
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import pytest

from frothline.sensors import analog
from frothline.sensors.datasheets import NTC, PRESSURE, SENSOR
from frothline.simulation.world import World

WIRING = Path(__file__).parents[2] / "hardware" / "wiring"


def script(name):
    spec = importlib.util.spec_from_file_location(name, WIRING / f"{name}.py")
    module = importlib.util.module_from_spec(spec)
    sys.modules[name] = module  # dataclasses look themselves up there
    spec.loader.exec_module(module)
    return module


circuit = script("circuit")
picture = script("picture")
schematic = script("schematic")
wiring = script("wiring")
CIRCUIT = circuit.load()
FIGURE = re.compile(r"<[^>]+>")


def test_every_pin_of_the_firmware_is_wired_and_no_other():
    """The light is on the board already; all else in pins.h has its net, and each net its pin."""
    pins = circuit.pin_map()
    assert {net.macro for net in CIRCUIT.nets.values()} == set(pins) - {"LED_PIN"}
    assert {name: circuit.BOARD_NAMES[pins[net.macro]] for name, net in CIRCUIT.nets.items()} == {
        name: name for name in CIRCUIT.nets
    }


def test_no_two_signals_share_a_pin_or_a_colour():
    pins = list(circuit.pin_map().values())
    assert len(set(pins)) == len(pins)
    colours = [net.colour for net in CIRCUIT.nets.values()]
    assert len({*colours, "red", "black"}) == len(colours) + 2


def test_the_rotor_is_on_the_input_capture_of_timer_1():
    """ATmega328P data sheet, alternate functions of port B: ICP1 is PB0. No other pin is time-stamped in hardware."""
    assert circuit.pin_map()["ROTOR_PIN"] == "PB0"


def test_the_bus_is_on_the_pins_of_the_two_wire_unit():
    """ATmega328P data sheet, alternate functions of port C: SDA is PC4, SCL is PC5."""
    assert circuit.pin_map()["SDA_PIN"] == "PC4"
    assert circuit.pin_map()["SCL_PIN"] == "PC5"


@pytest.mark.parametrize("file", ["wiring.md", *wiring.PICTURES, "frothline.kicad_sch"])
def test_each_file_is_the_one_made_from_the_table(file):
    made = wiring.table() if file == "wiring.md" else schematic.schematic(CIRCUIT)
    if file in wiring.PICTURES:
        made = picture.draw(CIRCUIT, wiring.PICTURES[file])
    assert (WIRING / file).read_text("utf-8") == made, "run python hardware/wiring/wiring.py and schematic.py"


@pytest.mark.parametrize("file", wiring.PICTURES)
def test_a_picture_shows_every_part_with_its_value_and_every_wire_with_its_colour(file):
    words = FIGURE.sub("\n", (WIRING / file).read_text("utf-8"))
    for part in CIRCUIT.parts.values():
        if part.kind != "board":
            assert re.search(rf"\b{part.ref}\b", words), part.ref
            assert part.label.split(",")[0] in words, part.label
    for net in CIRCUIT.nets.values():
        assert f"{net.colour}: {net.name} {net.signal}" in words


def test_the_picture_says_which_parts_are_fitted_without_their_sensor():
    """An analog input without its resistor to ground reads noise, also where its sensor is optional."""
    made = picture.draw(CIRCUIT, "uno")
    assert "R5, R7, C5 at A1 and R6, R8, C6 at A3 are fitted without U8 and U7 too" in made


@pytest.mark.parametrize("board", picture.BOARDS)
def test_a_named_board_has_each_pin_once_where_its_maker_prints_it(board):
    _, left, right = picture.BOARDS[board]
    names = [name for name in left + right if name]
    assert {net.name for net in CIRCUIT.nets.values()} <= set(names)
    assert {"5V", "GND"} <= set(names)
    for name in CIRCUIT.nets:
        assert names.count(name) == 1
    digital = {f"D{n}" for n in range(14)}
    assert digital <= set(names)


# --- the schematic ------------------------------------------------------------------------------------------------


def test_the_schematic_has_the_nets_of_the_table():
    """Read back from where its pins, wires and labels lie, not from the table."""
    found = schematic.nets_of((WIRING / "frothline.kicad_sch").read_text("utf-8"))
    assert found == CIRCUIT.connections()


def test_a_wire_that_misses_its_pin_is_seen_in_the_schematic():
    text = (WIRING / "frothline.kicad_sch").read_text("utf-8")
    first = re.search(r"\(wire \(pts \(xy ([\d.]+) ([\d.]+)\)", text)
    moved = text.replace(first[0], f"(wire (pts (xy {float(first[1]) + 1.27:g} {first[2]})", 1)
    assert schematic.nets_of(moved) != CIRCUIT.connections()


def test_no_electrical_rule_is_broken_and_a_broken_one_is_found():
    assert schematic.rule_breaks(CIRCUIT) == []
    logic = CIRCUIT.parts["U4"]
    floating = replace(logic, pins=tuple(replace(p, net="") if p.number == "3" else p for p in logic.pins))
    assert schematic.rule_breaks(replace(CIRCUIT, parts={**CIRCUIT.parts, "U4": floating})) == ["U4 pin 3 is free"]
    without = {ref: part for ref, part in CIRCUIT.parts.items() if ref not in {"R1", "U4"}}
    broken = schematic.rule_breaks(replace(CIRCUIT, parts=without))
    assert "nothing drives D8" in " ".join(broken) or "D8 has one pin only" in broken


@pytest.mark.exhaustive
def test_kicad_finds_no_error_in_the_schematic(tmp_path):
    """The only warnings are that the symbols are in the file and in no library."""
    if not shutil.which("kicad-cli"):
        pytest.skip("needs kicad-cli of KiCad 8 or later (Debian 12: bookworm-backports, 102 MB)")
    report = tmp_path / "erc.json"
    command = ["kicad-cli", "sch", "erc", "--severity-all", "--format", "json", "-o", report]
    subprocess.run([*command, WIRING / "frothline.kicad_sch"], check=True)
    sheets = json.loads(report.read_text("utf-8"))["sheets"]
    assert {one["type"] for sheet in sheets for one in sheet["violations"]} <= {"lib_symbol_issues"}


# --- values -------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("pin", ["A0", "A1", "A3"])
def test_the_filter_corner_is_that_of_the_makers_noise_note(pin):
    """AN1646 rev 2: 750 ohm and 0.33 uF, 'about 650 Hz'. Below half the conversion rate of 16 MHz/128/13 = 9615 Hz."""
    corner = circuit.filter_corner(CIRCUIT, pin)
    assert corner == pytest.approx(650, rel=0.02)
    assert corner < 16e6 / 128 / 13 / 2


def test_the_temperature_filter_stops_what_would_fold_back():
    """The divider's 10 kohm and NTC in parallel, 5 kohm at 25 C, and R4 before C4. The bead's own lag is seconds."""
    corner = circuit.corner(5e3 + circuit.value(CIRCUIT.parts["R4"].what), circuit.value(CIRCUIT.parts["C4"].what))
    assert 100 < corner < 16e6 / 128 / 13 / 2 / 10


@pytest.mark.parametrize(("pin", "channel"), [("A0", "pressure"), ("A1", "thermal"), ("A2", "temperature")])
def test_an_unplugged_sensor_reads_as_in_the_simulated_circuit(pin, channel):
    world = World("idle", 1, 0.0)
    device = "rotor" if channel == "thermal" else channel
    world.control("unplug", device)
    assert world.pin(channel) == pytest.approx(circuit.unplugged_share(CIRCUIT, pin), abs=1e-6)


@pytest.mark.parametrize("sensor", ["mpx5050", "mpx5010", "mpxv7002", "mpxv7007", "mpxv7025"])
@pytest.mark.parametrize("pin", ["A0", "A3"])
def test_an_unplugged_pressure_sensor_is_missing_with_the_leakage_of_the_chip(pin, sensor):
    """ATmega328P data sheet, DC characteristics: analog comparator input leakage within 50 nA (from memory)."""
    share = circuit.unplugged_share(CIRCUIT, pin, circuit.LEAKAGE_TYPICAL)
    reading = analog.pressure(analog.ratio([share * 1024 * 32], [32]), PRESSURE[SENSOR[sensor]])
    assert str(reading.value[0]) == "nan"


def test_ten_times_the_resistance_would_leave_an_unplugged_sensor_at_the_limit():
    """The reason for 100 kohm: with 1 Mohm the same leakage gives 50 mV, and with the converter's error of 2
    counts (ATmega328P data sheet, table 28-7) the sensor counts as present.
    """
    share = 10 * circuit.unplugged_share(CIRCUIT, "A0", circuit.LEAKAGE_TYPICAL) + 2 / 1024
    reading = analog.pressure(analog.ratio([share * 1024 * 32], [32]), PRESSURE[SENSOR["mpx5050"]])
    assert reading.value[0] < 0.0


@pytest.mark.parametrize("pin", ["A0", "A1", "A3"])
def test_a_pull_down_loads_its_sensor_with_less_than_it_supplies(pin):
    """NXP MPX5050 rev 5 table (read): output source current 0.1 mA, full-scale output 4.7 V."""
    down = CIRCUIT.between(f"{pin}_IN", "GND", "resistor")
    assert 4.7 / circuit.value(down.what) < 0.1e-3


def test_the_divider_is_that_of_the_converters():
    for ntc in NTC.values():
        assert ntc.series == circuit.value(CIRCUIT.parts["R3"].what)
        assert ntc.r25 == circuit.value(CIRCUIT.parts["TH1"].what)


def test_a_module_of_3_3_volts_is_below_the_bus_s_high_level_and_the_table_takes_one_for_5_volts():
    """ATmega328P data sheet, two-wire characteristics: V_IH at least 0.7 Vcc (from memory)."""
    assert 0.7 * circuit.SUPPLY > 3.3
    assert "for 5 V" in CIRCUIT.parts["U5"].what
    assert {pin.net for pin in CIRCUIT.parts["U5"].pins} == {"+5V", "GND", "A4", "A5"}


def test_every_line_that_leaves_the_box_is_clamped_or_ends_at_a_module():
    for part in CIRCUIT.parts.values():
        if part.where != "line" or part.ref == "LC1":
            continue
        for pin in part.pins:
            if pin.net in {"+5V", "GND"}:
                continue
            ends = [set(diode.nets) - {pin.net} for diode in CIRCUIT.on(pin.net, "diode")]
            assert {"+5V"} in ends, part.ref
            assert {"GND"} in ends, part.ref
            series = [one for one in CIRCUIT.on(pin.net, "resistor") if not set(one.nets) & {"+5V", "GND"}]
            assert series, f"{part.ref}: no resistor behind the clamp"


def test_the_diodes_point_the_right_way():
    """Cathode (the ring) to the higher voltage: to 5 V, or to the signal from ground."""
    for part in CIRCUIT.parts.values():
        if part.kind == "diode":
            cathode, anode = (next(p.net for p in part.pins if p.name == name) for name in "KA")
            assert (cathode == "+5V") != (anode == "GND"), part.ref


def test_unused_logic_inputs_are_tied_and_the_gate_has_its_capacitor():
    logic = CIRCUIT.parts["U4"]
    assert [p.number for p in logic.pins if p.type == "input" and p.net == "GND"] == ["3", "5", "9", "11", "13"]
    assert circuit.value(CIRCUIT.parts["C9"].what) == pytest.approx(100e-9)


def test_values_are_read_and_shown_as_on_the_part():
    assert [circuit.value(text) for text in ("750", "4k7", "100k", "330n", "1u")] == pytest.approx(
        [750, 4700, 100e3, 330e-9, 1e-6]
    )
    assert CIRCUIT.parts["R10"].label == "4.7 kΩ"
    assert CIRCUIT.parts["C2"].label == "1 µF"
