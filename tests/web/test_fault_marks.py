"""Alarms on the side view of the generator: at the part where they sit, lit while they last, and nothing drawn anew."""

import dataclasses
import re
from xml.etree import ElementTree as ET

import pytest
from fake_session import state_of_run
from test_run_page import alarm

from frothline.generator.build import Packing
from frothline.generator.drawing import anchors, draw
from frothline.generator.sheet import parse_sheet, starting_sheet
from frothline.run.watch.alarm_kinds import KINDS, NOTICE, PARTS
from frothline.web import side_view
from frothline.web.feed import Feed
from frothline.web.viewer import Viewer

SVG = "{http://www.w3.org/2000/svg}"
BUILD = parse_sheet(starting_sheet()).build
BUILDS = {
    "as it starts": BUILD,
    "without packing": dataclasses.replace(BUILD, packing=Packing("none")),
    "tube up to the packing": BUILD.with_entry("tube.length", BUILD.body.length - BUILD.packing.length),
    "with a cone": BUILD.with_entry("outlet.shape", "cone").with_entry("outlet.length", 0.08),
}
# What a builder would point at, by the alarm's name: the trade's own knowledge, written down apart from the table.
SITS_AT = {
    "packing_blown": {"packing"},
    "joint_off_after": {"joint"},
    "leak_after": {"joint"},
    "clogging": {"packing", "holes"},
    "liquid_back": {"connection"},
    "thinning": {"reservoir"},
    "dry": {"reservoir"},
    "scale_off": {"reservoir"},
}


def drawn(build, width):
    """Corners of the parts as the drawing has them: body (left, top, right, bottom), tube (right), packing (left)."""
    svg = ET.fromstring(draw(build, width=width))

    def first(part, number=0):
        group = next(g for g in svg.iter(f"{SVG}g") if g.get("class") == f"fl-{part}")
        return [float(x) for x in re.findall(r"-?\d+\.?\d*", group.findall(f"{SVG}path")[number].get("d"))]

    body = first("body")
    left, top, right, bottom = body[0], body[1], body[2], body[4]
    tube = next(
        float(found[1])
        for path in next(g for g in svg.iter(f"{SVG}g") if g.get("class") == "fl-tube").findall(f"{SVG}path")
        if path.get("class") == "fl-i" and (found := re.search(r"H(-?\d+\.?\d*)V", path.get("d")))
    )
    packing = first("packing")[0] if build.packing.kind != "none" else right
    end = float(svg.get("viewBox").split()[2])
    return left, top, right, bottom, tube, packing, end


@pytest.mark.parametrize("name", BUILDS)
@pytest.mark.parametrize("width", [side_view.WIDE, side_view.NARROW])
def test_each_mark_stands_on_the_part_that_it_names(name, width):
    left, top, right, bottom, tube, packing, end = drawn(BUILDS[name], width)
    at = anchors(BUILDS[name], width)
    assert set(at) == set(PARTS)
    assert 0 < at["connection"].x < left
    assert at["joint"].x == pytest.approx(left, abs=0.1)
    assert left < at["holes"].x < tube
    assert left < at["reservoir"].x < packing
    assert (top + bottom) / 2 < at["reservoir"].y < bottom  # liquid lies at the bottom
    assert packing - 0.1 <= at["packing"].x <= right + 0.1
    assert right < at["outlet"].x < end
    assert all(top <= one.y <= bottom for one in at.values())


@pytest.mark.parametrize("code", KINDS)
def test_an_alarm_is_marked_where_a_builder_would_look(code):
    texts, states = side_view.words(state_of_run(50.0, alarms=(alarm(code),)))
    lit = {part for part in PARTS if states[f"part-{part}"] == "alarm"}
    assert lit == SITS_AT.get(code, set())
    if lit:
        assert KINDS[code].mark in [texts[f"part-{part}"] for part in lit]
        assert 0 < len(KINDS[code].mark) <= 13
        assert texts[side_view.ALL].startswith(KINDS[code].title)
    assert not any(states[f"part-{part}"] for part in PARTS if part not in lit)


def test_brick_red_is_for_alarms_only():
    notice = dataclasses.replace(alarm("leak_after"), severity=NOTICE)
    _, states = side_view.words(state_of_run(50.0, alarms=(notice,)))
    assert not any(states.values())


def test_what_cannot_be_told_apart_is_marked_at_both_and_named_once():
    texts, _ = side_view.words(state_of_run(50.0, alarms=(alarm("clogging"),)))
    assert texts["part-packing"] == KINDS["clogging"].mark
    assert texts["part-holes"] == "or here"


def test_two_alarms_side_by_side_do_not_stand_on_each_other():
    both = (alarm("leak_after"), alarm("liquid_back"))
    texts, states = side_view.words(state_of_run(50.0, alarms=both))
    assert states["part-joint"] == states["part-connection"] == "alarm"
    said = [texts["part-joint"], texts["part-connection"]]
    assert sorted(map(bool, said)) == [False, True]
    assert all(KINDS[code].mark in max(said) for code in ("leak_after", "liquid_back"))


def test_the_mark_is_gone_with_the_alarm_and_with_the_run():
    for run in (
        None,
        state_of_run(50.0),
        state_of_run(50.0, alarms=(alarm("dry", ended=40.0),)),
        state_of_run(50.0, alarms=(alarm("dry"),), running=False),
    ):
        texts, states = side_view.words(run)
        assert not any(states.values())
        assert not any(texts.values())


@pytest.mark.parametrize("narrow", [False, True])
def test_the_drawing_carries_an_unlit_mark_and_room_for_words_for_every_part(narrow):
    svg = ET.fromstring(side_view.side_view(BUILD, narrow=narrow)[1]["svg"])
    top = float(svg.get("viewBox").split()[1])
    for part in PARTS:
        mark = next(g for g in svg.iter(f"{SVG}g") if g.get("data-state") == f"part-{part}")
        assert mark.get("data-is") is None
        word = mark.find(f"{SVG}text")
        assert not word.text
        assert word.get("data-live") == f"part-{part}"
        assert top + 20 < float(word.get("y")) < 0


@pytest.mark.parametrize(("page", "name"), [("generator", "side-view"), ("run", "run-view")])
def test_an_alarm_is_sent_as_a_word_and_the_drawing_is_not_sent_again(bench, page, name):
    feed = Feed(bench)
    bench.run = state_of_run(bench.now)
    before = feed.update(Viewer(page=page), 1)
    whole = before["blocks"][name]
    assert "fl-fault" in str(whole["body"])
    assert before["states"]["part-packing"] == ""
    bench.run = state_of_run(bench.now, alarms=(alarm("packing_blown"),))
    feed._snapshot = None
    after = feed.update(Viewer(page=page, have={name: whole["key"]}), 2)
    assert after["blocks"][name] == {"key": whole["key"]}
    assert after["states"]["part-packing"] == "alarm"
    assert after["texts"]["part-packing"] == KINDS["packing_blown"].mark


def test_the_run_page_shows_the_generator_only_while_a_run_is_on(bench):
    feed = Feed(bench)
    assert feed.update(Viewer(page="run"), 1)["blocks"]["run-view"]["body"] == []
