"""The guided calibration on the spool's page, and what looks wrong on the line: words first, then by click and key."""

import datetime as dt
import threading
import time

import pytest
from waiting import until

from frothline.bench import background
from frothline.bench.background import Background
from frothline.bench.calibration_state import CalibrationOverview
from frothline.errors import InputError
from frothline.sensors.calibration import CALIBRATED, WENT_BACK, Calibration, ChannelCalibration
from frothline.sensors.finding import Finding
from frothline.sensors.procedures.base import Question
from frothline.web import plausibility
from frothline.web.elements import block, node, words_of
from frothline.web.feed import Feed
from frothline.web.pages.spool.calibrated import age, head, history, procedures
from frothline.web.pages.spool.calibration import read_answers
from frothline.web.viewer import Viewer

HEIGHT = Question("height", "height difference of the two levels", "length", -0.05, 6.0)
WARMTH = Question("water_temperature", "temperature of the water", "temperature", 274.15, 313.15, 293.15)
TODAY = dt.date(2026, 5, 20)
BLOCKED = Finding("tap-blocked", "warning", "pressure", "the pressure stood", "Blow the hose through")


def test_what_is_typed_is_read_in_the_readers_units():
    assert read_answers((HEIGHT,), {"height": "250", "system": "metric"}) == {"height": pytest.approx(0.25)}
    # 1 in is 25.4 mm by definition; 68 °F are 20 °C
    inches = read_answers((HEIGHT, WARMTH), {"height": "10", "water_temperature": "68", "system": "inch-pound"})
    assert inches == {"height": pytest.approx(0.254), "water_temperature": pytest.approx(293.15)}


def test_a_comma_for_a_point_a_long_minus_and_what_is_usual_are_understood():
    found = read_answers((HEIGHT, WARMTH), {"height": " −2,5 "})
    assert found == {"height": pytest.approx(-0.0025), "water_temperature": 293.15}


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ("", "enter the "),
        ("a lot", "is not a length"),
        ("7000", "7000 mm is outside -50 to 6000 mm"),
        ("nan", "is not a length"),
    ],
)
def test_a_figure_that_cannot_be_is_refused_in_the_unit_it_was_typed_in(typed, said):
    with pytest.raises(InputError, match=said):
        read_answers((HEIGHT,), {"height": typed})


@pytest.mark.parametrize(
    ("date", "words"),
    [
        ("2026-05-20", "today"),
        ("2026-05-19", "1 day"),
        ("2026-04-20", "30 days"),
        ("2025-11-20", "6 months"),
        ("2024-05-20", "2 years: calibrate again"),
        ("2020-05-20", "6 years: calibrate again"),
        ("2026-06-01", "date in the future: check this computer's clock"),
        ("spring", ""),
    ],
)
def test_the_age_of_a_calibration_in_words(date, words):
    assert age(date, TODAY) == words


def line(channel, board="bench 1", **more):
    import numpy as np

    return ChannelCalibration(channel, "ratio", "Pa", np.zeros(2), np.zeros((2, 2)), 0, 1, board=board, **more)


def shown(known):
    """All words of the calibrations on the spool page."""
    pieces = (*head(known, None, "metric", TODAY), *procedures(known, None), *history(known, "metric"))
    return " ".join(words_of(piece) for piece in pieces if piece)


def test_calibrations_are_listed_with_date_age_hand_and_board_and_their_warnings():
    known = CalibrationOverview(
        Calibration("bench 1", {"pressure": line("pressure", "bench 7", date="2026-05-02", who="the builder")}),
        "calibration.toml",
        "bench 1",
        ("pressure", "supply"),
        (Finding("calibration-other-board", "warning", "pressure", "made on another board", "Calibrate this one"),),
        "",
    )
    words = shown(known)
    assert "calibrated 2026-05-02 (18 days) by the builder" in words
    assert "for board bench 7: not this board, not used" in words
    assert "Made on another board." in words
    assert "Pressure against a water manometer" in words
    assert "Zero the pressure at the tap" in words
    assert "bag of known volume" not in words  # there is no anemometer on this rig


def test_a_channel_that_had_another_calibration_has_a_button_to_take_it_back():
    twice = Calibration("bench 1").with_channel(line("pressure", date="2026-05-01"))
    known = CalibrationOverview(twice, "calibration.toml", "bench 1", ("pressure",), (), "")
    words = shown(known)
    assert "Use previous: pressure at the tap" in words
    back = CalibrationOverview(twice.taken_back("pressure"), "calibration.toml", "bench 1", ("pressure",), (), "")
    words = shown(back)
    assert "data sheet" in words
    assert "Use previous: pressure at the tap" in words


def test_the_state_of_a_calibration_has_points_residuals_and_the_board_it_is_for():
    made = line("pressure", date="2026-05-02", who="the yard", residuals=(3.0, -12.0), points=((0.1, 0, 500, 1),) * 4)
    known = CalibrationOverview(Calibration("bench 1").with_channel(made), "c.toml", "bench 1", ("pressure",), (), "")
    words = " ".join(words_of(piece) for piece in head(known, None, "metric", TODAY) if piece)
    assert "4 points; residuals up to 0.012 kPa; for board bench 1" in words


def test_the_history_lists_every_change_the_newest_first_and_one_of_an_older_file_too():
    first = line("pressure", date="2026-05-01", who="the yard")
    calibration = Calibration("bench 1").with_channel(first)  # as an older version wrote it: without a history
    known = CalibrationOverview(calibration, "c.toml", "bench 1", ("pressure",), (), "")
    assert "2026-05-01 pressure at the tap calibrated the yard" in " ".join(shown(known).split())
    noted = calibration.noted("pressure", CALIBRATED, "2026-05-01 10:00")
    again = noted.with_channel(line("pressure", date="2026-05-09", who="a guest")).noted(
        "pressure", CALIBRATED, "2026-05-09 09:00"
    )
    back = again.taken_back("pressure").noted("pressure", WENT_BACK, "2026-05-10 08:00")
    known = CalibrationOverview(back, "c.toml", "bench 1", ("pressure",), (), "")
    words = " ".join(" ".join(words_of(piece) for piece in history(known, "metric")).split())
    order = ["previous one in use again (of 2026-05-01)", "2026-05-09 09:00", "2026-05-01 10:00"]
    assert [words.index(one) for one in order] == sorted(words.index(one) for one in order)
    assert "Use previous: pressure at the tap (of 2026-05-09, a guest)" in shown(known)


def test_a_fault_is_marked_at_its_place_once_and_named_on_the_page():
    marks = plausibility.faults((BLOCKED, BLOCKED))
    assert [(mark.place, mark.word) for mark in marks] == [("tap", "blocked?")]
    assert plausibility.faults((BLOCKED,), marks) == ()
    said = " ".join(words_of(part) for part in plausibility.pieces((BLOCKED,)))
    assert "At the pressure tap: the pressure stood. Blow the hose through." in " ".join(said.split())


def test_every_finding_that_the_rules_can_make_has_a_place_on_the_line():
    import re
    from pathlib import Path

    from frothline.sensors import plausibility as sensors_plausibility

    files = Path(sensors_plausibility.__file__).parent.glob("*plausibility.py")
    text = "".join(file.read_text("utf-8") for file in files)
    codes = set(re.findall(r'"((?:supply|flow|pressure|channels|tap|rotor|sensor|sweep)-[a-z-]+)"', text))
    assert len(codes) > 10
    assert codes - set(plausibility.WORDS) == {"sweep-short", "sweep-one-end"}  # advice, told on the page only


def test_the_line_and_the_phone_say_what_looks_wrong(bench):
    bench.found = (BLOCKED,)
    bench._began -= 20
    feed = Feed(bench)
    feed.update(Viewer(), 1)
    while feed.findings.working:
        time.sleep(0.01)
    message = feed.update(Viewer(), 2)
    assert message["texts"]["fault-tap"] == "blocked?"
    assert message["texts"]["strip"].endswith("blocked? at the pressure tap")
    assert "What looks wrong" in words_of(["div", {}, *message["blocks"]["findings"]["body"]])
    bench.unplug()
    feed._taken = -1e9
    assert feed.update(Viewer(), 3)["texts"]["fault-tap"] == ""  # nothing is known while nothing comes


def test_a_block_goes_out_once_and_again_when_it_says_something_new():
    first = block([node("p", "one", class_="small")])
    assert first["body"] == [["p", {"class": "small"}, "one"]]
    assert "body" not in block([node("p", "one", class_="small")], first["key"])
    assert "body" in block([node("p", "two", class_="small")], first["key"])


def test_what_is_slow_is_found_once_however_many_ask_and_an_error_keeps_what_was_known():
    clock, found = [0.0], []

    def find():
        found.append(1)
        if len(found) == 2:
            raise ValueError("no")
        return len(found)

    slow = Background(find, 0, 5.0, clock=lambda: clock[0])

    def settled():
        for _ in range(20):
            slow.look()
        while slow.working:
            time.sleep(0.001)
        return slow.look()

    assert settled() == 1
    assert len(found) == 1
    clock[0] = 6.0
    assert settled() == 1
    clock[0] = 12.0
    assert settled() == 3


def test_a_thread_that_found_something_finds_the_next_and_ends_when_nobody_asks(monkeypatch):
    """Each new thread opens a connection to the port's process of its own."""
    clock, threads = [0.0], []
    slow = Background(lambda: threads.append(threading.current_thread()), None, 0.3, clock=lambda: clock[0])
    for turn in range(4):
        clock[0] = float(turn)
        slow.look()
        until(lambda: not slow.working)
    assert len(set(threads)) == 1
    assert len(threads) == 4
    monkeypatch.setattr(background, "LINGERS", 0.0)
    clock[0] = 9.0
    slow.look()
    until(lambda: not threads[0].is_alive())
    clock[0] = 10.0
    slow.look()
    until(lambda: len(threads) == 6)
    assert threads[5] is not threads[0]


# --- in the browser ---------------------------------------------------------------------------------------------------


def take(window, bench, number, opening):
    """One point of the U-tube: 9777.3 Pa for each metre of water at 20 °C."""
    from fake_session import truth

    bench.move(opening)
    time.sleep(0.6)  # the stand-in's throttle takes 0.4 s
    page = window.page
    page.wait_for_selector(f"#calibrate-height-{number}")
    bench.calibrating()._procedure.hold_seconds = 0.6
    assert page.evaluate("document.activeElement.id") == f"calibrate-height-{number}"
    page.keyboard.type(f"{truth(opening)[0] / 9777.3 * 1000:.1f}")
    page.keyboard.press("Enter")
    page.wait_for_selector("#calibrate-again")


@pytest.mark.browser
@pytest.mark.exhaustive
def test_a_whole_calibration_by_keys_is_kept_with_its_residuals(look, bench):
    window = look().open("spool")
    page = window.page
    page.wait_for_selector("#calibrate-who")
    page.locator("#calibrate-who").fill("the builder")
    page.get_by_role("button", name="Pressure against a water manometer").press("Enter")
    page.wait_for_selector("#calibration .instruction")
    assert page.evaluate("document.querySelector('header').inert")
    for number, opening in enumerate((1.0, 0.7, 0.4, 0.1)):
        take(window, bench, number, opening)
        if number < 3:
            assert page.evaluate("document.activeElement.id") == "calibrate-again"
            page.keyboard.press("Enter")
    assert page.locator("[data-rows=calibration] tbody tr").count() == 4
    page.locator("#calibrate-finish").press("Enter")
    page.wait_for_selector("#calibrate-leave")
    assert "too few to detect a curve" in page.locator("#calibration .why").first.text_content()
    residuals = page.locator("[data-rows=calibration] td:last-child").all_text_contents()
    assert all(abs(float(text.split()[0].replace("−", "-"))) < 0.02 for text in residuals)  # kPa
    page.keyboard.press("Enter")
    page.wait_for_selector("[data-rows=calibrations]")
    state = page.locator(".calibrated").text_content()
    assert "(today) by the builder" in state
    assert "4 points; residuals up to" in state
    assert "the builder" in page.locator("[data-rows=calibrations] tbody tr").text_content()
    page.get_by_role("button", name="Use previous: pressure at the tap (data sheet)").click()
    page.wait_for_selector("text=previous calibration not in use")
    assert "previous one in use again" in page.locator("[data-rows=calibrations] tbody tr").first.text_content()
    assert not page.evaluate("document.querySelector('header').inert")
    assert (bench.folder / "calibration.toml").exists()


@pytest.mark.browser
@pytest.mark.exhaustive
def test_only_who_began_it_is_shown_the_large_page_and_anyone_may_end_it(look, bench):
    begins, other = look().open("spool"), look(width=390, height=844).open("spool")
    begins.page.get_by_role("button", name="Supply voltage against").click()
    begins.page.wait_for_selector("#calibration .instruction")
    other.page.wait_for_selector("text=A calibration is under way")
    assert other.page.evaluate("document.documentElement.scrollHeight") <= 3 * 844  # before a part is opened
    assert other.page.locator("#calibration").is_hidden()
    other.page.get_by_role("button", name="Show full-screen").click()
    other.page.wait_for_selector("#calibration .instruction")
    assert other.page.evaluate("document.documentElement.scrollWidth") <= 390
    other.page.get_by_role("button", name="Cancel calibration").click()
    begins.page.wait_for_selector("#calibration", state="hidden")
    assert bench.calibrating().state() is None
    assert not (bench.folder / "calibration.toml").exists()


@pytest.mark.browser
@pytest.mark.exhaustive
def test_a_figure_beyond_reason_is_answered_and_what_was_typed_stays(look):
    window = look().open("spool")
    page = window.page
    page.get_by_role("button", name="Pressure against a water manometer").click()
    page.wait_for_selector("#calibrate-height-0")
    page.locator("#calibrate-height-0").fill("9000")
    page.keyboard.press("Enter")
    page.wait_for_function("document.getElementById('said').textContent.includes('9000 mm is outside')")
    window.drawn(10)
    assert page.locator("#calibrate-height-0").input_value() == "9000 mm"


@pytest.mark.browser
@pytest.mark.exhaustive
def test_a_filling_is_ended_by_the_large_button_and_its_seconds_run(look, bench):
    window = look().open("spool")
    page = window.page
    page.get_by_role("button", name="Flow against a bag").click()
    page.wait_for_selector("#calibrate-volume-0")
    page.locator("#calibrate-volume-0").fill("60")
    page.locator("#calibrate-pulses-0").fill("4")
    page.keyboard.press("Enter")
    page.wait_for_selector("#calibrate-stop")
    window.wait_text("calibration-seconds", "0:02")
    page.locator("#calibrate-stop").click()
    page.wait_for_selector("#calibrate-again")
    assert len(bench.calibrating().state().points) == 1


@pytest.mark.browser
def test_nothing_of_a_name_can_become_an_element_of_the_page(look, bench):
    bench.found = (
        Finding("tap-blocked", "warning", "pressure", "<img src=x onerror=alert(1)>", "<script>alert(2)</script>"),
    )
    window = look().open()
    window.page.wait_for_selector(".findings li")
    assert "<img src=x" in window.page.locator(".findings li").text_content()
    assert window.page.locator(".findings img, .findings script").count() == 0
