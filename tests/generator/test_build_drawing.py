"""The side view: to scale, well-formed, and showing what the sheet says."""

import re
import xml.etree.ElementTree as ET
from dataclasses import replace

import pytest
from builds import BARE, FIRST

from frothline.generator.build import Packing
from frothline.generator.drawing import draw
from frothline.generator.drawing_words import describe
from frothline.generator.operating_conditions import OperatingConditions
from frothline.generator.pressure_model import PressureModel

SVG = "{http://www.w3.org/2000/svg}"


def group(svg, part):
    return next(g for g in svg.iter(f"{SVG}g") if g.get("class").split()[0] == f"fl-{part}")


def numbers(path):
    return [float(x) for x in re.findall(r"-?\d+\.?\d*", path)]


@pytest.mark.parametrize(
    "build",
    [
        FIRST,
        BARE,
        replace(FIRST, packing=Packing("beads", 0.15, bead=0.006)),
        replace(FIRST, packing=Packing("screens", layers=8, wire=1e-4, opening=3e-4)),
        replace(FIRST, packing=Packing("pad", 0.1, wire=3e-5, voidage=0.97)),
        FIRST.with_entry("outlet.hose", 3.0),
        FIRST.with_entry("tube.under_liquid", 72),
        FIRST.with_entry("hose.length", 0.0),
    ],
)
def test_a_drawing_is_well_formed_and_says_what_it_shows(build):
    svg = ET.fromstring(draw(build))
    assert svg.find(f"{SVG}title").text.startswith(build.name)
    assert f"{build.tube.holes_per_row} holes" in svg.find(f"{SVG}desc").text
    assert describe(build) == svg.find(f"{SVG}desc").text


def test_lengths_and_bores_stand_in_their_true_proportion():
    svg = ET.fromstring(draw(FIRST))
    body = numbers(group(svg, "body").find(f"{SVG}path").get("d"))  # M x y H x M x y H x M x y V y
    left, top, right, _, bottom = body[0], body[1], body[2], body[3], body[4]
    scale = (right - left) / 0.600
    assert (bottom - top) / scale == pytest.approx(0.1036, abs=1e-4)  # drawn to a tenth of a pixel
    tube = numbers(group(svg, "tube").findall(f"{SVG}path")[2].get("d"))
    assert (tube[2] - tube[0]) / scale == pytest.approx(0.300, abs=2e-4)
    assert (tube[3] - tube[1]) / scale == pytest.approx(0.0204 + 0.006, abs=2e-4)
    outlet = numbers(group(svg, "outlet").find(f"{SVG}path").get("d"))
    cone, bore = (outlet[2] - outlet[0]) / scale, (outlet[8] - outlet[3]) / scale
    assert cone == pytest.approx(0.080, abs=2e-4)
    assert bore == pytest.approx(0.0314, abs=2e-4)
    bar = svg.findall(f"{SVG}path")[-1].get("d")
    assert float(re.search(r"h(\d+\.\d)", bar)[1]) / scale == pytest.approx(0.1, abs=2e-4)


def test_the_rows_that_are_seen_have_all_their_holes():
    svg = ET.fromstring(draw(FIRST))
    assert len(group(svg, "tube").findall(f"{SVG}circle")) == 3 * 12  # six rows, three on this side


def test_a_changed_part_is_marked_and_the_others_are_not():
    svg = ET.fromstring(draw(FIRST, changed={"outlet.bore"}))
    assert [g.get("class") for g in svg.iter(f"{SVG}g") if "fl-changed" in g.get("class")] == ["fl-outlet fl-changed"]


def test_shares_are_written_under_their_parts():
    shares = PressureModel(FIRST, OperatingConditions.usual()).shares(0.006)
    text = "".join(group(ET.fromstring(draw(FIRST, shares=shares)), "outlet").itertext())
    outlet = next(s for s in shares if s.key == "outlet")
    assert f"{100 * outlet.share:.0f} %" in text
    assert "kPa" in text


def test_a_name_cannot_break_out_of_the_drawing():
    svg = ET.fromstring(draw(replace(FIRST, name="<script>alert('&')</script>")))
    assert not list(svg.iter(f"{SVG}script"))


def test_a_thousand_holes_do_not_make_a_thousand_circles():
    many = FIRST.with_entry("tube.hole", 0.0005).with_entry("tube.holes_per_row", 400).with_entry("tube.rows", 30)
    assert len(draw(many)) < 200_000


def boxes(svg):
    """Texts as (left, right, y, words); 7 px a letter is what 12 px letters of usual faces take on the average."""
    for text in svg.iter(f"{SVG}text"):
        words, x = text.text, float(text.get("x"))
        wide = 7.0 * len(words)
        left = x - {"start": 0.0, "middle": wide / 2, "end": wide}[text.get("text-anchor")]
        yield left, left + wide, float(text.get("y")), words


@pytest.mark.parametrize("width", [560.0, 900.0, 1208.0])
@pytest.mark.parametrize(
    "build",
    [
        FIRST,
        FIRST.with_entry("tube.bore", 0.03505).with_entry("hose.bore", 0.038),  # 1 1/4 in schedule 40, ASTM D1785
        FIRST.with_entry("tube.length", 0.06).with_entry("tube.bore", 0.03505),
        FIRST.with_entry("tube.countersunk", "outside").with_entry("tube.bore", 0.03505),
        FIRST.with_entry("body.length", 0.03).with_entry("body.bore", 0.5),
    ],
)
def test_no_words_below_the_drawing_stand_on_others(build, width):
    found = list(boxes(ET.fromstring(draw(build, width=width))))
    for number, (left, right, y, words) in enumerate(found):
        for other_left, other_right, other_y, others in found[:number]:
            assert abs(y - other_y) > 8 or right <= other_left or other_right <= left, (words, others)


def test_the_level_stands_at_its_depth_over_the_holes():
    """Half of the holes are the lower half of the tube: their mean height is 2 r / pi below the axis (the centroid of a
    semicircular arc), and the level lies the depth above that.
    """
    build = FIRST.with_entry("tube.under_liquid", FIRST.tube.holes // 2)

    def level(depth):
        svg = ET.fromstring(draw(build.with_entry("tube.depth", depth)))
        body = numbers(group(svg, "body").find(f"{SVG}path").get("d"))
        scale, axis = (body[2] - body[0]) / 0.600, (body[1] + body[4]) / 2
        surface = next(p for p in group(svg, "tube").findall(f"{SVG}path") if p.get("class") == "fl-w")
        return (axis - numbers(surface.get("d"))[1]) / scale

    outer = FIRST.tube.bore / 2 + FIRST.tube.wall
    for depth in (0.001, 0.020, 0.050):
        assert level(depth) == pytest.approx(depth - 2 * outer / 3.14159, abs=2e-4)


def test_a_body_that_is_wider_than_long_does_not_make_a_tower():
    build = FIRST.with_entry("body.bore", 0.5).with_entry("body.length", 0.03)
    svg = ET.fromstring(draw(build))
    _, _, wide, tall = numbers(svg.get("viewBox"))
    assert tall < 0.8 * wide
    body = numbers(group(svg, "body").find(f"{SVG}path").get("d"))
    assert (body[4] - body[1]) / (body[2] - body[0]) == pytest.approx(0.5 / 0.03, rel=0.02)  # to scale all the same


def test_the_scale_is_no_dimension_of_anything_drawn():
    svg = ET.fromstring(draw(FIRST))
    words = [(y, text) for _, _, y, text in boxes(svg) if text.startswith("scale")]
    assert words[0][1] == "scale: 100 mm"
    assert words[0][0] > max(y for _, _, y, text in boxes(svg) if not text.startswith("scale"))
