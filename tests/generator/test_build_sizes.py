"""Sizes as they are sold: fractions of an inch, pipes by name, drills."""

from itertools import pairwise

import fluids
import pytest

from frothline.generator.stock_sizes import DRILLS, PIPES, pipe_of_bore, read_bore
from frothline.quantities import read_quantity, read_temperature


@pytest.mark.parametrize(
    ("text", "metres"),
    [
        ("25 mm", 0.025),
        (25, 0.025),
        ("2,5 mm", 0.0025),
        ("3/4 in", 0.01905),
        ("1 1/2 in", 0.0381),
        ('1-1/2"', 0.0381),
        ("15/16 in", 0.0238125),  # not one and five sixteenths
        ("1 15/16 in", 0.0492125),
        ("0.8 m", 0.8),
        ("2 ft", 0.6096),
        ("1½ in", 0.0381),
        ("1 ½ in", 0.0381),
        ("½″", 0.0127),
        ("1⅞ in", 0.047625),
        (".5 in", 0.0127),
        ("2. mm", 0.002),
        ("25 MM", 0.025),
        ("1e3 mm", 1.0),
        ("1 In.", 0.0254),
        ("1-1/2 in", 0.0381),
    ],
)
def test_lengths_as_people_write_them(text, metres):
    assert read_quantity(text, "length") == metres


@pytest.mark.parametrize("text", ["", "abc", "-4 mm", "3/0 in", "5 furlong", "1.5 2 mm", "nan"])
def test_what_is_no_length_is_refused_with_an_example(text):
    with pytest.raises(ValueError, match=r"length|fraction|zero denominator"):
        read_quantity(text, "length")


@pytest.mark.parametrize("text", ["3/4", " 1 1/2 ", "1½"])
def test_a_fraction_without_a_unit_is_asked_back_with_both_readings(text):
    for read in (read_bore, lambda given: read_quantity(given, "length")):
        with pytest.raises(ValueError, match=r"two ways.* in” for inches, or “[\d.]+ mm”"):
            read(text)


@pytest.mark.parametrize("text", [10**400, "1" * 400 + "/1 in", "9" * 5000 + " mm", 16**5000], ids=["a", "b", "c", "d"])
def test_a_number_of_hundreds_of_digits_is_told_in_a_short_line(text):
    for kind in ("length", "mass", "volume", "flow"):
        with pytest.raises(ValueError, match=r"too large|is no") as told:
            read_quantity(text, kind)
        assert len(str(told.value)) < 200
    with pytest.raises(ValueError, match=r"too large|is no"):
        read_temperature(text)


def test_other_quantities():
    assert read_quantity("4 oz", "mass") == pytest.approx(0.1133981, rel=1e-6)
    assert read_quantity("5 gal", "volume") == pytest.approx(18.92706e-3, rel=1e-6)
    assert read_quantity("1 gal/min", "flow") == pytest.approx(6.309020e-5, rel=1e-6)
    assert read_temperature("65 °F") == pytest.approx(291.4833, abs=1e-4)
    assert read_temperature(18) == read_temperature("18 °C") == pytest.approx(291.15)


@pytest.mark.parametrize("nominal", ["1/2", "3/4", "1", "1 1/4", "1 1/2", "2", "2 1/2", "3", "4"])
def test_schedule_40_pipes_are_those_of_the_standard(nominal):
    # fluids carries the ASME B36.10 table, whose outer diameters ASTM D1785 plastic pipe shares; walls are the same
    # for schedule 40 to a hundredth of an inch
    NPS = sum(float(a) / float(b or 1) for a, _, b in (part.partition("/") for part in nominal.split()))
    _, Di, Do, wall = fluids.nearest_pipe(NPS=NPS, schedule="40")
    pipe = next(p for p in PIPES if p.name == f"{nominal} in sch 40")
    assert pipe.outer == pytest.approx(Do, abs=0.15e-3)  # that table is rounded to 0.1 mm
    assert pipe.wall == pytest.approx(wall, abs=0.1e-3)
    assert pipe.bore == pytest.approx(Di, abs=0.25e-3)


@pytest.mark.parametrize(
    "text",
    [
        "1 1/2 in sch 40",
        '1 1/2" Schedule 40',
        "1 1/2 in  SCH 40",
        "1-1/2 in sch 40",
        "1½ in sch 40",
        '1-1/2" sch. 40',
        "NPS 1 1/2 sch 40",
        "1 1/2 sch40",
        "1 1/2 inch, schedule 40",
    ],
)
def test_a_pipe_by_name_is_its_bore_and_not_its_nominal_size(text):
    assert read_bore(text) == pytest.approx(0.0409, abs=1e-4)  # ASTM D1785: 1.900 less twice 0.145 inch


def test_a_pipe_that_is_not_listed_is_not_guessed():
    with pytest.raises(ValueError, match="write its bore"):
        read_bore("9 in sch 40")
    assert read_bore("50 × 3.7") == read_bore("50x3.7 mm") == pytest.approx(0.0426)


def test_pipes_are_found_back_by_their_bore():
    for pipe in PIPES:
        assert abs(pipe_of_bore(pipe.bore).bore - pipe.bore) < 1e-6
    assert pipe_of_bore(0.0410) is not None
    assert pipe_of_bore(0.0480) is None


def test_drills_go_by_tenths_then_by_halves():
    # ISO 235 jobber drills: tenths of a millimetre, as sold in sets to 10 mm; halves above
    assert {0.0023, 0.0042, 0.0100, 0.0135} <= set(DRILLS)
    assert 0.01010 not in DRILLS
    assert all(b > a for a, b in pairwise(DRILLS))
