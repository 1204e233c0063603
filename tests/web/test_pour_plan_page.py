"""The pour plan on the batch page: answer, problems at their entries, one group open, and the card behind its link."""

import itertools
import urllib.request

import pytest
from fake_session import FakeSession
from waiting import until

from frothline.bench.pour_plan_form import typed_plan, worked_plan
from frothline.foam.dilution import Dilution
from frothline.web import serving
from frothline.web.elements import words_of
from frothline.web.feed import Feed
from frothline.web.pages.batch import labels, plan
from frothline.web.viewer import Viewer

TYPED = {
    "volume": "400 L",
    "height": "1 m",
    "foam-density": "75 kg/m³",
    "output": "60 L/min (55 to 65)",
    "reservoir": "20 L",
}


def shown(system="metric", **more):
    typed = typed_plan({}) | TYPED | {name.replace("_", "-"): text for name, text in more.items()}
    found = worked_plan(typed, None, Dilution(40, "1+N"), None, system)
    return plan.block(typed, found, system)


def text(body):
    return " ".join(words_of(part) for part in body if part is not None)


def entries(body):
    """Attributes of the entries by name."""
    found = {}

    def walk(item):
        if isinstance(item, list):
            if item[1].get("class") == "entry":
                control = item[3]
                found[control[1]["name"]] = (item[1].get("data-is"), words_of(item))
            for child in item[2:]:
                walk(child)

    for part in body:
        walk(part)
    return found


@pytest.mark.parametrize(("system", "own", "other"), [("metric", "kg/m³", "lb/ft³"), ("inch-pound", "lb/ft³", "kg/m³")])
def test_the_answer_comes_first_in_the_reader_s_units(system, own, other):
    body = [part for part in shown(system) if part is not None]
    said = words_of(body[0])
    assert said.startswith("8 mixes")
    figures = text(body[:-1])
    assert own in figures
    assert other not in figures


def test_only_the_first_group_is_open():
    groups = shown()[-1][2:]
    assert [part[1].get("open") for part in groups] == ["", None, None, None, None]
    assert shown()[-1][1]["data-one-open"] == "yes"


def test_every_problem_is_at_its_entry_and_in_the_list():
    body = shown(helpers="0", density="2400", fill="60")
    found = entries(body)
    for name in ("helpers", "density", "fill"):
        assert found[name][0] == "wrong", name
    assert "somebody has to run the mixer" in found["helpers"][1]
    assert "3 entries to fill in or correct" in text(body)
    assert found["mixer"][0] == ""


def test_an_entry_that_was_emptied_has_its_usual_value_again():
    assert text(shown(waste=""))[:40] == text(shown())[:40]


@pytest.fixture(scope="module")
def session(tmp_path_factory):
    return FakeSession(tmp_path_factory.mktemp("plan"))


def test_the_page_gets_the_plan_and_its_card_opens(session):
    (session.snapshot().folder / "prices.toml").write_text('[cement]\nprice = 5\nper = "25 kg"\n', "utf-8")
    wish = {f"pour-{name}": (value,) for name, value in TYPED.items()}
    feed, numbers = Feed(session), itertools.count(1)

    def answered():
        body = feed.update(Viewer(page="batch", wish=wish), next(numbers))["blocks"]["batch-plan"]["body"]
        return body if "35.00" in text(body) else None  # 7 bags: the price file was read, too

    body = until(answered)
    (link,) = [part for part in body if labels.CARD in words_of(part)]
    address = link[2][1]["href"]
    with serving(session) as base, urllib.request.urlopen(base.rstrip("/") + address, timeout=120) as answer:
        card = answer.read().decode()
    assert "35.00" in card
    assert "8 mixes" in card


def test_a_card_without_entries_says_what_is_missing(session):
    with serving(session) as base, pytest.raises(urllib.error.HTTPError) as refused:
        urllib.request.urlopen(base + "pour-card?volume=x<b>", timeout=120)
    said = refused.value.read().decode()
    assert refused.value.code == 404
    assert "form.volume" in said
    assert "x<b>" not in said


def test_an_entry_that_nobody_filled_in_yet_is_asked_for_and_not_shown_as_an_error():
    body = shown(volume="", height="")
    assert labels.plan_lacks("1 entry") in text(body)
    is_what, words = entries(body)["volume"]
    assert is_what != "wrong"
    assert "is missing" not in words
    assert "problem" not in text(body[-1:])
    assert entries(shown(volume="plenty"))["volume"][0] == "wrong"
