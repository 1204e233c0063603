"""The guided sweep, worked by hands of several kinds on blowers that the test makes up: p = p0 (1 - (q/q0)^2) less a spool loss."""

import math

import numpy as np
import pytest

from frothline.bench.places import Place, Reading, widest_gap
from frothline.bench.sweep import PHASES, WORDS, SweepGuide, missing_words

STEP = 0.1  # s between readings
SETTLING = 3.0  # s of stillness until the reading counts as steady, as the steady-state test needs


class Bench:
    """A throttle, a blower and a clock; ``opening`` 0 shut to 1 open."""

    def __init__(self, shut_off=20e3, free=0.06, end=0.0):
        self.shut_off, self.free, self.end = shut_off, free, end
        self.guide = SweepGuide()
        self.time, self.opening, self.still, self.said = 0.0, 0.5, 0.0, []

    def look(self, *, moving=False, known=True):
        self.still = 0.0 if moving else self.still + STEP
        self.time += STEP
        # the throttle works on flow: shut gives none, open gives as much as the spool lets through
        flow = self.free * math.sqrt(1 - self.end) * self.opening
        pressure = self.shut_off * (1 - (flow / self.free) ** 2)
        progress = min(1.0, self.still / SETTLING)
        state = "steady" if progress >= 1 else "settling" if self.still > 0.5 else "unsteady"
        if not known:
            flow = math.nan
        said = self.guide.feed(Reading(self.time, pressure, flow, state, progress))
        if not self.said or self.said[-1] != said.phase:
            self.said.append(said.phase)
        return said

    def move(self, target, seconds=1.0):
        start, steps = self.opening, max(1, round(seconds / STEP))
        for k in range(steps):
            self.opening = start + (target - start) * (k + 1) / steps
            self.look(moving=True)


def obedient(bench, step=0.11, limit=400.0):
    """A hand that does what it is told, slowly."""
    said = bench.look()
    while not said.done and bench.time < limit:
        if said.phase == "close":
            bench.move(max(0.0, bench.opening - 0.25))
        elif said.phase == "open":
            bench.move(min(1.0, bench.opening + step))
        elif said.phase == "open_fully":
            bench.move(1.0)
        elif said.phase == "go_back":
            way = 0.04 if said.instruction == "open a little" else -0.04
            bench.move(min(1.0, max(0.0, bench.opening + way)), 0.5)
        said = bench.look()
    return said


@pytest.mark.parametrize("shut_off", [2e3, 20e3])
@pytest.mark.parametrize("free", [0.01, 0.06])
@pytest.mark.parametrize("end", [0.0, 0.2])  # pressure over that at shut-off when the throttle is all open
def test_an_obedient_hand_is_led_from_shut_off_to_free_delivery(shut_off, free, end):
    bench = Bench(shut_off, free, end)
    said = obedient(bench)
    assert said.done
    assert said.missing == ()
    flows = [place.flow for place in bench.guide.places]
    assert min(flows) < 0.05 * free
    assert max(flows) == pytest.approx(free * math.sqrt(1 - end), rel=0.02)
    assert 6 <= len(flows) <= 14
    assert bench.time < 120  # s: the source is not to be throttled for longer than it takes


def test_the_first_words_are_to_close_fully_and_the_last_are_done():
    bench = Bench()
    assert bench.look().instruction == "close fully"
    obedient(bench)
    assert bench.said[0] == "close"
    assert bench.said[-2:] == ["steady", "done"]
    assert set(bench.said) <= set(PHASES) == set(WORDS)


def test_while_the_reading_settles_it_says_hold_and_the_bar_fills():
    bench = Bench()
    bench.move(0.0)
    shown = [bench.look() for _ in range(25)]
    assert {one.instruction for one in shown} == {"hold"}
    progress = [one.progress for one in shown]
    assert progress == sorted(progress)
    assert progress[-1] > 0.7


def test_a_move_that_is_too_small_is_not_a_new_place():
    bench = Bench()
    bench.move(0.0)
    while bench.look().phase != "open":
        assert bench.time < 100
    bench.move(0.02)
    for _ in range(80):
        said = bench.look()
    assert said.phase == "open"
    assert "nothing has changed" in said.why
    assert len(bench.guide.places) == 1


def test_closing_instead_of_opening_is_said_and_not_taken():
    bench = Bench()
    bench.move(0.0)
    while bench.look().phase != "open":
        assert bench.time < 100
    bench.move(0.4)
    while bench.look().phase != "open":
        assert bench.time < 100
    taken = len(bench.guide.places)
    bench.move(0.2)
    assert "closed it" in bench.look().why
    for _ in range(60):
        bench.look()
    assert len(bench.guide.places) == taken


def test_a_hand_that_opens_in_two_jumps_is_sent_back_to_the_gap():
    bench = Bench()
    said = obedient(bench, step=0.5)
    assert "go_back" in bench.said
    assert said.done
    assert widest_gap(bench.guide.places, 0.4) is None


def test_a_gap_is_given_as_a_range_of_pressure_while_it_is_asked_for():
    bench = Bench()
    bench.move(0.0)
    said = bench.look()
    while said.phase != "go_back" and bench.time < 200:
        if said.phase == "open":
            bench.move(min(1.0, bench.opening + 0.5))
        elif said.phase == "open_fully":
            bench.move(1.0)
        said = bench.look()
    lower, upper = said.gap
    pressures = [place.pressure for place in bench.guide.places]
    assert {lower, upper} <= set(pressures)
    assert not [one for one in pressures if lower < one < upper]


def test_a_hand_that_closes_beyond_the_gap_is_told_to_open_again():
    bench = Bench()
    bench.move(0.0)
    said = bench.look()
    while said.phase != "go_back" and bench.time < 200:
        if said.phase == "open":
            bench.move(min(1.0, bench.opening + 0.5))
        said = bench.look()
    assert said.instruction == "close a little"
    bench.opening = 0.1  # in one go, right past it
    said = bench.look(moving=True)
    assert said.phase == "go_back"
    assert said.instruction == "open a little"


def test_a_throttle_that_leaks_may_be_declared_closed_with_the_button():
    bench = Bench()
    bench.opening = 0.3  # it cannot be closed further
    for _ in range(70):
        said = bench.look()
    assert said.phase == "close"
    assert "press the button" in said.why
    bench.guide.button()
    assert bench.look().phase == "hold"


def test_open_all_the_way_may_be_declared_with_the_button_before_all_places_are_taken():
    bench = Bench(end=0.5)  # the spool lets through only so much: no further opening changes anything
    bench.move(0.0)
    said = bench.look()
    while not said.done and bench.time < 300:
        if said.phase in {"open", "open_fully"}:
            if bench.opening < 1:
                bench.move(min(1.0, bench.opening + 0.2))
            else:
                bench.guide.button()
        elif said.phase == "go_back":
            bench.move(max(0.0, bench.opening - 0.04), 0.5)
        said = bench.look()
    assert said.done
    assert len(bench.guide.places) < 10


def test_a_hand_that_is_open_all_the_way_already_need_not_press_anything():
    bench = Bench(end=0.3)
    bench.move(0.0)
    said = bench.look()
    while said.phase != "open_fully" and bench.time < 200:
        if said.phase == "open":
            bench.move(min(1.0, bench.opening + 0.11))
        said = bench.look()
    while said.phase == "open_fully" and bench.time < 300:
        said = bench.look()
    assert bench.opening == 1.0 or said.phase == "steady"
    assert said.why == "taken as open all the way"


def test_a_link_that_is_lost_pauses_the_sweep_and_says_what_is_waited_for():
    bench = Bench()
    bench.move(0.0)
    before = bench.guide.phase
    said = bench.look(known=False)
    assert said.phase == before
    assert said.why == "waiting for pressure and flow"
    assert obedient(bench).done


@pytest.mark.parametrize(
    ("places", "words"),
    [
        ([], "no place"),
        ([(20e3, 0.0), (19e3, 0.01)], "only 2 places"),
        ([(12e3, 0.03), (8e3, 0.045), (4e3, 0.05), (2e3, 0.055), (0.0, 0.06)], "near shut-off"),
        ([(20e3, 0.0), (19e3, 0.01), (18e3, 0.02), (16e3, 0.025), (14e3, 0.03)], "near free delivery"),
        ([(20e3, 0.0), (19.5e3, 0.01), (19e3, 0.015), (4e3, 0.05), (0.0, 0.06)], "middle pressure"),
    ],
)
def test_what_is_missing_is_said_in_a_builder_s_words(places, words):
    found = missing_words([Place(*place) for place in places], 0.26)
    assert any(words in sentence for sentence in found), found


def test_evenly_spread_places_lack_nothing():
    flows = np.linspace(0, 0.06, 10)
    assert missing_words([Place(20e3 * (1 - (q / 0.06) ** 2), q) for q in flows], 0.26) == ()
