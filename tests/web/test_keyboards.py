"""Keyboards of a phone: digits where an entry takes a number only, letters where it takes a unit, a fraction or a name."""

import pytest
from seasons import SEASON
from test_us_units import feed  # noqa: F401  the pages with a curve and a prediction
from waiting import until

from frothline.bench.library import OWN, LibraryFolder
from frothline.generator.build import PARTS
from frothline.generator.build import entries as entries_of
from frothline.sensors.procedures.base import Question
from frothline.web.form_fields import keyboard
from frothline.web.pages import PAGES
from frothline.web.pages.notebook import plan_form
from frothline.web.pages.spool import calibration
from frothline.web.viewer import Viewer

# entries of a text
WORDS = {"name", "words", "note", "who", "dilution", "source", "group", "trial", "title", "duty", "poured"}
DIGITS = {"numeric", "decimal"}


def inputs(item):
    """Attributes of every field for a typed text."""
    if isinstance(item, list):
        if item[0] == "input" and item[1].get("type") == "text":
            yield item[1]
        for child in item[2:]:
            yield from inputs(child)


def wrong(fields):
    """Fields without a keyboard, and numbers that get letters though they take none."""
    return [
        one
        for one in fields
        if "inputmode" not in one
        or (one["inputmode"] not in DIGITS and one["name"] not in WORDS | TEXTS and "data-unit" not in one)
    ]


# Entries of the sheet whose text is a word, a pipe's name, or a number with a sign or a percent sign in it.
TEXTS = {f"{part}.{one.name}" for part in PARTS for one in entries_of(part) if one.metadata["kind"] != "count"}
COUNTS = {f"{part}.{one.name}" for part in PARTS for one in entries_of(part) if one.metadata["kind"] == "count"}


@pytest.mark.parametrize("page", PAGES)
def test_every_number_of_a_page_has_a_keyboard_with_digits(feed, page):  # noqa: F811
    blocks = feed.update(Viewer(page=page), 1)["blocks"]
    found = [one for block in blocks.values() for part in block.get("body", ()) for one in inputs(part)]
    assert found or page in {"spool", "notebook"}
    assert wrong([one for one in found if one["name"] != "value"]) == []  # a size search takes units of three kinds
    for one in found:
        if one["name"] in COUNTS:
            assert one["inputmode"] == "numeric", one["name"]


def test_the_form_of_a_plan_has_digits_for_the_number_of_batches():
    place = LibraryFolder(OWN, SEASON)
    until(lambda: place.look().ready)
    found = {one["name"]: one for piece in plan_form.plan_form(place.look(), {}) for one in inputs(piece)}
    assert found["batches"]["inputmode"] == "numeric"
    assert found["low-2"]["inputmode"] == "text"  # a size has a unit


def test_a_calibration_has_digits_and_whole_numbers_for_counts():
    for quantity, keys in (("length", "decimal"), ("count", "numeric")):
        question = Question("height", "height of the water", quantity, 0.0, 100.0)
        (field,) = inputs(calibration._entry(question, 0, "metric"))
        assert field["inputmode"] == keys


def test_a_text_with_a_unit_can_be_typed():
    assert [keyboard(kind) for kind in ("count", "number", "length", "bore", "mass", "text")] == [
        "numeric",
        "decimal",
        *["text"] * 4,
    ]
