"""Two marks of a ruler are set on the photo itself, by mouse, finger and keys, in pixels of the whole upright photo.

The photo is drawn: foam of known bubbles, and a ruler below it whose two marks are at known places. It is larger than
the copy that the page shows, so that a pixel of the copy is 1.0425 pixels of the photo.
"""

import re
import shutil

import numpy as np
import pytest
from fake_session import FakeSession
from foam_pictures import Foam, Shot, homography, mapped, picture
from PIL import Image
from seasons import SEASON

from frothline.bubble_size.measure import measure_photo
from frothline.bubble_size.photo_notes import notes_of, read_notes
from frothline.bubble_size.stored import bubbles_in
from frothline.photo_file import upright_size
from frothline.trials.notebook import Notebook
from frothline.trials.photos import LARGE, copy
from frothline.web.pages.notebook import labels

FIRST = "04-05-first-tube"
FOAM, SHOT, TIMES, BESIDE = Foam(130, 0.066, 0.3, 7), Shot(scale=2900, hidden=tuple(range(24))), 3, 360
FORM = f"photo-{FIRST}-{FIRST}-jpg"
SIZE = (1668, 948)  # px of the upright photo
WIDE = {"width": 1280, "height": 800}
PHONE = {"width": 390, "height": 844, "color_scheme": "dark", "has_touch": True}


@pytest.fixture(scope="module")
def drawn():
    """The upright photo, and its two marks: ends of a ruler of 60 mm, 1 px is 1/8.7 mm."""
    grey = picture(FOAM, SHOT)
    ends = mapped(homography(SHOT, len(grey)), np.array([-0.03, 0.03]), np.full(2, 0.62 * SHOT.card.window))
    photo = np.pad(np.kron(grey, np.ones((TIMES, TIMES), np.uint8)), ((0, 0), (BESIDE, BESIDE)), constant_values=140)
    marks = [(round(TIMES * (x + 0.5)) + BESIDE, round(TIMES * (y + 0.5))) for x, y in ends]
    (left, y), (right, _) = marks
    photo[y - 60 : y + 60, left - 60 : right + 60] = 235
    for x in np.linspace(left, right, 13):
        photo[y - 40 : y, round(x) - 1 : round(x) + 2] = 20
    for x, _ in marks:
        photo[y - 60 : y + 1, x - 2 : x + 3] = 0
    return photo, marks


@pytest.fixture(scope="module")
def recordings(tmp_path_factory):
    """A recording that was read before: what was measured is stored next to it."""
    folder = tmp_path_factory.mktemp("recordings")
    for suffix in (".froth", ".toml"):
        shutil.copy(SEASON / f"{FIRST}{suffix}", folder)
    assert len(Notebook(folder).trials) == 1
    return folder


@pytest.fixture
def bench(recordings, tmp_path):
    return FakeSession(shutil.copytree(recordings, tmp_path / "mine"))


@pytest.fixture(params=[pytest.param(1, marks=pytest.mark.exhaustive), 6])
def photo(request, bench, drawn):
    """As a camera writes it: upright, or lying on its side with the entry that says so (CIPA DC-008, 4.6.5)."""
    path = bench.folder / f"{FIRST}.jpg"
    turned = Image.Exif()
    turned[0x0112] = request.param
    stored = np.rot90(drawn[0]) if request.param == 6 else drawn[0]
    Image.fromarray(stored).save(path, quality=95, exif=turned)
    return path


def opened(window):
    """The notebook with the form of the photo open."""
    window.open("notebook#notebook-trials")
    page = window.page
    page.wait_for_selector("[data-rows=trials]")
    page.locator(".pick", has_text="First foam").locator("input").check()
    page.locator(f"#{FORM} > summary").click()
    return page


def set_marks(page):
    page.locator(f"#{FORM}-marks").click()
    page.wait_for_function("(e => e.complete && e.naturalWidth > 0)(document.querySelector('#marks img'))")


def at(page, mark, photo):
    """Where a place of the photo is on the screen."""
    box = page.locator(".marks-photo").bounding_box()
    across, down = upright_size(photo)
    return box["x"] + mark[0] * box["width"] / across, box["y"] + mark[1] * box["height"] / down


def value(page, name):
    return page.locator(f"#{FORM}-{name}").input_value()


def point(page, name):
    return tuple(int(one) for one in re.fullmatch(r"(\d+), (\d+)", value(page, name)).groups())


def near(found, mark, pixel=SIZE[0] / LARGE):
    """To within one pixel of the copy that is shown, which is 1.0425 pixels of the photo, or a ``pixel`` of the screen."""
    return max(abs(a - b) for a, b in zip(found, mark, strict=True)) <= pixel


def dragged(page, begin, way, steps=4):
    """The mouse is pressed at a place of the screen, moved by ``way``, and released."""
    page.mouse.move(*begin)
    page.mouse.down()
    page.mouse.move(begin[0] + way[0], begin[1] + way[1], steps=steps)
    page.mouse.up()


def lens(page):
    """Middle of the lens, and its px of the screen for each pixel of the photo."""
    box, photo = page.locator(".marks-lens").bounding_box(), page.locator(".marks-photo").bounding_box()
    zoom = max(4 * photo["width"] / SIZE[0], 1.5 * LARGE / SIZE[0])
    return (box["x"] + box["width"] / 2, box["y"] + box["height"] / 2), zoom


# --- without a browser ------------------------------------------------------------------------------------------------


def test_the_size_of_a_photo_is_that_of_the_upright_one(photo):
    assert upright_size(photo) == SIZE
    shown = copy(photo, LARGE)
    assert (shown.width, shown.height) == (1600, pytest.approx(1600 * SIZE[1] / SIZE[0], abs=1))


@pytest.mark.parametrize("turn", range(9))
def test_each_way_of_holding_a_camera_has_the_size_of_its_copy(tmp_path, turn):
    path = tmp_path / "a.jpg"
    entry = Image.Exif()
    entry[0x0112] = turn
    Image.new("L", (80, 60)).save(path, exif=entry)
    shown = copy(path)
    assert upright_size(path) == (shown.width, shown.height)
    Image.new("L", (50, 90)).save(path)
    assert upright_size(path) == (50, 90)  # another file of that name


def test_the_button_tells_the_size_of_the_whole_photo_and_is_missing_where_it_cannot_be_read(photo):
    from types import SimpleNamespace

    from frothline.bubble_size.photo_notes import PhotoNotes
    from frothline.web.pages.notebook.photo_forms import photo_form

    trial = SimpleNamespace(name=FIRST, path=photo.with_suffix(".froth"), photo_notes={photo.name: PhotoNotes()})

    def buttons(**more):
        form = photo_form(trial, photo.name, "metric", measured=False, **more)
        return [one for one in form if isinstance(one, list) and one[0] == "button"]

    made = buttons(address="/photo?size=large")
    assert made[0][1] | {"type": "button"} == {
        "type": "button", "id": f"{FORM}-marks", "data-marks": FORM, "data-photo": "/photo?size=large",
        "data-across": str(SIZE[0]), "data-down": str(SIZE[1]),
    }  # fmt: skip
    assert "data-do" not in made[0][1]
    assert len(buttons()) == 1
    photo.write_bytes(b"no photo")
    assert len(buttons(address="/photo?size=large")) == 1


# --- in the browser ---------------------------------------------------------------------------------------------------


@pytest.mark.browser
def test_two_taps_on_the_photo_measure_it_as_typed_marks_do(look, bench, photo, drawn):
    marks = drawn[1]
    window = look(**PHONE)
    page = opened(window)
    set_marks(page)
    page.wait_for_selector("#marks[data-step=first]")
    page.touchscreen.tap(*at(page, marks[0], photo))
    page.wait_for_selector("#marks[data-step=second]")
    page.touchscreen.tap(*at(page, marks[1], photo))
    page.wait_for_selector("#marks[data-step=both][data-near=no]")
    assert near(point(page, "first"), marks[0])
    assert near(point(page, "second"), marks[1])
    line = page.locator(".marks-line").bounding_box()
    assert (line["x"], line["x"] + line["width"]) == (
        pytest.approx(at(page, marks[0], photo)[0], abs=2),
        pytest.approx(at(page, marks[1], photo)[0], abs=2),
    )
    page.keyboard.press("Escape")
    page.wait_for_selector("#marks", state="hidden")
    texts = {name: value(page, name) for name in ("first", "second")}
    page.locator(f"#{FORM}-length").fill("60 mm")
    page.locator(f"#{FORM} > button[data-do]").click()
    page.wait_for_function("document.getElementById('said').textContent.startsWith('Noted in')")
    assert read_notes(photo).marks == tuple(tuple(float(one) for one in text.split(", ")) for text in texts.values())
    typed = {"first": "{}, {}".format(*marks[0]), "second": "{}, {}".format(*marks[1]), "length": "60 mm"}
    known, found = measure_photo(photo, notes=notes_of(typed)), bubbles_in(photo)
    assert found.diameter.value == pytest.approx(known.diameter.value, rel=2 * 1.0425 / 522)  # 1.0425 px at either end
    assert known.diameter.lower < FOAM.d32() < known.diameter.upper


@pytest.mark.browser
def test_a_mark_is_moved_by_a_tap_the_lens_the_arrows_and_keys(look, bench, drawn):
    photo = bench.folder / f"{FIRST}.jpg"
    Image.fromarray(drawn[0]).save(photo)
    window = look(**WIDE)
    page = opened(window)
    page.locator(f"#{FORM}-first").fill("(600;800)")
    page.locator(f"#{FORM}-second").fill("99999, 5")  # not in this photo
    set_marks(page)
    page.wait_for_selector("#marks[data-step=second]")  # the first one is there already
    screen = SIZE[0] / page.locator(".marks-photo").bounding_box()["width"]  # pixels of the photo in one of the screen
    x, y = at(page, (600, 800), photo)
    page.mouse.click(x + 21, y)  # within the circle of the first one: it moves, and is not the second
    assert near(point(page, "first"), (600 + 21 * screen, 800), screen)
    assert page.locator("#marks").get_attribute("data-step") == "second"
    before = point(page, "first")
    dragged(page, (x + 21 + 10, y), (0, 40))  # beside its middle: it moves as far as the pointer does
    assert near(point(page, "first"), (before[0], before[1] + 40 * screen), screen)
    dragged(page, (x + 21, y + 40 - 10), (0, -3))  # a finger that only taps is never quite still
    assert near(point(page, "first"), (before[0], before[1] + 27 * screen), screen)
    page.mouse.click(x + 21 + 24, y + 27)  # outside of its circle
    assert near(point(page, "second"), (before[0] + 24 * screen, before[1] + 27 * screen), screen)
    page.get_by_role("button", name="Second mark").click()
    page.mouse.click(*at(page, (1100, 800), photo))  # the second one is nearer
    page.wait_for_selector("#marks[data-step=both]")
    page.mouse.click(*at(page, (700, 700), photo))  # the first one is nearer
    assert near(point(page, "first"), (700, 700), screen)
    page.mouse.click(*at(page, (705, 705), photo))  # within its circle
    assert near(point(page, "first"), (705, 705), screen)
    assert near(point(page, "second"), (1100, 800), screen)
    x, y = point(page, "first")
    for key, moved in (("ArrowRight", (1, 0)), ("ArrowDown", (0, 1)), ("ArrowLeft", (-1, 0)), ("ArrowUp", (0, -1))):
        page.keyboard.press(key)
        x, y = x + moved[0], y + moved[1]
        assert point(page, "first") == (x, y), key
    page.keyboard.press("Shift+ArrowRight")
    assert point(page, "first") == (x + 50, y)
    page.get_by_role("button", name="Second mark").click()
    assert page.get_by_role("button", name="Second mark").get_attribute("aria-pressed") == "true"
    before = point(page, "second")
    page.get_by_role("button", name=f"{labels.MOVE_MARK}: down").click()
    assert point(page, "second") == (before[0], before[1] + 1)
    assert "Second mark" in page.locator("#marks [role=status]").text_content()
    middle, zoom = lens(page)
    dragged(page, middle, (-30, 15))
    moved = [a - b for a, b in zip(point(page, "second"), (before[0], before[1] + 1), strict=True)]
    assert moved == pytest.approx([30 / zoom, -15 / zoom], abs=1)
    page.mouse.move(*at(page, point(page, "second"), photo))
    page.mouse.down()
    page.mouse.move(5, 790, steps=3)  # out of the photo
    page.mouse.up()
    assert point(page, "second")[0] == 0
    page.locator("#marks button", has_text=labels.MARKS_DONE).click()
    page.wait_for_selector("#marks", state="hidden")
    page.wait_for_function(f"document.activeElement.id === '{FORM}-marks'")


@pytest.mark.browser
@pytest.mark.exhaustive
def test_marks_are_set_by_keys_alone_and_those_too_near_are_told(look, bench, drawn):
    photo = bench.folder / f"{FIRST}.jpg"
    Image.fromarray(drawn[0]).save(photo)
    page = opened(look(**WIDE))
    page.locator(f"#{FORM}-marks").focus()
    page.keyboard.press("Enter")
    page.wait_for_selector("#marks[data-step=first]")
    page.wait_for_function("document.activeElement.className === 'marks-stage'")
    page.keyboard.press("ArrowDown")
    assert point(page, "first") == (834, 474)  # the middle
    page.get_by_role("button", name="Second mark").focus()
    page.keyboard.press("Space")
    page.keyboard.press("ArrowDown")
    for _ in range(2):
        page.keyboard.press("Shift+ArrowRight")
    assert point(page, "second") == (934, 474)  # 100 px apart
    page.wait_for_selector("#marks[data-near=no]")
    page.keyboard.press("ArrowLeft")
    page.wait_for_selector("#marks[data-near=yes] .marks-near", state="visible")
    page.go_back()  # leaves the photo, not the page
    page.wait_for_selector("#marks", state="hidden")
    assert page.locator(f"#{FORM}-marks").is_visible()
    assert value(page, "second") == "933, 474"


@pytest.mark.browser
@pytest.mark.exhaustive
def test_two_fingers_set_no_mark(look, bench, drawn):
    """The browser takes a second finger for a larger page and ends the first one's press."""
    photo = bench.folder / f"{FIRST}.jpg"
    Image.fromarray(drawn[0]).save(photo)
    window = look(**PHONE)
    page = opened(window)
    page.locator(f"#{FORM}-second").fill("1100, 800")
    set_marks(page)
    touch = window.context.new_cdp_session(page)
    for name, begin in (("first", (300, 300)), ("second", (1110, 800))):
        x, y = at(page, begin, photo)
        touch.send("Input.dispatchTouchEvent", {"type": "touchStart", "touchPoints": [{"x": x, "y": y}]})
        touch.send("Input.dispatchTouchEvent", {"type": "touchMove", "touchPoints": [{"x": x, "y": y - 40}]})
        page.wait_for_function(
            "([id, text]) => !['', text].includes(document.getElementById(id).value)",
            arg=[f"{FORM}-{name}", "1100, 800"],
        )
        touch.send("Input.dispatchTouchEvent", {"type": "touchCancel", "touchPoints": []})
        page.wait_for_function(
            "([id, text]) => document.getElementById(id).value === text",
            arg=[f"{FORM}-{name}", "" if name == "first" else "1100, 800"],
        )
    assert page.locator(".marks-mark:visible").count() == 1


@pytest.mark.browser
@pytest.mark.exhaustive
def test_a_photo_that_is_gone_is_told_and_a_reader_has_no_such_button(look, bench, drawn):
    photo = bench.folder / f"{FIRST}.jpg"
    Image.fromarray(drawn[0]).save(photo)
    window = look(**PHONE)
    page = opened(window)
    page.wait_for_selector(f"#{FORM}-marks", state="visible")
    # in one go: the next message of the server, to which this reader may operate, sets it back
    as_reader = """(id) => {
        const button = document.getElementById(id);
        frothlineBlocks.lock("read");
        const found = [button.disabled, button.offsetWidth];
        button.disabled = false;
        button.click();
        found.push(document.getElementById("marks").offsetWidth);
        frothlineBlocks.lock("operate");
        button.dataset.photo = "/assets/no-such-photo";
        return found;
    }"""
    assert page.evaluate(as_reader, f"{FORM}-marks") == [True, 0, 0]
    page.locator(f"#{FORM}-marks").click()
    page.wait_for_selector("#marks .marks-gone", state="visible")
    page.locator("#marks button", has_text=labels.MARKS_DONE).click()
    page.wait_for_selector("#marks", state="hidden")
    window.complaints.clear()  # of the photo that is not there


@pytest.mark.browser
@pytest.mark.exhaustive
@pytest.mark.parametrize("size", [WIDE, PHONE, {**PHONE, "width": 844, "height": 390}])
def test_the_view_of_the_marks_fits_and_has_no_barrier(look, bench, drawn, size):
    from axe_playwright_python.base import AXE_SCRIPT
    from test_accessibility import FIND

    photo = bench.folder / f"{FIRST}.jpg"
    Image.fromarray(drawn[0]).save(photo)
    page = opened(look(**size))
    set_marks(page)
    place = page.locator(".marks-photo").bounding_box()
    for mark in drawn[1]:
        page.mouse.click(*at(page, mark, photo))
    page.wait_for_selector("#marks[data-step=both]")
    assert page.locator(".marks-photo").bounding_box() == place  # nothing moved under the finger
    middle, zoom = lens(page)
    before = point(page, "second")
    dragged(page, middle, (20, -10))
    assert point(page, "second") == pytest.approx((before[0] - 20 / zoom, before[1] + 10 / zoom), abs=1)
    page.evaluate(AXE_SCRIPT)
    assert page.evaluate(FIND) == []
    small = """[...document.querySelectorAll('#marks button')].map((e) => e.getBoundingClientRect())
        .filter((e) => e.height < 43.5 || e.width < 43.5 || e.bottom > innerHeight || e.right > innerWidth).length"""
    assert page.evaluate(small) == 0
