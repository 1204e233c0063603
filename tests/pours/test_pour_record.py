"""A pour is read from its file: every entry in its unit, every wrong one named, nothing else lost."""

import math

import pytest

from frothline.errors import InputError
from frothline.pours.entries import DAY, read_age
from frothline.pours.record import parse_pour, read_pour

WHOLE = """
trial = "04-12-long-packing"
title = "Stepping stones"
poured = 2025-04-12T15:30:00
wanted_density = "600 kg/m3"
wanted_volume = "48 L"

[masses]
cement = "25 kg"
water = "9.4 kg"
foam = "2.1 kg"

[slurry]
container = "1 L"
empty = "112 g"
full = "1996 g"

[cup]
density = "652 kg/m3"

[flow]
cone_time = "22 s"
spread = "210 mm"

[temperatures]
slurry = "19 °C"

[cast]
volume = "41 L"
lift = "150 mm"
sank = "2 mm"

[[specimen]]
edge = "100 mm"
age = "28 d"
mass = "587 g"
load = "7.4 kN"
dry_mass = "489 g"

[[specimen]]
diameter = "3 in"
height = "6 in"
age = "4 weeks"
load = "1660 lbf"
mass = "1 lb"
"""


def test_every_entry_is_read_in_si():
    pour = parse_pour(WHOLE, "stones")
    assert pour.problems == ()
    assert (pour.trial, pour.title, pour.poured.day) == ("04-12-long-packing", "Stepping stones", 12)
    assert (pour.masses.cement, pour.masses.sand, pour.masses.water, pour.masses.foam) == (25.0, 0.0, 9.4, 2.1)
    assert pour.slurry_density == pytest.approx(1884.0)
    assert pour.cup_density == 652.0
    assert (pour.cone_time, pour.spread) == (22.0, pytest.approx(0.21))
    assert pour.temperatures["slurry"] == pytest.approx(292.15)
    assert (pour.cast_volume, pour.lift, pour.sank) == pytest.approx((0.041, 0.15, 0.002))
    cube, cylinder = pour.specimens
    assert cube.density == pytest.approx(587.0)
    assert cube.dry_density == pytest.approx(489.0)
    assert cube.strength == pytest.approx(0.74e6)
    assert cylinder.age == 28 * DAY
    # ASTM C495 crushes cylinders of 3 in by 6 in; 1 lbf/in² is 6894.757 Pa (NIST SP 811, B.8)
    assert cylinder.strength == pytest.approx(1660 / (math.pi / 4 * 9) * 6894.757, rel=1e-6)


def test_a_rise_is_a_sink_below_zero():
    assert parse_pour('[cast]\nrose = "3 mm"', "x").sank == pytest.approx(-0.003)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ('[masses]\ncemment = "25 kg"', "Did you mean “cement”?"),
        ('[masses]\ncement = "25 L"', "masses: cement"),
        ('[masses]\ncement = "-1 kg"', "below zero"),
        ('[masses]\ncement = "0 kg"', "must be greater than 0"),
        ("[masses]\ncement = 1e308", "is not plausible; check its unit"),
        ('[cup]\ndensity = "652000 kg/m3"', "is not plausible"),
        ('[temperatures]\nslurry = "190 °C"', "is not plausible"),
        ('[cup]\nempty = "112 g"', "“container” and “full” missing"),
        ('[cup]\ncontainer = "1 L"\nempty = "900 g"\nfull = "800 g"', "not heavier than the empty one"),
        ('[[specimen]]\nedge = "100 mm"\nload = "5 kN"', "the age is missing"),
        ('[[specimen]]\nage = "7 d"\nload = "5 kN"', "the size of the cube is missing"),
        ('[[specimen]]\nshape = "ball"\nage = "7 d"', "“ball” is not a known shape"),
        ('[[specimen]]\nedge = "100 mm"\nage = "soon"', "write it like 28 d"),
        ('[cast]\nsank = "1 mm"\nrose = "1 mm"', "both written"),
        ("masses = 3", "“masses” is not a table"),
        ('poured = "yesterday"', "is not a date"),
    ],
)
def test_a_wrong_entry_is_named_with_its_place_and_costs_nothing_else(text, words):
    kept = 'title = "Kerb"\n' if not text.startswith(("masses", "poured")) else ""
    pour = parse_pour(f"{kept}{text}\n", "kerb")
    assert len(pour.problems) == 1
    assert words in pour.problems[0]
    assert pour.title == ("Kerb" if kept else "kerb")


def test_one_wrong_specimen_does_not_cost_the_other():
    pour = parse_pour('[[specimen]]\nedge = "100 mm"\nload = "5 kN"\n' + WHOLE[WHOLE.index("[[specimen]]") :], "x")
    assert [one.number for one in pour.specimens] == [2, 3]


@pytest.mark.parametrize(
    ("text", "days"), [("28 d", 28), ("36 h", 1.5), ("4 weeks", 28), (7, 7), ("7", 7), ("1 day", 1)]
)
def test_an_age_is_in_days_hours_or_weeks(text, days):
    assert read_age(text) == days * DAY


def test_text_that_is_not_toml_is_an_error_with_its_line(tmp_path):
    path = tmp_path / "pour.toml"
    path.write_text('title = "Kerb"\n[masses\n', encoding="utf-8")
    with pytest.raises(InputError, match="line 2"):
        read_pour(path)
