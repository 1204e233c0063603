"""A number in exponent form, like 2.5e1 kg, is the same number as 25 kg wherever a figure with a unit is typed."""

import argparse
from importlib import import_module

import pytest

from frothline import cli
from frothline.bubble_size.photo_notes import _point
from frothline.errors import InputError
from frothline.foam.agent_file import read_hardness, read_tension
from frothline.foam.dilution import read_dilution
from frothline.pours.entries import read_age, read_seconds
from frothline.pours.later_entries import wrong_specimen
from frothline.pours.plan_entries import read_duty, read_span, read_survival
from frothline.pours.record import wrong_pour_entry
from frothline.quantities import also_in, read_number, read_quantity, with_unit
from frothline.sensors.spool import _length
from frothline.sweep.point_table import parse_table
from frothline.trials.sample_sidecar import read_time
from frothline.units import ENTRY_UNITS, SYSTEMS


@pytest.mark.parametrize("kind", ENTRY_UNITS)
@pytest.mark.parametrize("system", SYSTEMS)
def test_a_figure_of_any_kind_may_have_an_exponent(kind, system):
    unit = ENTRY_UNITS[kind][system]
    for text in (f"2.5e1 {unit}", f"2,5E+1 {unit}", f"250e-1 {unit}", f"2.5e1{unit}", with_unit("2.5e1", kind, system)):
        assert read_quantity(text, kind, system) == pytest.approx(read_quantity(f"25 {unit}", kind), rel=1e-12), text


@pytest.mark.parametrize(
    ("read", "short", "long"),
    [
        (read_age, "2.8e1 d", "28 d"),
        (read_seconds, "2e0 min", "120 s"),
        (read_span, "1.5e0 h", "90 min"),
        (read_survival, "9e1 %", "0.9"),
        (read_duty, "1e1 min on, 2e1 min rest", "10 min on, 20 min rest"),
        (read_dilution, "1+4e1", "1+40"),
        (read_time, "7.5e1 s", "1 min 15 s"),
        (read_hardness, "1.2e1 °dH", "12 °dH"),
        (read_tension, "2.8e1 mN/m (2.7e1 to 2.9e1)", "28 mN/m (27 to 29)"),
        (lambda text: _length(text, "pipe.bore", "spool.toml"), "7.52e-2 m", "75.2 mm"),
        (_point, "(1e3, 2e3)", "(1000, 2000)"),
    ],
)
def test_a_figure_with_a_unit_of_its_own_reader_may_have_an_exponent(read, short, long):
    assert read(short) == read(long)


def test_a_cell_of_a_table_of_points_may_have_an_exponent():
    rows = parse_table("hole (mm); pressure\n1.2e1; 1.5e1 cmH2O\n").rows
    assert rows[0].values["hole"] == pytest.approx(0.012)
    assert rows[0].values["pressure"] == pytest.approx(15 * 98.0665, rel=1e-6)  # 1 cm of water: 98.0665 Pa, SP 811


def test_every_option_with_a_figure_takes_an_exponent():
    read = 0
    for command in cli.COMMANDS:
        parser = argparse.ArgumentParser()
        import_module(f"frothline.cli.arguments.{command.name}").add_options(parser)
        for action in parser._actions:
            if getattr(action.type, "__qualname__", "").startswith("quantity"):
                unit = ENTRY_UNITS[action.type("1").kind]["metric"]
                assert action.type(f"2.5e1 {unit}").text == f"2.5e1 {unit}"
                read += 1
    assert read >= 20


@pytest.mark.parametrize("text", ["1e9 kg", "1e90 kg", "3e-7 g"])
def test_a_mass_that_no_workshop_has_is_refused_as_a_value(text):
    for said in (wrong_pour_entry("masses.cement", text), wrong_specimen("mass", text)):
        assert said == f"“{text}” is not plausible; check its unit"


@pytest.mark.parametrize("text", ["1e400 kg", "1e99999 kg", "1e400"])
def test_an_exponent_beyond_any_number_is_refused_as_too_large(text):
    with pytest.raises(ValueError, match="far too large"):
        read_quantity(text, "mass")
    with pytest.raises(ValueError, match="far too large"):
        read_number(text.removesuffix(" kg"))


@pytest.mark.parametrize("text", ["1e kg", "e3 kg", "1e1.5 kg", "1 e3 kg", "1e3e3 kg", "1e- kg"])
def test_half_an_exponent_is_no_number(text):
    with pytest.raises((ValueError, InputError)):
        read_quantity(text, "mass")


def test_a_figure_with_an_exponent_is_shown_in_the_readers_unit_too():
    assert also_in("1.5e0 in", "length", "metric") == "= 38.1 mm"
