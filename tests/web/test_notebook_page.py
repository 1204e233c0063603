"""The notebook and what lies over the plane: a folder with what people's folders hold, damaged and newer files too.

The season that stands in ``recordings`` is simulated; the weighings that its TOML files hold are worked by hand beside
each check.
"""

import io
import shutil
import time
import tomllib
import urllib.error
import urllib.request
from pathlib import Path
from types import SimpleNamespace
from urllib.parse import quote

import numpy as np
import pytest
from PIL import Image
from reader_window import Look

from frothline.bench.background import BackgroundAnswers
from frothline.bench.library import OWN, SEASON, Library, LibraryFolder
from frothline.errors import InputError, TooFewPoints
from frothline.generator.operating_conditions import OperatingConditions
from frothline.generator.pressure_model import PressureModel
from frothline.generator.sheet import parse_sheet, starting_sheet
from frothline.recording.sidecar import add_note
from frothline.sensors.calibration import Calibration, ChannelCalibration
from frothline.trials.compare import compare
from frothline.trials.notebook import season
from frothline.web.elements import words_of
from frothline.web.pages.notebook import recordings as all_recordings
from frothline.web.pages.notebook import trials as view
from frothline.web.pages.notebook import what_helped as learnt
from frothline.web.pages.notebook.page import _report
from frothline.web.pages.source import labels, other_sweeps
from frothline.wire import decode_all, encode

FIRST, SECOND = "04-05-first-tube", "04-05-more-holes-long-packing"


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    """Three runs and a sweep of the season, one file that is damaged and one from the future."""
    here = tmp_path_factory.mktemp("recordings")
    shutil.copytree(season() / "builds", here / "builds")
    shutil.copy(season() / "plan.toml", here)
    for name in (FIRST, SECOND, "04-12-first-tube", "03-29-sweep-shop-motor"):
        for suffix in (".froth", ".toml"):
            shutil.copy(season() / f"{name}{suffix}", here)
    (here / "torn.froth").write_bytes(b"\x07nothing that was ever sent")
    (here / "empty.froth").write_bytes(b"")
    data = (here / f"{FIRST}.froth").read_bytes()
    opened = decode_all(data).tables["recording_opened"][0]
    head = {name: opened[name].tobytes() if name == "identity" else opened[name] for name in opened.dtype.names[2:]}
    later = encode("recording_opened", 0, **(head | {"format": 9}))
    (here / "later.froth").write_bytes(later + data[data.index(b"\0") + 1 :])
    return here


@pytest.fixture(scope="module")
def seen(folder):
    return wait(LibraryFolder(OWN, folder))


def wait(place, seconds=120.0):
    end = time.monotonic() + seconds
    while not place.look().ready:
        assert time.monotonic() < end
        time.sleep(0.02)
    return place.look()


def answered(ask, seconds=120.0):
    end = time.monotonic() + seconds
    while (answer := ask()).working:
        assert time.monotonic() < end
        time.sleep(0.02)
    return answer


def said(pieces):
    return " ".join(" ".join(words_of(piece) for piece in pieces if piece is not None).split())


def test_all_recordings_are_listed_and_the_damaged_ones_say_so(seen):
    words = said(all_recordings.recordings(seen, "", "", "metric"))
    assert "7 recordings found" in words
    assert words.count("damaged, cannot be read") == 2
    assert words.count("written by a newer version") == 1
    assert "More holes and a longer packing" in words


def test_search_takes_every_word_and_filters_by_kind(seen):
    assert [entry.name for entry in all_recordings.find(seen.entries, "HOLES changed", "")] == [
        SECOND
    ]  # title and note
    assert [entry.kind for entry in all_recordings.find(seen.entries, "", "sweep")] == ["sweep"]
    assert {entry.name for entry in all_recordings.find(seen.entries, "", "trouble")} == {"torn", "empty", "later"}
    assert "nothing found" in said(all_recordings.recordings(seen, "zeppelin", "", "metric"))


def test_a_trial_shows_its_weighed_density_with_its_interval(seen):
    """04-05-first-tube.toml: 60 L tub, 2315 g empty, 6820 g full: 4505 g / 60 L = 75.08 kg/m3; jugs 75.4 kg/m3: as weighed in
    air, which is what a bucket on a scale tells."""
    words = said(view.trials(seen, (), "metric"))
    assert "First foam" in words
    value = float(words.split("First foam")[1].split("kg/m³")[0].split()[-1])
    assert 75.0 < value < 75.8
    inches = said(view.trials(seen, (), "inch-pound"))
    there = float(inches.split("First foam")[1].split("lb/ft³")[0].split()[-1])
    assert there == pytest.approx(value / 16.018463, rel=2e-3)  # NIST SP 811: 1 lb/ft3 = 16.01846 kg/m3


def test_side_by_side_names_the_parts_that_changed_and_draws_them(seen):
    paths = [str(trial.path) for trial in seen.trials if trial.name in (FIRST, SECOND)]
    pieces = view.side_by_side(seen, paths, "metric")
    words = said(pieces)
    # the two sheets differ in rows (4 and 6), what of them lies under liquid, and packing (250 to 400 mm, 350 to 560 g)
    assert "Tube rows 4 6" in words
    assert "Packing length 250 mm 400 mm" in words
    assert "Packing mass 350 g 560 g" in words
    assert "changed two things at once" in words
    drawings = [str(piece) for piece in pieces if "fl-changed" in str(piece)]
    assert len(drawings) == 1
    assert 'class="fl-packing fl-changed"' in drawings[0]
    assert 'class="fl-outlet"' in drawings[0]


def test_the_change_of_each_figure_comes_first_with_its_interval_and_whether_it_is_clear(seen):
    """By hand: the change is the difference of the two figures, its variance the sum of theirs (JCGM 100:2008, 5.1.2)."""
    before, after = (next(trial for trial in seen.trials if trial.name == name) for name in (FIRST, SECOND))
    changes = {one.figure.name: one for one in compare(before, after).figures}
    density = changes["density"].change
    assert density.value == pytest.approx(after.density.value - before.density.value)
    u = (before.density.standard_uncertainty**2 + after.density.standard_uncertainty**2) ** 0.5
    assert (density.lower, density.upper) == pytest.approx(
        (density.value - 1.96 * u, density.value + 1.96 * u), rel=1e-3
    )
    for one in changes.values():
        if one.change is not None:
            clear = one.change.lower > 0 or one.change.upper < 0
            # one run of each build: the weather is a fact, and a figure's change has no scatter between runs in it
            weather = one.figure.name == "water_temperature"
            assert (one.words == "not clear") == (not clear)
            assert not clear or weather or one.words == "scatter between runs not included"
    pieces = view.side_by_side(seen, [str(before.path), str(after.path)], "metric")
    words = said(pieces)
    assert words.index("Change from “First foam”") < words.index("from 1 repeated run.")
    assert words.index("Change from “First foam”") < words.index("entries changed")
    assert words.index("Change from “First foam”") < words.index("Values of each trial, and drawing")


def test_a_figure_that_one_trial_does_not_have_has_no_change_and_says_why(seen):
    import dataclasses

    before, after = (next(trial for trial in seen.trials if trial.name == name) for name in (FIRST, SECOND))
    without = dataclasses.replace(after, density=None, why={**after.why, "density": "no sample was weighed"})
    change = next(one for one in compare(before, without).figures if one.figure.name == "density")
    assert (change.change, change.words, change.why) == (None, "", "no sample was weighed")


def test_what_cannot_be_told_apart_is_said_before_anything_that_helped(seen):
    """Rows of holes and packing length changed together in the only pair of builds; nothing can part them."""
    shelf = Library(seen.folder, None)
    answer = answered(lambda: learnt.ask_helped(shelf, seen, "density"))
    pieces = learnt.helped(seen, answer, "density", "metric")
    words = said(pieces)
    assert "cannot separate them" in words
    assert "Runs that would separate them" in words
    assert words.index("cannot separate them") < words.index("Runs that would separate")


def test_effects_are_shown_in_the_readers_units():
    whole = wait(LibraryFolder(SEASON, season()))
    shelf = Library(whole.folder, None)
    answer = answered(lambda: learnt.ask_helped(shelf, whole, "density"))
    rows = {}
    for system in ("metric", "inch-pound"):
        words = said(learnt.helped(whole, answer, "density", system))
        factor = {"metric": "Outlet bore (mm) 26 to 34 ", "inch-pound": "Outlet bore (in) 1.0 to 1.3 "}[system]
        rows[system] = float(words.split(factor)[1].split()[0].replace("−", "-"))
    assert rows["metric"] < 0  # a narrow outlet makes heavier foam: 91.9 against 79.3 kg/m3 on the same day
    assert rows["inch-pound"] == pytest.approx(rows["metric"] / 16.018463, rel=0.08)


def test_the_next_run_comes_with_its_reason_and_only_parts_at_hand(seen):
    shelf = Library(seen.folder, None)
    answer = answered(lambda: learnt.ask_next(shelf, seen))
    words = said(learnt.ahead(seen, answer, "metric"))
    assert "make these first, in this order" in words.lower()
    assert "foam density 60 to 80 kg/m³; 25 % drainage time 600 or more s" in words  # as plan.toml wishes it
    plan = tomllib.loads((seen.folder / "plan.toml").read_text("utf-8"))
    rows_at_hand = set(plan["factors"]["tube.rows"])
    planned = {int(part.split()[0].rstrip(",")) for part in words.lower().split("tube rows ")[1:]}
    assert planned
    assert planned <= rows_at_hand


def test_a_folder_without_a_plan_says_how_to_have_one_and_a_wrong_plan_says_what_is_wrong(tmp_path):
    empty = wait(LibraryFolder(OWN, tmp_path))
    assert "plan.toml" in said(learnt.ahead(empty, None, "metric"))
    shutil.copy(season() / f"{FIRST}.froth", tmp_path)
    (tmp_path / "plan.toml").write_text("reference = 3\n", encoding="utf-8")
    wrong = wait(LibraryFolder(OWN, tmp_path))
    assert "reference build is missing" in said(learnt.ahead(wrong, None, "metric"))


def test_a_folder_that_is_not_there_yet_is_no_trouble(tmp_path):
    seen = wait(LibraryFolder(OWN, tmp_path / "later"))
    assert seen.problem == ""
    assert "A trial is a run with its build sheet" in said(view.trials(seen, (), "metric"))


def test_a_new_recording_appears_and_an_unchanged_folder_is_not_worked_out_anew(tmp_path):
    shutil.copy(season() / f"{FIRST}.froth", tmp_path)
    place = LibraryFolder(OWN, tmp_path)
    first = wait(place)
    assert place._look().look == first.look
    shutil.copy(season() / "03-29-sweep-shop-motor.froth", tmp_path)
    again = place._look()
    assert again.look > first.look
    assert len(again.entries) == 2


def test_questions_are_worked_out_once_and_an_error_is_an_answer():
    answers, counted = BackgroundAnswers(), []

    def fails():
        raise TooFewPoints("one trial is not enough", where="here")

    assert answered(lambda: answers.look("a", lambda: counted.append(1) or 7)).value == 7
    assert answers.look("a", lambda: counted.append(1) or 8).value == 7
    assert len(counted) == 1
    assert "one trial is not enough" in answered(lambda: answers.look("b", fails)).trouble
    assert "the calculation failed" in answered(lambda: answers.look("c", lambda: 1 / 0)).trouble


def test_a_note_is_put_behind_those_that_stand_there_and_comments_stay(tmp_path):
    beside = tmp_path / "run.toml"
    beside.write_text('# mine\nnote = "runny"\n\n[[sample]]\nfull = "612 g"\n', encoding="utf-8")
    assert add_note(tmp_path / "run.froth", " stands better today ") == beside
    text = beside.read_text("utf-8")
    assert text.startswith("# mine\n")
    assert tomllib.loads(text)["note"] == "runny\nstands better today"
    assert tomllib.loads(text)["sample"] == [{"full": "612 g"}]
    beside.write_text("this is = = not TOML", encoding="utf-8")
    with pytest.raises(InputError, match="not written"):
        add_note(tmp_path / "run.froth", "more")
    assert beside.read_text("utf-8") == "this is = = not TOML"


# --- over the plane ---------------------------------------------------------------------------------------------------


def beside(shelf, *paths):
    def choose():
        chosen = other_sweeps.choose(shelf, paths, simulated=False, calibration=None, stamp="")
        return SimpleNamespace(working=any(one.working for one in chosen.others), chosen=chosen)

    wait(shelf.places[OWN])
    return answered(choose).chosen


def test_an_earlier_sweep_lies_over_the_plane_solid_where_it_was_measured(folder):
    shelf = Library(folder, None)
    path = str(folder / "03-29-sweep-shop-motor.froth")
    chosen = beside(shelf, path)
    (other,) = chosen.others
    assert other.simulated
    traces = other_sweeps.traces(chosen, "metric", "light")
    assert [trace.line.dash for trace in traces[:2]] == ["solid", "dash"]
    solid = [x for x, y in zip(traces[0].x, traces[0].y, strict=True) if y is not None]
    low, high = other.fit.range
    assert low * 1e3 - 0.5 <= min(solid)
    assert max(solid) <= high * 1e3 + 0.5
    assert traces[2].marker.symbol == "circle-open"
    assert chosen.reach()[1] == pytest.approx(other.fit.shut_off.value, rel=0.02)


def test_a_path_that_is_no_known_sweep_is_never_read(folder):
    shelf = Library(folder, None)
    chosen = beside(shelf, "/etc/hostname", str(folder / "torn.froth"), str(folder / f"{FIRST}.froth"))
    assert chosen.others == ()
    assert said(other_sweeps.pieces((), chosen, None, "", "metric")) == labels.NO_OTHER


def source(pressure, flow):
    """A source as it is fitted from eleven points on p = P (1 - (q/Q)²)."""
    from frothline.curve.blower import BlowerCurve
    from frothline.curve.steady_points import SteadyPoint

    q = np.linspace(0.0, flow, 11)
    wobble = 1 + 0.001 * np.sin(7.0 * np.arange(11))
    points = [
        SteadyPoint(10.0 * k, 10.0 * k + 6, pressure * (1 - (x / flow) ** 2) * w + 1, 15.0, x, 1e-4 * flow + 1e-6)
        for k, (x, w) in enumerate(zip(q, wobble, strict=True))
    ]
    return BlowerCurve().fit(points)


def test_the_source_that_gives_more_air_through_the_generator_comes_first_and_a_weak_one_cannot(folder):
    """A generator whose packing has to be opened first: no source below that pressure pushes any air through."""
    build = parse_sheet(starting_sheet(), "build").build
    generator = PressureModel(build, OperatingConditions.usual(wet=True))
    needs = generator.pressure(1e-6)
    sources = {
        "weak": source(0.5 * needs, 0.05),
        "strong": source(6 * needs, 0.05),
        "middling": source(3 * needs, 0.05),
    }
    shelf = Library(folder, None)
    others = tuple(other_sweeps.Other(name, name, name, 0, fit, "", False, False) for name, fit in sources.items())
    chosen = other_sweeps.Overlay(others, "three")
    answer = answered(lambda: other_sweeps.carried(shelf, chosen, None, generator, 1)[0])
    assert [(one.name, one.verdict != "no") for one in answer.value] == [
        ("strong", True),
        ("middling", True),
        ("weak", False),
    ]
    words = said(other_sweeps.pieces((), chosen, answer, build.name, "metric"))
    assert "weak no – the source is too weak" in words


# --- in the browser ---------------------------------------------------------------------------------------------------


@pytest.fixture
def bench(folder, tmp_path):
    from fake_session import FakeSession

    here = tmp_path / "mine"
    shutil.copytree(folder, here)
    return FakeSession(here)


@pytest.mark.browser
def test_trials_are_chosen_searched_and_compared_by_clicks(look):
    window = look().open("notebook")
    page = window.page
    page.wait_for_selector("[data-rows=trials]")
    page.locator(".pick", has_text="First foam").locator("input").check()
    page.locator(".pick", has_text="More holes").locator("input").check()
    page.wait_for_selector("text=More holes and a longer packing: ")
    assert page.locator("[data-rows=beside] thead :is(th, td)").count() == 3
    assert page.locator("#notebook-beside .side-view svg .fl-changed").count() >= 1
    page.locator("#notebook-words").fill("holes")
    page.wait_for_selector("text=1 recording found")
    page.keyboard.press("Backspace")
    assert page.evaluate("document.activeElement.id") == "notebook-words"
    page.locator("#notebook-words").fill("")
    page.get_by_role("button", name="damaged or unreadable").click()
    page.wait_for_selector("text=3 recordings found")
    page.reload()
    window.drawn(2)
    page.wait_for_selector("text=3 recordings found")  # what was chosen is kept for this visit


@pytest.mark.browser
@pytest.mark.exhaustive
def test_a_report_opens_by_itself_and_fetches_nothing(look, chromium, address):
    window = look().open("notebook")
    page = window.page
    page.wait_for_selector("[data-rows=trials]")
    link = page.locator("[data-rows=trials] a", has_text="report").last.get_attribute("href")
    context = chromium.new_context()
    try:
        paper = context.new_page()
        asked = []
        paper.on("request", lambda request: asked.append(request.url))
        paper.goto(address.rstrip("/") + link)
        assert "First foam" in paper.locator("h1").text_content()
        assert "imulated" in paper.locator(".simulated").first.text_content()
        assert len([url for url in asked if not url.endswith("favicon.ico")]) == 1
    finally:
        context.close()


@pytest.mark.browser
@pytest.mark.exhaustive
def test_a_note_is_written_beside_the_recording(look, bench):
    window = look().open("notebook")
    page = window.page
    page.wait_for_selector("[data-rows=trials]")
    page.locator(".pick", has_text="First foam").locator("input").check()
    page.wait_for_selector(f"#note-{FIRST}", state="attached")
    page.locator("#notebook-beside summary", has_text="Notes").click()
    page.locator(f"#note-{FIRST}").fill("stirred <b>longer</b>")
    page.keyboard.press("Enter")
    page.wait_for_selector("text=stirred <b>longer</b>")
    text = (bench.folder / f"{FIRST}.toml").read_text("utf-8")
    assert tomllib.loads(text)["note"] == "runny, but it is foam\nstirred <b>longer</b>"


@pytest.mark.browser
@pytest.mark.exhaustive
def test_a_sample_of_an_earlier_session_is_corrected_by_clicks(look, bench):
    page = look().open("notebook").page
    page.wait_for_selector("[data-rows=trials]")
    page.locator(".pick", has_text="First foam").locator("input").check()
    # until then it shows the trials that are compared where nobody chose
    page.wait_for_function("document.querySelectorAll('#samples-of-trials h3').length === 1")
    page.locator("#samples-of-trials summary").click()
    page.get_by_role("button", name="Correct sample 2").click()
    page.get_by_label("Full weight").fill("340")
    page.get_by_role("button", name="Save correction").click()
    page.wait_for_selector("#said >> text=Sample 2 corrected")
    page.wait_for_selector("text=Sample 2, corrected once")  # the page has read the folder again
    text = (bench.folder / f"{FIRST}.toml").read_text("utf-8")
    assert tomllib.loads(text)["correction"][0]["full"] == "340 g"


@pytest.mark.browser
def test_the_notebook_fits_a_phone_and_the_simulated_season_says_what_it_is(look):
    window = look(width=390, height=844, is_mobile=True, has_touch=True, color_scheme="dark").open("notebook")
    page = window.page
    page.get_by_role("button", name="Example data (simulated)").click()
    page.wait_for_selector("text=no real generators")
    page.wait_for_selector("#part-next .reason")
    page.locator("[data-rows=change] tbody tr").first.wait_for()
    # three screens, before a part is opened; parts of the folder before may stand for a moment
    page.wait_for_function("document.documentElement.scrollHeight <= 3 * 844")
    page.emulate_media(media="print")
    page.evaluate("dispatchEvent(new Event('beforeprint'))")
    assert page.locator(".page details:not([open])").count() == 0  # paper has every part
    page.evaluate("dispatchEvent(new Event('afterprint'))")
    page.emulate_media(media="screen")
    for part in ("helped", "next", "trials"):
        summary = page.locator(f"#part-{part} > summary")
        if part != "next":
            summary.focus()
            page.keyboard.press("Enter")
        assert page.locator(f"#part-{part}").get_attribute("open") is not None
    page.locator("[data-rows=effects]").wait_for()  # calculated in the background; seen, as its part is open
    page.locator("#part-next details > summary").first.click()
    page.get_by_role("button", name="25 % drainage time").click()  # the page is drawn again
    page.wait_for_selector("text=Effects on the 25 % drainage time")
    page.locator("[data-rows=settings]").wait_for()  # what was opened stays open
    assert page.evaluate("document.documentElement.scrollWidth") <= 390
    page.reload()
    page.wait_for_selector("[data-rows=effects]")
    assert page.locator("#part-recordings").get_attribute("open") is None


@pytest.mark.browser
@pytest.mark.exhaustive
def test_an_earlier_sweep_is_laid_over_the_plane_by_a_click(look):
    window = look().open()
    window.charted("plane")
    page = window.page
    page.wait_for_selector(".overlay .boxes input")
    page.locator(".boxes label", has_text="shop motor").locator("input").check()
    page.wait_for_selector("[data-rows=overlay] td:has-text('kPa')")
    page.wait_for_function("document.querySelector('#plane .js-plotly-plot').data.some((t) => t.name === 'shop motor')")


@pytest.mark.parametrize(
    "path", ["/etc/hostname", "../../secret", ""], ids=["a file of the system", "a way out", "nothing"]
)
def test_no_report_is_made_of_what_is_not_in_the_notebook(address, path):
    with pytest.raises(urllib.error.HTTPError) as refused:
        urllib.request.urlopen(f"{address}report?kind=run&path={quote(path)}", timeout=120)
    assert refused.value.code == 404
    assert "not in the notebook" in refused.value.read().decode()
    refused.value.close()


def test_the_season_is_where_the_notebook_looks_for_it():
    assert season() == Path(__file__).parents[2] / "recordings" / "season"


# --- photos


def picture(path, size=(800, 600)):
    Image.new("RGB", size, (30, 120, 110)).save(path)


def fetch(address, recording, name, more=""):
    url = f"{address}photo?recording={quote(str(recording), safe='')}&name={quote(str(name), safe='')}{more}"
    with urllib.request.urlopen(url, timeout=120) as answer:
        return answer.headers, answer.read()


def asked(address, bench, name, more=""):
    """The answer, once the notebook has looked into the folder."""
    end = time.monotonic() + 120
    while True:
        try:
            return fetch(address, bench.folder / f"{FIRST}.froth", name, more)
        except urllib.error.HTTPError as error:
            error.close()
            assert time.monotonic() < end
            time.sleep(0.2)


def test_a_photo_is_served_small_and_as_a_picture_only(address, bench):
    picture(bench.folder / f"{FIRST}.jpg", (3000, 2000))
    headers, jpeg = asked(address, bench, f"{FIRST}.jpg")
    assert headers["Content-Type"] == "image/jpeg"
    assert headers["X-Content-Type-Options"] == "nosniff"
    assert Image.open(io.BytesIO(jpeg)).size == (360, 240)
    _, jpeg = asked(address, bench, f"{FIRST}.jpg", "&size=large")
    assert max(Image.open(io.BytesIO(jpeg)).size) == 1600


def test_no_other_file_is_served_as_a_photo(address, bench, tmp_path):
    picture(bench.folder / f"{FIRST}.jpg")
    picture(tmp_path / "secret.jpg")
    picture(bench.folder / "of no trial.jpg")
    asked(address, bench, f"{FIRST}.jpg")
    recording = bench.folder / f"{FIRST}.froth"
    for where, name in (
        (recording, "../secret.jpg"),
        (recording, f"{FIRST}.jpg/../../secret.jpg"),
        (recording, str(tmp_path / "secret.jpg")),
        (recording, "%2e%2e/secret.jpg"),
        (recording, "of no trial.jpg"),
        (recording, f"{FIRST}.toml"),
        (recording, f"{FIRST}.froth"),
        (recording, ""),
        (tmp_path / "secret.jpg", "secret.jpg"),
        ("", f"{FIRST}.jpg"),
    ):
        with pytest.raises(urllib.error.HTTPError) as refused:
            fetch(address, where, name)
        assert refused.value.code == 404
        assert "not in the notebook" in refused.value.read().decode()
        refused.value.close()


def test_a_photo_that_became_a_link_out_of_the_folder_is_refused(address, bench, tmp_path):
    picture(bench.folder / f"{FIRST}.jpg")
    asked(address, bench, f"{FIRST}.jpg")
    picture(tmp_path / "secret.jpg")
    (bench.folder / f"{FIRST}.jpg").unlink()
    (bench.folder / f"{FIRST}.jpg").symlink_to(tmp_path / "secret.jpg")
    with pytest.raises(urllib.error.HTTPError) as refused:
        fetch(address, bench.folder / f"{FIRST}.froth", f"{FIRST}.jpg")
    assert refused.value.code == 404
    refused.value.close()


def test_a_photo_that_was_put_there_later_appears(tmp_path):
    for suffix in (".froth", ".toml"):
        shutil.copy(season() / f"{FIRST}{suffix}", tmp_path)
    place = LibraryFolder(OWN, tmp_path)
    before = wait(place)
    assert before.trials[0].photos == ()
    picture(tmp_path / f"{FIRST}-2.jpg")
    assert place._look().trials[0].photos == (str(tmp_path / f"{FIRST}-2.jpg"),)


@pytest.mark.browser
@pytest.mark.parametrize("size", [pytest.param({}, marks=pytest.mark.exhaustive), {"width": 390, "height": 844}])
@pytest.mark.exhaustive
def test_photos_stand_with_their_trial_and_a_missing_one_is_told(chromium, address, bench, size):
    for name in (f"{FIRST}.jpg", f"{FIRST} (tub).jpg"):
        picture(bench.folder / name, (3000, 2000))
    asked(address, bench, f"{FIRST}.jpg")
    (bench.folder / f"{FIRST} (tub).jpg").write_bytes((bench.folder / f"{FIRST} (tub).jpg").read_bytes()[:3000])
    window = Look(chromium, address, **size).open("notebook")  # it will complain of the torn one, and may
    page = window.page
    page.evaluate("location.hash = 'notebook-trials'")  # a link opens the part that it leads to
    page.wait_for_selector("[data-rows=trials]")
    page.locator(".pick", has_text="First foam").locator("input").check()
    page.wait_for_selector(".row-of-photos figure")
    page.locator(".row-of-photos").scroll_into_view_if_needed()
    whole, torn = (page.locator(".row-of-photos figure", has_text=name) for name in (f"{FIRST}.jpg", "(tub)"))
    page.wait_for_function("[...document.querySelectorAll('.row-of-photos img')].some((e) => e.naturalWidth === 360)")
    page.wait_for_selector(".row-of-photos figure[data-is=gone]")
    assert whole.locator("img").evaluate("e => e.naturalWidth") == 360
    assert not whole.locator(".gone").is_visible()
    assert "missing or unreadable" in torn.locator(".gone").text_content()
    assert torn.locator(".gone").is_visible()
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    window.close()


# --- calibration


def at(level):
    """A line without a slope: whatever the sensor says, it is ``level`` Pa."""
    line = ChannelCalibration("pressure", "ratio", "Pa", np.array([level, 0.0]), np.diag([1.0, 1.0]), 0.0, 1.0)
    return Calibration("", {"pressure": line})


def test_trials_move_with_the_calibration_in_use_and_are_kept_for_it(tmp_path, monkeypatch):
    """By hand: 4321 Pa + 0 x ratio is 4321 Pa, whatever was measured."""
    from frothline.trials import measurements

    for suffix in (".froth", ".toml"):
        shutil.copy(season() / f"{FIRST}{suffix}", tmp_path)
    in_use = [Calibration()]
    place = LibraryFolder(OWN, tmp_path, lambda: in_use[0])
    plain = wait(place).trials[0].line_pressure.value
    assert plain > 10e3
    in_use[0] = at(4321.0)
    moved = place._look()
    assert moved.trials[0].line_pressure.value == pytest.approx(4321.0)
    page = _report(SimpleNamespace(library=SimpleNamespace(places={OWN: SimpleNamespace(look=lambda: moved)})),
                   "", "run", str(tmp_path / f"{FIRST}.froth"), "metric")  # fmt: skip
    assert "4.321 kPa" in page
    in_use[0] = at(5000.0)
    assert place._look().trials[0].line_pressure.value == pytest.approx(5000.0)
    # read once for each calibration: another look at the folder reckons nothing anew
    monkeypatch.setattr(measurements, "measure", lambda *_: pytest.fail("it was measured again"))
    again = LibraryFolder(OWN, tmp_path, lambda: at(5000.0))
    assert wait(again).trials[0].line_pressure.value == pytest.approx(5000.0)


def test_the_stamp_of_a_calibration_changes_with_whatever_changes_a_figure():
    from dataclasses import replace

    one = at(4321.0)
    line = one.channels["pressure"]
    others = [
        Calibration(),
        at(4322.0),
        Calibration("bench 1", dict(one.channels)),
        Calibration("", dict(one.channels), {"scale": 12.0}),
        Calibration("", {"pressure": replace(line, covariance=np.diag([2.0, 1.0]))}),
        Calibration("", {"pressure": replace(line, high=0.9)}),
        Calibration("", {"pressure": replace(line, systematic=5.0)}),
    ]
    stamps = [each.stamp for each in (one, *others)]
    assert len(set(stamps)) == len(stamps)
    assert at(4321.0).stamp == one.stamp
    assert Calibration().stamp == ""


def test_the_notebook_opens_on_ones_own_once_there_is_an_own_trial(folder, tmp_path):
    """Beside a simulated rig the season fills a notebook that is empty otherwise; never over one's own trials."""
    empty = Library(tmp_path, folder)
    wait(empty.places[OWN])
    assert empty.choose("", simulated=True).look().place == SEASON
    assert empty.choose("", simulated=False).look().place == OWN
    for suffix in (".froth", ".toml"):
        shutil.copy(folder / f"{FIRST}{suffix}", tmp_path)
    shelf = Library(tmp_path, folder)
    wait(shelf.places[OWN])
    assert shelf.choose("", simulated=True).look().place == OWN
    assert shelf.choose(SEASON, simulated=True).look().place == SEASON
