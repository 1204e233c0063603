"""The side view: to scale, well-formed, and showing what the sheet says."""

import re
import xml.etree.ElementTree as ET
from dataclasses import replace

import pytest
from builds import BARE, FIRST

from frothline.bench.build import Packing
from frothline.bench.drawing import describe, draw
from frothline.bench.generator import Conditions, Generator

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
    shares = Generator(FIRST, Conditions.usual()).shares(0.006)
    text = "".join(group(ET.fromstring(draw(FIRST, shares=shares)), "outlet").itertext())
    outlet = next(s for s in shares if s.key == "outlet")
    assert f"{outlet.share:.0%}" in text
    assert "kPa" in text


def test_a_name_cannot_break_out_of_the_drawing():
    svg = ET.fromstring(draw(replace(FIRST, name="<script>alert('&')</script>")))
    assert not list(svg.iter(f"{SVG}script"))


def test_a_thousand_holes_do_not_make_a_thousand_circles():
    many = FIRST.with_entry("tube.hole", 0.0005).with_entry("tube.holes_per_row", 400).with_entry("tube.rows", 30)
    assert len(draw(many)) < 200_000
