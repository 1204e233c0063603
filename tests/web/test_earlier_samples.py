"""Samples of earlier sessions corrected on the notebook page, without a browser.

Densities are checked by hand: net mass over volume.
"""

import shutil
import tomllib

import pytest
from fake_session import FakeSession
from seasons import SEASON
from test_run_page import text
from test_run_samples import entries, timed_bucket
from waiting import until

from frothline.bench.library import OWN
from frothline.errors import InputError
from frothline.trials.notebook import open_notebook
from frothline.web.components import Asked
from frothline.web.feed import Feed
from frothline.web.pages.notebook import sample_forms
from frothline.web.pages.notebook.page import _correct
from frothline.web.pages.run import correction

NAME = "04-05-first-tube"  # a tub of 60 L with 6890 - 2315 g, timed; then a jug of 2 L with 335 - 184.2 g


@pytest.fixture
def feed(tmp_path):
    for suffix in (".froth", ".toml"):
        shutil.copy(SEASON / f"{NAME}{suffix}", tmp_path)
    shutil.copytree(SEASON / "builds", tmp_path / "builds")
    made = Feed(FakeSession(tmp_path))
    until(lambda: seen(made).ready and seen(made).trials)
    return made


def seen(feed):
    return feed.library.places[OWN].look()


def block(feed, wish=None, system="metric"):
    return [one for one in sample_forms.sample_block(seen(feed), (), wish or {}, system) if one is not None]


def asks(feed, wish):
    """What the buttons of the form ask, by verb."""
    found = {}

    def look(item):
        if isinstance(item, list):
            do = item[1].get("data-do")
            if item[0] == "button" and do:
                family, verb, argument = do.split(":", 2)
                assert family == "notebook"
                found[verb] = argument
            for child in item[2:]:
                look(child)

    for piece in block(feed, wish):
        look(piece)
    return found


def chosen(feed, number):
    (entry,) = seen(feed).entries
    one = sample_forms.recorded_samples(entry)[number - 1]
    return one, {correction.CORRECTING: (one.key,)}


def press(feed, verb, argument, values=None, system="metric"):
    return _correct(feed, Asked(verb, argument, values or {}, "notebook", system))


def test_a_sample_of_an_earlier_session_is_corrected_and_every_reader_has_it(feed, tmp_path):
    _, wish = chosen(feed, 2)
    fields = {field[-1][1].get("id", "") for piece in block(feed, wish) for field in entries(piece)}
    assert len(fields) >= 6
    said = press(feed, "correct", asks(feed, wish)["correct"], {"full": "340"})
    assert said == f"Sample 2 corrected; saved in {NAME}.toml"
    (trial,) = open_notebook(tmp_path).trials
    assert round(trial.samples[1].density.value, 2) == 77.9  # (340 - 184.2) g in 2 L
    written = tomllib.loads((tmp_path / f"{NAME}.toml").read_text())
    assert written["sample"][1]["full"] == "335 g"
    until(lambda: chosen(feed, 2)[0].corrections == 1)  # the page reads the folder again


def test_a_bare_number_is_in_the_readers_unit(feed, tmp_path):
    _, wish = chosen(feed, 2)
    press(feed, "correct", asks(feed, wish)["correct"], {"full": "12"}, "inch-pound")
    (trial,) = open_notebook(tmp_path).trials
    ounce = 28.349523125  # g, NIST SP 811
    assert trial.samples[1].density.value == pytest.approx((12 * ounce - 184.2) / 2, abs=0.03)


def test_a_sample_is_withdrawn_and_counts_again(feed, tmp_path):
    _, wish = chosen(feed, 2)
    count = len(open_notebook(tmp_path).trials[0].samples)
    assert "withdrawn" in press(feed, "withdraw", asks(feed, wish)["withdraw"])
    assert len(open_notebook(tmp_path).trials[0].samples) == count - 1
    until(lambda: not chosen(feed, 2)[0].counts)
    assert "counts again" in press(feed, "count-again", asks(feed, wish)["count-again"])
    assert len(open_notebook(tmp_path).trials[0].samples) == count


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ({"full": "heavy"}, "heavy"),
        ({"full": "100 g"}, "Full"),
        ({"end": "9000 s"}, "outside the recording"),
        ({"fill": "0"}, "greater than 0"),
    ],
)
def test_a_wrong_entry_is_refused_and_nothing_is_written(feed, tmp_path, typed, words):
    _, wish = chosen(feed, 1)
    before = (tmp_path / f"{NAME}.toml").read_text()
    with pytest.raises(InputError) as refused:
        press(feed, "correct", asks(feed, wish)["correct"], typed)
    assert words.casefold() in str(refused.value).casefold()
    assert (tmp_path / f"{NAME}.toml").read_text() == before


def test_an_old_page_a_foreign_file_and_an_unknown_sample_are_refused(feed, tmp_path):
    _, wish = chosen(feed, 2)
    argument = asks(feed, wish)["correct"]
    press(feed, "correct", argument, {"full": "340"})
    with pytest.raises(InputError, match="meanwhile"):
        press(feed, "correct", argument, {"full": "341"})
    key, corrections, path = argument.split("/", 2)
    for wrong, what in (
        (f"{key}/{corrections}//etc/passwd", "not in the notebook"),
        (f"beef/0/{path}", "not in the recording"),
        ("", "not in the notebook"),
    ):
        with pytest.raises(InputError, match=what):
            press(feed, "correct", wrong, {"full": "341"})


def test_the_example_data_offers_no_correction():
    from frothline.bench.library import SEASON as PLACE
    from frothline.bench.library import LibraryFolder

    place = LibraryFolder(PLACE, SEASON)
    until(lambda: place.look().ready)
    assert sample_forms.sample_block(place.look(), (), {}, "metric") == [None]


def test_a_sample_of_this_session_is_corrected_on_both_pages_at_once(tmp_path):
    bench = FakeSession(tmp_path)
    feed = Feed(bench)
    bench.start_recording("run-1")
    bench._recording = (bench._recording[0], bench.now - 100.0)
    timed_bucket(feed.runs, bench)
    feed.runs.discard()
    feed.library.places[OWN].look = lambda: View  # the stand-in writes no recording

    class Entry:
        path, seconds = str(tmp_path / "run-1.froth"), 200.0
        metadata = tomllib.loads((tmp_path / "run-1.toml").read_text())

    class View:
        entries = (Entry,)

    (one,) = sample_forms.recorded_samples(Entry)
    said = feed.recorded_samples.correct(Entry.path, correction.key_of(one), {"full": "2 kg"})
    assert "saved in run-1.toml" in said
    assert feed.runs.taken[0].weighing.full == pytest.approx(2.0)
    assert feed.runs.taken[0].corrections == 1
    assert len(tomllib.loads((tmp_path / "run-1.toml").read_text())["correction"]) == 1


def test_the_words_name_the_trial_and_how_many_samples_there_are(feed):
    words = text(block(feed))
    (trial,) = seen(feed).trials
    assert f"Correct {len(trial.samples)} samples" in words
    assert trial.title in words
    assert "Correct sample 2" in words
