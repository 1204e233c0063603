"""Labels, heads and buttons of every page: sentence case, one rule."""

import pytest
from test_us_units import feed  # noqa: F401  the same pages with a curve and a prediction

from frothline.label_case import label_case
from frothline.units import SYSTEMS
from frothline.web.pages import GUIDE, PAGES, page_of
from frothline.web.viewer import Viewer

LABELS = {"button", "th", "label", "legend", "summary", "h1", "h2", "h3", "dt", "caption"}


def words(item):
    """The first text of a piece; a live text of the layout has none."""
    if isinstance(item, str):
        return item
    if isinstance(item, list):
        return next(filter(None, map(words, item[2:])), "")
    children = getattr(item, "children", None)
    if children is None:
        return ""
    return next(filter(None, map(words, children if isinstance(children, list | tuple) else [children])), "")


def labels(item, names=()):
    """Tag and text of every label below a piece of a block or of a layout."""
    if isinstance(item, list):
        tag, attributes, *children = item
        if tag in LABELS and not (
            tag == "th" and attributes.get("scope") == "row" and attributes.get("data-name") == ""
        ):
            yield tag, words(item)
        for child in children:
            yield from labels(child)
    elif hasattr(item, "children"):
        tag = type(item).__name__.lower()
        if tag in LABELS:
            yield tag, words(item)
        children = item.children
        for child in children if isinstance(children, list | tuple) else [children]:
            yield from labels(child)


def small(found):
    return sorted({(tag, text) for tag, text in found if text and label_case(text) != text})


@pytest.mark.parametrize("name", [*PAGES, GUIDE])
def test_every_label_of_a_layout_begins_with_a_capital(name):
    found = list(labels(page_of(name).layout()))
    assert len(found) > 1
    assert not small(found)


@pytest.mark.parametrize("page", PAGES)
def test_every_label_of_a_block_begins_with_a_capital(feed, page):  # noqa: F811
    for system in SYSTEMS:
        message = feed.update(Viewer(page=page, system=system), 1)
        found = [one for block in message["blocks"].values() for part in block.get("body", ()) for one in labels(part)]
        assert not small(found)


@pytest.mark.parametrize("page", PAGES)
def test_every_name_in_the_legend_of_a_chart_begins_with_a_capital(feed, page):  # noqa: F811
    message = feed.update(Viewer(page=page), 1)
    names = [
        trace["name"]
        for chart in message["figures"].values()
        for trace in chart["figure"]["data"]
        if trace.get("name") and trace.get("showlegend") is not False
    ]
    assert [name for name in names if label_case(name) != name] == []
    assert names or page not in {"source", "generator"}


@pytest.mark.parametrize(
    ("text", "label"),
    [
        ("flow (free air)", "Flow (free air)"),
        ("Foam rate", "Foam rate"),
        ("kPa", "kPa"),
        ("inH₂O, gauge", "inH₂O, gauge"),
        ("in “first tube”", "In “first tube”"),
        ("95 % interval", "95 % interval"),
        ("", ""),
        ("a", "a"),
        ("an hour", "An hour"),
    ],
)
def test_a_label_gets_a_capital_and_a_unit_stays(text, label):
    assert label_case(text) == label
