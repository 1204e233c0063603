"""The parts list: levels, totals, and that what the firmware expects is on it."""

import csv
from pathlib import Path

import pytest

PARTS = Path(__file__).parents[2] / "hardware" / "parts" / "parts.csv"


def rows():
    with PARTS.open(encoding="utf-8") as file:
        return list(csv.DictReader(file))


def total(level):
    return sum(float(r["unit_price_usd"]) * int(r["quantity"]) for r in rows() if int(r["level"]) <= level)


def test_pressure_and_drilled_plates_cost_less_than_twenty_five_dollars():
    assert total(1) < 25.0


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
