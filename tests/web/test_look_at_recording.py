"""A recording over time on the notebook page: the part that is asked for, its figures, and the same in a browser."""

import shutil
import threading
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest
from recording_scenes import TICK_HZ, BoardStream
from waiting import until

import frothline as fl
from frothline.bench.library import FolderView
from frothline.readings.overview import overview
from frothline.readings.overview_result import without_empty
from frothline.recording.summary import summarise
from frothline.trials.notebook import season
from frothline.web.elements import words_of
from frothline.web.pages.notebook import labels, look_chart, recordings
from frothline.web.pages.notebook import look as module
from frothline.web.pages.notebook.look import LOOK, Part, RecordingLooks
from frothline.web.viewer import Viewer

NAME = "04-05-first-tube"  # 41.95 s


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    here = tmp_path_factory.mktemp("look")
    for suffix in (".froth", ".toml"):
        shutil.copy(season() / f"{NAME}{suffix}", here)
    return here


@pytest.fixture(scope="module")
def seen(folder):
    return FolderView("own", folder, 1, ready=True, entries=(summarise([folder / f"{NAME}.froth"]),))


def nothing_recorded():
    return SimpleNamespace(recording=None)


def viewed(*wish, **more):
    return Viewer(page="notebook", wish={LOOK: wish} if wish else {}, **more)


def said(looks, seen, viewer, now):
    """The message of the page, with the words of its blocks as ``words``."""
    message = {"states": {}, "texts": {}, "figures": {}, "blocks": {}}
    module.say(looks, seen, now, viewer, message)
    bodies = (one for made in message["blocks"].values() for one in made["body"])
    return message | {"words": " ".join(map(words_of, bodies))}


def answered(looks, seen, viewer, now=None):
    """Words and message of the page once the chart is made."""
    message = {}

    def made():
        message.update(said(looks, seen, viewer, now or nothing_recorded()))
        return labels.PART_READ not in message["words"] and "first time" not in message["words"]

    until(made)
    return message


# --- which part -------------------------------------------------------------------------------------------------------


def test_a_setting_of_the_viewer_names_a_part_and_a_wrong_one_names_all_or_nothing():
    assert Part.of(("12.5:60:/here/a:b.froth",)) == Part("/here/a:b.froth", 12.5, 60.0)
    assert Part.of(("::/here/a.froth",)) == Part("/here/a.froth", 0.0, None)
    assert Part.of(("nan:inf:/here/a.froth",)) == Part("/here/a.froth", 0.0, None)
    assert Part.of(("-5:x:/a",)) == Part("/a", 0.0, None)
    assert Part.of(("50:20:/a",)) == Part("/a", 50.0, 50.1)  # the shortest part
    assert Part.of(()) is None
    assert Part.of(("1:2:",)) is None


@pytest.mark.parametrize(
    ("part", "to", "there"),
    [  # of 100 s
        ((0, None), "shorter", (25, 75)),
        ((20, 40), "shorter", (25, 35)),
        ((20, 40), "longer", (10, 50)),
        ((0, 80), "longer", (0, 100)),  # never beyond the recording
        ((20, 40), "later", (30, 50)),
        ((20, 40), "earlier", (10, 30)),
        ((5, 25), "earlier", (0, 20)),
        ((70, 90), "later", (80, 100)),
        ((0, 20), "earlier", None),  # nowhere to go
        ((80, 100), "later", None),
        ((0, None), "longer", None),
        ((0, None), "whole", None),
        ((20, 40), "whole", (0, None)),
        ((0.0, 0.1), "shorter", None),
    ],
)
def test_the_buttons_move_the_part(part, to, there):
    moved = Part("/a", *part).moved(to, 100.0)
    assert (None if moved is None else (moved.begin, moved.end)) == there


def test_the_setting_of_a_part_is_read_back():
    part = Part("/a b/c.froth", 30_000.1234, 35_999.998)
    assert Part.of((part.wish.removeprefix(f"{LOOK}:"),)) == part


# --- what it shows ----------------------------------------------------------------------------------------------------


def test_the_page_gives_the_lowest_and_highest_values_of_the_table(seen, folder):
    path = str(folder / f"{NAME}.froth")
    shown = answered(RecordingLooks(), seen, viewed(f"10:20:{path}"))
    table = fl.read(path)
    pressure = table.loc[(table["time"] >= 10) & (table["time"] < 20), "line_pressure"] / 1e3
    assert f"{pressure.min():.4g} kPa {pressure.max():.4g} kPa" in shown["words"]
    assert "From 0:10.00 to 0:20.00 of 0:41.95" in shown["words"]
    figure = shown["figures"]["look"]["figure"]
    assert figure["layout"]["xaxis"]["range"] == [10.0, 20.0]
    assert figure["layout"]["meta"]["part"] == {"wish": LOOK, "of": path, "seconds": 1.0}
    highest = next(one for one in figure["data"] if one.get("name") == labels.HIGHEST)
    assert max(y for y in highest["y"] if y is not None) == pytest.approx(pressure.max(), rel=1e-6)


def test_the_chart_is_sent_once_and_has_the_width_of_the_page(seen, folder):
    looks, path = RecordingLooks(), str(folder / f"{NAME}.froth")
    narrow = answered(looks, seen, viewed(f"::{path}", columns=60))
    key = narrow["figures"]["look"]["key"]
    again = answered(looks, seen, replace(viewed(f"::{path}", columns=60), have={"look": key}))
    assert "look" not in again["figures"]
    assert again["states"]["look"] == "on"
    lines = [
        next(one for one in each["figures"]["look"]["figure"]["data"] if one.get("name") == labels.LOWEST)
        for each in (narrow, answered(looks, seen, viewed(f"::{path}", columns=120)))
    ]
    assert [len(line["x"]) for line in lines] == [60 * module.STRETCHES, 120 * module.STRETCHES]


def test_marks_of_the_recording_are_said_and_drawn(seen, folder):
    shown = answered(RecordingLooks(), seen, viewed(f"::{folder / NAME}.froth"))
    assert "0:02 step: air on" in shown["words"]
    assert "0:41 sample: 60 L of foam, full at 29.6 s" in shown["words"]
    texts = [one["text"] for one in shown["figures"]["look"]["figure"]["data"] if one.get("name") == labels.MARKS]
    assert texts[1][0] == "0:02 step: air on"
    part = answered(RecordingLooks(), seen, viewed(f"5:20:{folder / NAME}.froth"))
    assert "air on" not in part["words"]


def test_us_units_are_those_of_the_reader(seen, folder):
    shown = answered(RecordingLooks(), seen, viewed(f"::{folder / NAME}.froth", system="inch-pound"))
    highest = fl.read(folder / f"{NAME}.froth")["line_pressure"].max()
    # conventional inch of water: 249.0889 Pa (NIST SP 811, table B.8)
    assert f"{highest / 249.0889:.4g} inH₂O" in shown["words"]
    assert "kPa" not in shown["words"]


def test_without_a_choice_or_of_another_folder_nothing_is_read(seen, monkeypatch):
    monkeypatch.setattr("frothline.readings.overview.overview", None)
    for viewer in (viewed(), viewed("::/etc/passwd")):
        shown = answered(RecordingLooks(), seen, viewer)
        assert shown["words"] == labels.CHOOSE_LOOK
        assert shown["states"]["look"] == "off"


def test_a_recording_that_is_written_now_is_not_read(seen, folder, monkeypatch):
    monkeypatch.setattr("frothline.readings.overview.overview", None)
    being = SimpleNamespace(path=folder / f"{NAME}.s001.froth", ended=False)
    shown = answered(RecordingLooks(), seen, viewed(f"::{folder / NAME}.froth"), now=SimpleNamespace(recording=being))
    assert labels.STILL_RECORDED in shown["words"]


def test_a_first_reading_says_how_far_it_is_and_makes_nobody_wait(seen, folder, monkeypatch):
    go, half = threading.Event(), threading.Event()

    def slow(*given, progress, **more):
        progress(0.42)
        half.set()
        assert go.wait(60)
        return overview(*given, progress=progress, **more)

    monkeypatch.setattr("frothline.readings.overview.overview", slow)
    looks, viewer = RecordingLooks(), viewed(f"::{folder / NAME}.froth")
    said(looks, seen, viewer, nothing_recorded())
    assert half.wait(60)
    meanwhile = said(looks, seen, viewer, nothing_recorded())
    assert "42 %" in meanwhile["words"]
    assert not meanwhile["figures"]
    go.set()
    assert "look" in answered(looks, seen, viewer)["figures"]


def test_a_damaged_recording_says_why_and_a_wrong_part_too(seen, folder, tmp_path):
    path = tmp_path / "torn.froth"
    path.write_bytes(b"\x07nothing that was ever sent")
    torn = replace(seen.entries[0], path=str(path), name="torn")
    shown = answered(RecordingLooks(), replace(seen, entries=(torn,)), viewed(f"::{path}"))
    assert "no valid data" in shown["words"]
    shown = answered(RecordingLooks(), seen, viewed(f"900:1000:{folder / NAME}.froth"))
    assert "begins at 15:00, and the recording ends at 0:41" in shown["words"]
    assert "All of it" in shown["words"]


def test_each_readable_recording_has_a_link_to_its_chart(seen, folder):
    unreadable = replace(seen.entries[0], path="/x.froth", name="x", state="unreadable")
    body = recordings.recordings(replace(seen, entries=(seen.entries[0], unreadable)), "", "", "metric")
    words = " ".join(words_of(one) for one in body if one is not None)
    assert words.count(labels.LOOK_AT) == 1
    assert f"'data-also': 'look:0::{folder / NAME}.froth'" in str(body)


def test_a_break_is_a_gap_of_the_line_and_empty_stretches_are_not(tmp_path):
    stream = BoardStream()
    parts = [stream.description(), stream.seconds(4)]
    stream.tick += 4 * TICK_HZ
    path = tmp_path / "a.froth"
    path.write_bytes(b"".join([*parts, stream.seconds(4)]))
    frame = overview(path, points=3000)  # four stretches a sample
    low = frame["line_pressure_low"].to_numpy()
    time, shown, _ = without_empty(frame["time"].to_numpy(), low, low)
    (gap,) = np.flatnonzero(np.isnan(shown))
    assert shown.size == np.isfinite(low).sum() + 1
    assert 3.9 < time[gap] < 8.1
    assert (np.diff(time) > 0).all()


@pytest.mark.parametrize(
    ("width", "unit"), [(180.0, (1.0, "s")), (181.0, (60.0, "min")), (7200.0, (60.0, "min")), (7201.0, (3600.0, "h"))]
)
def test_the_time_axis_has_the_unit_of_the_part(width, unit):
    frame = SimpleNamespace(attrs={"stretch": width / 10}, __len__=lambda: 10)
    frame = type("Frame", (), {"attrs": frame.attrs, "__len__": lambda _: 10})()
    assert look_chart.time_unit(frame) == unit


# --- in the browser ---------------------------------------------------------------------------------------------------


@pytest.fixture
def bench(folder, tmp_path):
    from fake_session import FakeSession

    here = tmp_path / "mine"
    shutil.copytree(folder, here)
    return FakeSession(here)


@pytest.mark.browser
def test_a_recording_is_opened_and_looked_at_closer_by_drag_and_buttons(look):
    window = look().open("notebook")
    page = window.page
    page.locator("[data-rows=recordings] a", has_text="Look at it").click()
    window.charted("look")
    page.wait_for_selector("text=From 0:00.00 to 0:41.95 of 0:41.95")
    figures = page.locator("[data-rows=look] tbody").text_content()
    whole = page.evaluate("document.querySelector('#look > div').layout.xaxis.range")
    page.get_by_role("button", name="Shorter").click()
    page.wait_for_selector("text=From 0:10.49 to 0:31.46 of 0:41.95")
    window.page.wait_for_function(f"document.querySelector('#look > div').layout.xaxis.range[0] > {whole[0]} + 10")
    assert page.locator("[data-rows=look] tbody").text_content() != figures
    box = page.locator("#look .nsewdrag").first.bounding_box()
    page.mouse.move(box["x"] + box["width"] * 0.25, box["y"] + 40)
    page.mouse.down()
    page.mouse.move(box["x"] + box["width"] * 0.5, box["y"] + 40, steps=6)
    page.mouse.up()
    # a quarter of the 20.98 s that are drawn, from a quarter on: 15.7 to 21.0 s, within a pixel or two
    page.wait_for_selector("text=/From 0:15\\.[67]\\d to 0:(20\\.9|21\\.0)\\d of/")
    page.get_by_role("button", name="Later").click()
    page.wait_for_selector("text=/From 0:18\\.[34]\\d to 0:23\\.[56]\\d of/")
    page.wait_for_function("document.querySelector('#look > div').layout.xaxis.range[0] > 18.2")
    page.get_by_role("button", name="All of it").click()
    page.wait_for_function(f"document.querySelector('#look > div').layout.xaxis.range[0] === {whole[0]}")
    assert page.locator("[data-rows=look] tbody").text_content() == figures
    assert Path(window.page.url).name.startswith("notebook")
    # a chart that changes while nobody can see it is sent once, and drawn when it is seen, as in a part that is opened
    page.evaluate("document.querySelector('.look-chart').style.display = 'none'")
    page.locator("#units").click()
    page.wait_for_function("frothline.viewer.have.look && frothline.viewer.have.look.includes('inch-pound')")
    assert "kPa" in page.evaluate("document.querySelector('#look > div').layout.annotations[0].text")
    page.evaluate("document.querySelector('.look-chart').style.display = ''; frothlineCharts.resize()")
    page.wait_for_function("document.querySelector('#look > div').layout.annotations[0].text.includes('inH₂O')")
