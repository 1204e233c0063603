"""Markup in every text of a person, a board or a file is shown as text: in reports, and in the elements of a page."""

import json
import re
import shutil
from html.parser import HTMLParser
from pathlib import Path

import pytest
from fake_session import FakeSession

from frothline.report.run import run_report
from frothline.report.trials import series_report
from frothline.trials.notebook import open_notebook
from frothline.web import own_files
from frothline.web.feed import Feed
from frothline.web.pages import PAGES
from frothline.web.viewer import Viewer

SEASON = Path(__file__).parents[2] / "recordings" / "season"
RUN = "04-05-first-tube"
MARKUP = "<img src=x onerror=alert(1)>\"'><script>alert(1)</script><!--<script>&amp;{{7*7}}"
AS_TOML = json.dumps(MARKUP)


class Elements(HTMLParser):
    """The elements of a document with the names of their attributes."""

    def __init__(self, text):
        super().__init__()
        self.seen = set()
        self.feed(text)

    def handle_starttag(self, tag, attributes):
        self.seen |= {(tag, name) for name, _ in attributes} | {(tag, "")}


@pytest.fixture
def folder(tmp_path):
    """One run whose texts are all markup, and a plain one of the same kind."""
    shutil.copytree(SEASON / "builds", tmp_path / "builds")
    for suffix in (".froth", ".toml"):
        shutil.copy(SEASON / f"{RUN}{suffix}", tmp_path)
        shutil.copy(SEASON / f"{RUN}{suffix}", tmp_path / f"plain{suffix}")
    path = tmp_path / f"{RUN}.toml"
    text = re.sub(r"(?m)^(title|note|air_source|solution_batch|tags|who) *=.*\n", "", path.read_text("utf-8"))
    said = "".join(f"{key} = {AS_TOML}\n" for key in ("title", "note", "air_source", "solution_batch", "who"))
    path.write_text(f"{said}tags = [{AS_TOML}]\nphotos = [{AS_TOML}]\n" + text, "utf-8")
    sheet = tmp_path / "builds" / "first-tube.toml"
    lines = re.sub(r"(?m)^name *=.*$", lambda _: f"name = {AS_TOML}", sheet.read_text("utf-8"))
    sheet.write_text(lines, "utf-8")
    return tmp_path


def test_a_report_has_no_element_of_a_persons_text(folder):
    notebook = open_notebook(folder)
    plain = Elements(run_report(notebook, "plain").html).seen
    for made in (run_report(notebook, RUN), series_report(notebook)):
        assert "alert(1)" in made.html  # the text is there
        shown, _, figures = made.html.partition('<script type="application/json" id="figures">')
        assert Elements(shown).seen - Elements(series_report(notebook).html).seen - plain == set()
        assert not {name for _, name in Elements(shown).seen if name.startswith("on")}
        assert not {tag for tag, _ in Elements(shown).seen} & {"script", "iframe", "object", "embed"}
        assert "<img src=x" not in shown
        json_text = figures.partition("</script></main></body></html>")[0]
        assert "<" not in json_text
        json.loads(json_text)


def tags(tree, found):
    """Names of elements and attributes in a tree of lists; a text is a leaf."""
    if isinstance(tree, list) and tree and isinstance(tree[0], str):
        found |= {tree[0], *tree[1]}
        for child in tree[2:]:
            tags(child, found)
    return found


def test_a_page_has_no_element_of_a_persons_text(folder):
    feed = Feed(FakeSession(folder))
    own = feed.library.places["own"]
    own._seen = own._look()
    seen = set()
    for page in PAGES:
        message = feed.update(Viewer(page=page, wish={"trial": (MARKUP,), "name": (MARKUP,)}), 1)
        for block in message["blocks"].values():
            for tree in block.get("body", []):
                tags(tree, seen)
    assert {"table", "p", "button"} <= seen
    assert all(re.fullmatch(r"[a-z][a-zA-Z0-9-]*", name) for name in seen), seen
    assert not {name for name in seen if name.startswith("on") or name in {"script", "iframe", "srcdoc"}}


def test_no_script_of_the_pages_makes_elements_of_a_text():
    for path in sorted(own_files.ASSETS.glob("*.js")):
        found = re.findall(
            r"innerHTML|outerHTML|insertAdjacentHTML|document\.write|\beval\(|new Function", path.read_text("utf-8")
        )
        assert not found, path.name
