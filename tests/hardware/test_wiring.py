"""The wiring: drawn from the firmware's pin map, filters where the sampling wants them."""

import importlib.util
import re
import sys
from pathlib import Path

import pytest

WIRING = Path(__file__).parents[2] / "hardware" / "wiring"
spec = importlib.util.spec_from_file_location("wiring", WIRING / "wiring.py")
wiring = importlib.util.module_from_spec(spec)
sys.modules["wiring"] = wiring  # dataclasses look themselves up there
spec.loader.exec_module(wiring)


def test_every_pin_of_the_firmware_is_wired_and_no_other():
    """The light is on the board already; all else in pins.h has its line, and each line its pin."""
    assert {line.macro for line in wiring.LINES} == set(wiring.pin_map()) - {"LED_PIN"}


def test_no_two_signals_share_a_pin():
    pins = list(wiring.pin_map().values())
    assert len(set(pins)) == len(pins)


def test_the_rotor_is_on_the_input_capture_of_timer_1():
    """ATmega328P data sheet, alternate functions of port B: ICP1 is PB0. No other pin is time-stamped in hardware."""
    assert wiring.pin_map()["ROTOR_PIN"] == "PB0"


def test_the_bus_is_on_the_pins_of_the_two_wire_unit():
    """ATmega328P data sheet, alternate functions of port C: SDA is PC4, SCL is PC5."""
    assert wiring.pin_map()["SDA_PIN"] == "PC4"
    assert wiring.pin_map()["SCL_PIN"] == "PC5"


def test_the_table_is_the_one_made_from_the_pin_map():
    assert (WIRING / "wiring.md").read_text("utf-8") == wiring.table()


def test_the_drawing_names_every_pin_as_the_table_does():
    text = (WIRING / "wiring.svg").read_text("utf-8")
    assert text == wiring.draw().get_imagedata("svg").decode()
    for pin in (wiring.pin_map()[line.macro] for line in wiring.LINES):
        assert f"({pin})" in re.sub(r"<[^>]+>", "", text)


def test_the_filter_corner_is_that_of_the_makers_noise_note():
    """AN1646 rev 2: 750 ohm and 0.33 uF, 'about 650 Hz'. Below half the conversion rate of 16 MHz/128/13 = 9615 Hz."""
    corner = wiring.corner(750, 330e-9)
    assert corner == pytest.approx(650, rel=0.02)
    assert corner < 16e6 / 128 / 13 / 2
