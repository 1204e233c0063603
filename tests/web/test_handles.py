"""Sliders and handles of the generator page: sizes that can be dragged."""

import re
from dataclasses import replace

import pytest

from frothline.bench.generator_workspace import GeneratorWorkspace
from frothline.generator.drawing import handles
from frothline.generator.sheet import parse_sheet, simulated_sheet
from frothline.web.elements import words_of
from frothline.web.pages.generator.handles import handle_marks, size_ranges, slider_block


@pytest.fixture
def build():
    return parse_sheet(simulated_sheet(), "sheet").build


def test_a_handle_is_at_the_edge_of_its_part_and_moves_with_its_size(build):
    width = 1000.0
    before = handles(build, width)
    wider = replace(build, outlet=replace(build.outlet, bore=build.outlet.bore + 0.010))
    longer = replace(build, packing=replace(build.packing, length=build.packing.length + 0.100))
    outlet, packing = before["outlet.bore"], before["packing.length"]
    # ten millimetres more of bore: the upper edge is five millimetres higher on the drawing's scale
    assert outlet.y - handles(wider, width)["outlet.bore"].y == pytest.approx(0.010 * outlet.per_metre)
    assert packing.x - handles(longer, width)["packing.length"].x == pytest.approx(0.100 * packing.per_metre)
    # a smaller drawing has a smaller scale
    assert handles(build, 500.0)["outlet.bore"].per_metre < outlet.per_metre


def test_each_handle_moves_a_slider_that_exists(build, bench):
    desk = GeneratorWorkspace(bench).look()
    body = str(slider_block(desk))
    for slider in re.findall(r'data-slider="([^"]+)"', handle_marks(build, 1208.0)):
        assert f"'id': '{slider}'" in body


def test_sliders_stay_within_what_can_be_built(bench):
    desk = GeneratorWorkspace(bench).look()
    sizes, built = size_ranges(desk), desk.built
    assert sizes["outlet.bore"].most == built.body.bore
    assert sizes["packing.length"].most == pytest.approx(built.body.length - built.tube.length)
    for size in sizes.values():
        assert size.least <= size.value <= size.most


def test_a_dragged_size_is_an_edit_of_the_sheet_and_undone_with_it(bench):
    desk = GeneratorWorkspace(bench)
    before = desk.built.outlet.bore
    desk.edit({"outlet.bore": "28.5 mm"})
    after = desk.look()
    assert after.build.outlet.bore == pytest.approx(0.0285)
    assert "outlet.bore" in after.altered
    words = " ".join(words_of(piece) for piece in slider_block(after))
    assert "28.5 mm" in words
    assert f"as built {1e3 * before:.4g} mm" in words
    desk.undo()
    assert desk.look().altered == ()
    assert "as built" not in " ".join(words_of(piece) for piece in slider_block(desk.look()))


def test_while_an_entry_is_wrong_there_is_nothing_to_drag(bench):
    desk = GeneratorWorkspace(bench)
    desk.edit({"outlet.bore": "wide"})
    assert slider_block(desk.look()) == [None]


@pytest.mark.browser
def test_the_outlet_is_dragged_on_the_drawing_and_the_operating_point_moves(look, bench):
    bench.move(0.5)
    window = look().open("generator")
    page = window.page
    page.wait_for_selector(".fl-handle[data-slider=slide-outlet-bore]")
    page.wait_for_selector("#slide-outlet-bore")
    before = float(page.locator("#slide-outlet-bore").input_value())
    box = page.locator(".fl-handle[data-slider=slide-outlet-bore] circle").last.bounding_box()
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x, y + 4, steps=3)  # downwards: narrower
    page.mouse.up()
    page.wait_for_function(f"Number(document.getElementById('slide-outlet-bore').value) < {before}")
    page.wait_for_function("document.querySelector('[data-block=sliders]').textContent.includes('as built')")
    page.wait_for_function("document.getElementById('sheet-outlet-bore').value.endsWith('mm')")
    slider = page.locator("#slide-packing-length")
    slider.focus()
    length = float(slider.input_value())
    page.keyboard.press("ArrowLeft")
    page.wait_for_function(f"Number(document.getElementById('slide-packing-length').value) === {length - 5}")
    assert not window.complaints
