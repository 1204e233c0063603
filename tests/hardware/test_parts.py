"""The parts list: levels, totals, and that it has what the circuit, the spool file and the guide require."""

import csv
import importlib.util
import math
import re
import sys
from collections import Counter
from pathlib import Path

import pytest

PARTS = Path(__file__).parents[2] / "hardware" / "parts" / "parts.csv"


def rows():
    with PARTS.open(encoding="utf-8") as file:
        return list(csv.DictReader(file))


def total(level):
    return sum(float(r["unit_price_usd"]) * int(r["quantity"]) for r in rows() if int(r["level"]) <= level)


HARDWARE = PARTS.parents[1]
spec = importlib.util.spec_from_file_location("circuit", HARDWARE / "wiring/circuit.py")
circuit = importlib.util.module_from_spec(spec)
sys.modules["circuit"] = circuit
spec.loader.exec_module(circuit)
CIRCUIT = circuit.load()


def test_the_first_guide_page_says_what_pressure_and_drilled_plates_cost():
    said = re.search(r"Under (\d+) USD", (HARDWARE / "guide/README.md").read_text("utf-8"))
    assert total(1) < float(said[1]) < total(1) + 1.5


def named():
    return {r["function"]: r for r in rows()}


def test_every_part_of_the_circuit_is_on_the_list_at_its_level_with_its_number_and_value():
    """Parts of one row of the list are counted by value: ``3 x 750 Ω``."""
    wanted = {}
    for part in CIRCUIT.parts.values():
        if part.row:
            wanted.setdefault((part.row, part.level), []).append(part)
    for (function, level), parts in wanted.items():
        row = named()[function]
        assert int(row["level"]) == level, function
        for label, number in Counter(part.label for part in parts).items():
            if parts[0].kind in {"sensor", "module", "thermistor", "button"}:
                continue
            assert f"{number} x {label}" in row["description"], f"{function}: {number} x {label}"


def test_the_list_has_no_more_of_a_value_than_the_circuit():
    on_list = Counter()
    for row in rows():
        for number, label in re.findall(r"(\d+) x ([\d.]+ (?:k?\u03a9|[n\u00b5]F)|1N4148|74HC14)", row["description"]):
            on_list[label] += int(number)
    kinds = {"resistor", "capacitor", "diode", "logic"}
    fitted = [part for part in CIRCUIT.parts.values() if part.kind in kinds and part.level]
    assert on_list == Counter(part.label for part in fitted)


@pytest.mark.parametrize(
    ("function", "ref"), [("line pressure", "U2"), ("Hall switch", "U3"), ("scale converter", "U6")]
)
def test_the_named_parts_of_the_circuit_are_those_of_the_list(function, ref):
    assert named()[function]["example_part"] in CIRCUIT.parts[ref].what


def test_the_load_cell_carries_a_reservoir_of_40_litres():
    """40 L of solution at 1.02 kg/L (20 C, 3 % of agent: judgement) and 3 kg of container; not more than full scale."""
    text = named()["scale"]["description"]
    capacity = float(re.search(r"load cell (\d+) kg", text)[1])
    assert capacity > 40 * 1.02 + 3


@pytest.mark.parametrize(("kilograms", "millivolts", "factor"), [(20, 2.0, 2.5), (10, 2.0, 5.0), (50, 1.0, 0.5)])
def test_another_cell_reads_wrong_by_a_factor_so_no_mass_is_given_before_a_calibration(kilograms, millivolts, factor):
    """Counts a kilogram go with sensitivity over capacity: 20 kg reads 2.5 times, 10 kg 5 times what 50 kg does."""
    from dataclasses import replace

    from frothline.sensors.load_cell import counts_per_kilogram
    from frothline.sensors.spool import Spool

    drawn = Spool.default().scale
    other = replace(drawn, capacity=float(kilograms), sensitivity=millivolts * 1e-3)
    assert counts_per_kilogram(other) / counts_per_kilogram(drawn) == pytest.approx(factor)
    assert drawn.calibrated is False
    assert "four wires" in named()["scale"]["description"]


def test_the_pipe_that_is_bought_is_longer_than_what_is_sawn():
    """Two lengths by the guide, and 3 mm for each of three cuts."""
    from frothline.sensors.spool import Spool

    pipe = Spool.default().pipe
    bought = float(re.search(r"bore 63\.0 mm, ([\d.]+) m", named()["spool"]["description"])[1])
    assert pipe.straight_upstream + pipe.straight_downstream + 3 * 0.003 <= bought
    guide = (HARDWARE / "guide/1-spool.md").read_text("utf-8")
    for length in (pipe.straight_upstream, pipe.straight_downstream):
        assert f"{length * 1e3:.0f} mm" in guide


def test_the_relief_opens_at_the_pressure_that_is_written():
    """m g / (pi/4 d2): 1 kg of water on a bore of 25 mm; below the 35 kPa to which the guide limits the line."""
    text = named()["relief"]["description"]
    bore, mass, opens = (float(re.search(found, text)[1]) for found in (r"(\d+) mm bore", r"(\d+) kg", r"at (\d+) kPa"))
    pressure = mass * 9.81 / (math.pi / 4 * (bore * 1e-3) ** 2)
    assert pressure == pytest.approx(opens * 1e3, rel=0.02)
    assert pressure < 35e3
    for page in ("guide/README.md", "guide/5-leaks.md"):
        assert f"{opens:.0f} kPa" in (HARDWARE / page).read_text("utf-8"), page


@pytest.mark.parametrize("part", ["relief", "check valve", "bleed"])
def test_what_the_guide_puts_into_the_air_line_is_on_the_list(part):
    assert part in named()
    pages = " ".join(page.read_text("utf-8") for page in (HARDWARE / "guide").glob("*.md"))
    assert part in pages


TOOLS = ("goggles", "hearing protection", "residual-current device", "calliper", "1.5", "epoxy", "isopropanol", "compass",
         "multimeter", "1 MΩ", "stopper", "syringe", "thermometer", "step drill", "hole saws")  # fmt: skip


@pytest.mark.parametrize("tool", TOOLS)
def test_a_tool_that_the_guide_uses_is_on_the_page_of_the_parts(tool):
    pages = [*(HARDWARE / "guide").glob("*.md"), HARDWARE / "spool/no-printer.md"]
    assert any(tool in page.read_text("utf-8").lower() or tool in page.read_text("utf-8") for page in pages)
    listed = (PARTS.parent / "README.md").read_text("utf-8").split("Not on the list")[1]
    assert tool in listed


def test_a_metal_plate_is_as_large_as_the_printed_one():
    """The printed plate as measured on its mesh."""
    measured = (HARDWARE / "spool/measured.md").read_text("utf-8")
    wide, long = re.search(r"\| plate \| (\d+) × (\d+) × ", measured).groups()
    assert f"{wide} mm wide and {long} mm long" in (HARDWARE / "spool/README.md").read_text("utf-8")


def test_the_prices_are_called_estimates():
    text = (PARTS.parent / "README.md").read_text("utf-8")
    assert "Estimated prices: check before you order" in text


def test_each_level_adds_to_the_one_below():
    assert total(1) < total(2) < total(3)


def test_the_readme_states_the_totals_of_the_list():
    text = (PARTS.parent / "README.md").read_text("utf-8")
    for level in (1, 2, 3):
        assert f"{total(level):.2f} USD" in text


@pytest.mark.parametrize("row", rows(), ids=lambda r: r["description"][:40])
def test_every_line_says_what_it_is_for_what_it_costs_and_where_that_figure_is_from(row):
    assert row["function"]
    assert row["description"]
    assert float(row["unit_price_usd"]) > 0
    assert row["price_date"]
    assert row["price_basis"]
    assert row["calibration_change"]


def test_sensors_whose_data_sheet_figures_are_used_are_named():
    """A figure of a data sheet is worth nothing without the part it belongs to."""
    named = {r["function"]: r["example_part"] for r in rows()}
    assert named["line pressure"].startswith("MPX5050")
    assert named["ambient module"] == "BME280"
    assert named["scale converter"] == "HX711"
    assert named["board"] == "ATmega328P"
