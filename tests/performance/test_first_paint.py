"""The measurement of first paints finds the figure that it says, and its table has what was found."""

import sys
from pathlib import Path

import pytest
from fake_session import FakeSession

sys.path.insert(0, str(Path(__file__).parent))

import measure_first_paint as first

from frothline.web import serving
from frothline.web.pages import PAGES


def test_every_page_is_measured():
    assert set(first.PLACES) == set(PAGES)


def test_a_row_has_median_largest_and_the_number_of_late_loads():
    them = [first.Load(100.0, 120.0, 8000), first.Load(140.0, 350.0, 9000), first.Load(110.0, 290.0, 9000)]
    (row,) = first.table({(first.DESKTOP, True, "spool"): them})
    assert row == ("desktop", "cold", "spool", "110, 140 ms", "290, 350 ms", "1 of 3", "9 kB")


@pytest.mark.browser
def test_the_figure_comes_after_the_first_words_and_a_warm_store_needs_less(chromium, tmp_path):
    with serving(FakeSession(tmp_path)) as address:
        (cold,) = first.loads(chromium, address, "spool", first.DESKTOP, cold=True, count=1)
        (warm,) = first.loads(chromium, address, "spool", first.PHONE, cold=False, count=1)
    for one in (cold, warm):
        assert 0 < one.words <= one.figure
    assert 0 < warm.transferred < cold.transferred
