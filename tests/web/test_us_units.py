"""Every page in US units: no figure is left in metric ones, neither in a table nor in a sentence."""

import re
import time

import numpy as np
import pytest
from fake_session import FREE_DELIVERY, SHUT_OFF, FakeSession

from frothline.bench import batch_form
from frothline.curve.blower import BlowerCurve
from frothline.curve.steady_points import SteadyPoint
from frothline.foam.dilution import Dilution
from frothline.web.elements import in_reader_units, node, words_of
from frothline.web.feed import Feed
from frothline.web.pages import PAGES
from frothline.web.pages.batch import blocks as batch_blocks
from frothline.web.viewer import Viewer

US = "inch-pound"
# A figure with a metric unit. Lengths of a pipe's name ("50x3.7") and rates of the program itself are none.
METRIC = re.compile(
    r"(?<![\w“.])\d+(?:\.\d+)? (?:mm|cm|m|kPa|Pa|hPa|bar|L/s|L/min|L|mL|kg/m³|kg/m3|kg|g|°C|K|m/s)(?![\w/²³])"
)
DEFINED = re.compile(r"standard air, 1\.2 kg/m³|air of 1\.2 kg/m³")  # the definition of a flow, by its number


def texts_of(message):
    """All words of a message, by the key of their text or block."""
    for key, text in message["texts"].items():
        yield key, text
    for key, block in message["blocks"].items():
        for part in block.get("body", ()):
            yield key, words_of(without_typed(part))
            yield key, " ".join(re.findall(r">([^<>]+)<", str(part)))


def without_typed(part):
    """The piece without what a person typed or named: as the functions for the reader's units skip it."""
    if isinstance(part, str):
        return part
    return [*part[:2], *(without_typed(one) for one in part[2:] if isinstance(one, str) or one[0] != "option")]


@pytest.fixture(scope="module")
def feed(tmp_path_factory):
    session = FakeSession(tmp_path_factory.mktemp("us"))
    points = [
        SteadyPoint.from_parts(
            SHUT_OFF * (1 - x**2) + 1e-6, x * FREE_DELIVERY, (0.002 * SHUT_OFF, 0.003 * FREE_DELIVERY, 0.0)
        )
        for x in np.linspace(0.0, 0.98, 11)
    ]
    session._fit = BlowerCurve().fit(points)
    session._began -= 20
    made = Feed(session)
    made.desk.notice(session.snapshot())
    for _ in range(2000):
        made.desk.notice(session.snapshot())
        now = made.desk.look()
        if not now.working and now.answer is not None:
            return made
        time.sleep(0.02)

        time.sleep(0.02)
    raise AssertionError("no answer")


@pytest.mark.parametrize("page", PAGES)
def test_no_figure_of_a_page_is_left_in_metric_units(feed, page):
    for number in range(1, 4):
        message = feed.update(Viewer(page=page, system=US), number)
    left = {(key, found[0]) for key, text in texts_of(message) for found in METRIC.finditer(DEFINED.sub("", text))}
    assert not left
    plain = feed.update(Viewer(page=page), 4)
    assert page == "notebook" or any(METRIC.search(text) for _, text in texts_of(plain))  # the search finds them


def test_the_batch_is_in_us_units_with_its_corrections():
    values = batch_form.typed({}) | {
        "foam": "60 kg/m³",
        "output": "300 L/min",
        "slurry": "1900 kg/m³",
        "cup": "640 kg/m³",
    }
    dilution = Dilution(40, "1+N")
    found = batch_form.worked(values, None, dilution, None, US)
    shown = in_reader_units(batch_blocks.block(values, found, dilution, US), US)
    said = " ".join(words_of(part) for part in shown if part is not None)
    assert "gal" in said
    hints = re.sub(r"“[^”]*”", "", said)
    assert not METRIC.search(hints), METRIC.search(hints)


def test_a_name_with_a_figure_keeps_it():
    (shown,) = in_reader_units([node("p", "Generator: outlet 30 mm. At 5.0 kPa.")], US, ["outlet 30 mm"])
    assert words_of(shown) == "Generator: outlet 30 mm. At 20 inH₂O."
    (shown,) = in_reader_units([node("select", node("option", "sweep 30 mm"))], US)
    assert words_of(shown) == "sweep 30 mm"
