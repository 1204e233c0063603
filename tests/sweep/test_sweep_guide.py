"""The guided sweep, worked by hands of several kinds on blowers that the test makes up: p = p0 (1 - (q/q0)^2) less a spool loss."""

import itertools
import math

import numpy as np
import pytest

from frothline.sweep.guide import CapturedPoint, GuideReading, next_target, way_along, widest_gap
from frothline.sweep.source_guide import PHASES, WORDS, SourceSweepGuide, missing_words

STEP = 0.1  # s between readings
SETTLING = 3.0  # s of stillness until the reading counts as steady, as the steady-state test needs


class Bench:
    """A throttle, a blower and a clock; ``opening`` 0 shut to 1 open."""

    def __init__(self, shut_off=20e3, free=0.06, end=0.0):
        self.shut_off, self.free, self.end = shut_off, free, end
        self.guide = SourceSweepGuide()
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
        said = self.guide.feed(GuideReading(self.time, pressure, flow, state, progress))
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
            way = 0.04 if said.instruction == "open slightly" else -0.04
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
    flows = [point.flow for point in bench.guide.captured]
    assert min(flows) < 0.05 * free
    assert max(flows) == pytest.approx(free * math.sqrt(1 - end), rel=0.02)
    assert 6 <= len(flows) <= 14
    assert bench.time < 120  # s: the source is not to be throttled for longer than it takes


def test_the_first_words_are_to_close_fully_and_the_last_are_done():
    bench = Bench()
    assert bench.look().instruction == "close the throttle"
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


def test_a_move_that_is_too_small_is_not_a_new_point():
    bench = Bench()
    bench.move(0.0)
    while bench.look().phase != "open":
        assert bench.time < 100
    bench.move(0.02)
    for _ in range(80):
        said = bench.look()
    assert said.phase == "open"
    assert "nothing has changed" in said.why
    assert len(bench.guide.captured) == 1


def test_closing_instead_of_opening_is_said_and_not_taken():
    bench = Bench()
    bench.move(0.0)
    while bench.look().phase != "open":
        assert bench.time < 100
    bench.move(0.4)
    while bench.look().phase != "open":
        assert bench.time < 100
    taken = len(bench.guide.captured)
    bench.move(0.2)
    assert "closed it" in bench.look().why
    for _ in range(60):
        bench.look()
    assert len(bench.guide.captured) == taken


def test_a_hand_that_opens_in_two_jumps_is_sent_back_to_the_gap():
    bench = Bench()
    said = obedient(bench, step=0.5)
    assert "go_back" in bench.said
    assert said.done
    assert widest_gap(bench.guide.captured, 0.4) is None


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
    pressures = [point.pressure for point in bench.guide.captured]
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
    assert said.instruction == "close slightly"
    bench.opening = 0.1  # in one go, right past it
    said = bench.look(moving=True)
    assert said.phase == "go_back"
    assert said.instruction == "open slightly"


def test_a_throttle_that_leaks_may_be_declared_closed_with_the_button():
    bench = Bench()
    bench.opening = 1.0
    for _ in range(10):
        bench.look()
    bench.opening = 0.2  # it cannot be closed further
    for _ in range(70):
        said = bench.look()
    assert said.phase == "close"
    assert "press the button" in said.why
    bench.guide.button()
    assert bench.look().phase == "hold"


def test_open_all_the_way_may_be_declared_with_the_button_before_all_points_are_taken():
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
    assert len(bench.guide.captured) < 10


def test_a_hand_that_is_open_all_the_way_already_need_not_press_anything():
    bench = Bench(end=0.3)
    bench.move(0.0)
    said = bench.look()
    while said.phase != "open_fully" and bench.time < 200:
        if said.phase == "open":
            bench.move(min(1.0, bench.opening + 0.11))
            for _ in range(45):  # this hand stops after each turn
                said = bench.look()
        said = bench.look()
    while said.phase == "open_fully" and bench.time < 300:
        said = bench.look()
    assert bench.opening == 1.0 or said.phase == "steady"
    assert said.why == "taken as fully open"


def test_a_link_that_is_lost_pauses_the_sweep_and_says_what_is_waited_for():
    bench = Bench()
    bench.move(0.0)
    before = bench.guide.phase
    said = bench.look(known=False)
    assert said.phase == before
    assert said.why == "waiting for pressure and flow"
    assert obedient(bench).done


@pytest.mark.parametrize(
    ("points", "words"),
    [
        ([], "no point"),
        ([(20e3, 0.0), (19e3, 0.01)], "only 2 points"),
        ([(12e3, 0.03), (8e3, 0.045), (4e3, 0.05), (2e3, 0.055), (0.0, 0.06)], "near shut-off"),
        ([(20e3, 0.0), (19e3, 0.01), (18e3, 0.02), (16e3, 0.025), (14e3, 0.03)], "near free delivery"),
        ([(20e3, 0.0), (19.5e3, 0.01), (19e3, 0.015), (4e3, 0.05), (0.0, 0.06)], "middle pressure"),
    ],
)
def test_what_is_missing_is_said_in_a_builder_s_words(points, words):
    found = missing_words([CapturedPoint(*point) for point in points], 0.26)
    assert any(words in sentence for sentence in found), found


def test_evenly_spread_points_lack_nothing():
    flows = np.linspace(0, 0.06, 10)
    assert missing_words([CapturedPoint(20e3 * (1 - (q / 0.06) ** 2), q) for q in flows], 0.26) == ()


# --- presses that the readings contradict -------------------------------------------------------------------------------


class Elements(Bench):
    """The same bench with flow elements that err: ``offset`` m3/s is read with no flow, ``u`` is its uncertainty."""

    def __init__(self, *, offset=0.0, u=0.0, leak=0.0, **more):
        super().__init__(**more)
        self.offset, self.u, self.leak = offset, u, leak

    def look(self, *, moving=False, known=True, reason=""):
        self.still = 0.0 if moving else self.still + STEP
        self.time += STEP
        flow = self.free * math.sqrt(1 - self.end) * max(self.opening, self.leak)
        pressure = self.shut_off * (1 - (flow / self.free) ** 2)
        progress = min(1.0, self.still / SETTLING)
        state = "steady" if progress >= 1 else "settling" if self.still > 0.5 else "unsteady"
        read = math.hypot(flow, self.offset) if known else math.nan  # as the root of a difference with an offset adds
        said = self.guide.feed(GuideReading(self.time, pressure, read, state, progress, reason, self.u))
        if not self.said or self.said[-1] != said.phase:
            self.said.append(said.phase)
        return said

    def waits(self, seconds):
        for _ in range(round(seconds / STEP)):
            said = self.look()
        return said


ROTOR, THERMAL = {"u": 3e-4}, {"u": 1.5e-3, "offset": 1e-3}
# MPXV7002, +-100 Pa (2.5 % of 4 kPa, NXP data sheet) never zeroed, on an orifice that gives 2 kPa at full air: the root
# of 100/2000 is 22 % of full air, read with no flow at all.
DIFFERENTIAL = {"u": 0.2 * 0.06, "offset": 0.22 * 0.06}


@pytest.mark.parametrize("element", [ROTOR, THERMAL, DIFFERENTIAL])
@pytest.mark.parametrize("shut_off", [2e3, 6.7e3, 30e3])  # a pressure sensor that was never calibrated changes nothing
def test_it_is_closed_is_refused_while_full_air_flows(element, shut_off):
    bench = Elements(shut_off=shut_off, **element)
    bench.opening = 1.0
    bench.waits(3.0)
    bench.guide.button()
    said = bench.look()
    assert said.phase == "close"
    assert bench.guide.captured == []
    assert "air still flows, 100 % of the most so far" in said.why
    assert "open it fully once" in said.why  # how to go on
    said = bench.waits(30.0)
    assert said.phase == "close"
    assert bench.guide.captured == []


def test_a_flow_element_that_is_off_by_a_third_of_what_it_reads_does_not_make_half_open_closed():
    """A thermal module by its data sheet alone: 30 % of the reading, which no closed throttle is taken for."""
    bench = Elements(u=0.3 * 0.06)
    bench.opening = 1.0
    bench.waits(2.0)
    bench.move(0.5)
    bench.guide.button()
    assert bench.look().phase == "close"
    bench.move(0.0)
    bench.guide.button()
    assert bench.look().phase == "hold"


@pytest.mark.parametrize("element", [ROTOR, THERMAL, DIFFERENTIAL])
def test_a_closed_throttle_is_taken_with_any_flow_element(element):
    bench = Elements(**element)
    bench.opening = 1.0
    bench.waits(2.0)
    bench.move(0.0)
    bench.guide.button()
    assert bench.look().phase == "hold"
    bench.waits(4.0)
    assert len(bench.guide.captured) == 1
    assert bench.guide.captured[0].pressure > 0.99 * bench.shut_off


def test_why_a_press_was_refused_can_be_read_for_some_seconds_and_then_goes():
    bench = Elements(**ROTOR)
    bench.opening = 0.8
    bench.waits(1.0)
    bench.guide.button()
    assert "not taken" in bench.look().why
    assert "not taken" in bench.waits(5.0).why
    assert "not taken" not in bench.waits(5.0).why


def test_a_leak_that_looks_like_full_air_is_taken_once_full_air_was_seen():
    bench = Elements(leak=0.2, **ROTOR)
    bench.opening = 0.0
    bench.waits(2.0)
    bench.guide.button()
    assert bench.look().phase == "close"  # the leak is all the air that was ever seen
    bench.move(1.0)
    bench.waits(1.0)
    bench.move(0.0)
    bench.guide.button()
    assert bench.look().phase == "hold"


def test_one_false_reading_does_not_make_full_air_look_like_a_leak():
    bench = Elements(**ROTOR)
    bench.opening = 1.0
    bench.waits(2.0)
    bench.guide.feed(GuideReading(bench.time + 0.05, 1e3, 9.0, "unsteady", 0.0))  # 9 m3/s for one reading
    bench.guide.button()
    assert bench.look().phase == "close"


def test_a_throttle_that_is_opened_again_while_it_holds_gives_no_shut_off_point():
    bench = Elements(**ROTOR)
    bench.opening = 1.0
    bench.waits(1.0)
    bench.move(0.0)
    assert bench.look().phase == "hold"
    bench.move(1.0)
    said = bench.waits(6.0)
    assert said.phase == "close"
    assert bench.guide.captured == []


def test_a_press_while_the_flow_is_not_known_is_refused_and_says_what_is_missing():
    bench = Elements(**ROTOR)
    bench.move(0.6)
    bench.guide.button()
    said = bench.look(known=False, reason="the flow is not known: the anemometer is silent")
    assert said.phase == "close"
    assert said.why == (
        "not taken: the flow is not known: the anemometer is silent. Press again when the reading is back"
    )
    bench.look()
    assert bench.guide.captured == []


def test_it_is_open_is_refused_while_no_air_flows():
    bench = Elements(**ROTOR)
    bench.move(0.0)
    while bench.look().phase != "open":
        assert bench.time < 100
    bench.guide.button()
    said = bench.look()
    assert said.phase == "open"
    assert "no air flows" in said.why


def test_it_is_open_with_much_less_air_than_before_needs_a_second_press():
    bench = Elements(**ROTOR)
    bench.opening = 1.0
    bench.waits(2.0)
    bench.move(0.0)
    while bench.look().phase != "open":
        assert bench.time < 100
    bench.move(0.5)
    while bench.look().phase != "open":
        assert bench.time < 100
    bench.guide.button()
    said = bench.look()
    assert said.phase == "open"
    assert "50 % of the most air" in said.why
    bench.guide.button()
    assert bench.look().phase in {"hold", "steady"}


def test_a_source_that_was_switched_off_gives_no_point_at_no_flow_and_no_pressure():
    bench = Elements(**ROTOR)
    bench.move(0.0)
    said = bench.look()
    while said.phase != "open_fully" and bench.time < 200:
        if said.phase == "open":
            bench.move(min(1.0, bench.opening + 0.11))
        said = bench.look()
    taken = len(bench.guide.captured)
    bench.free = bench.shut_off = 1e-9
    said = bench.waits(10.0)
    assert len(bench.guide.captured) == taken
    assert "is the source on" in said.why


# --- a rotor that has given no pulse yet ---------------------------------------------------------------------------------


def test_a_rotor_without_a_pulse_is_let_turn_before_the_source_is_shut_off():
    guide = SourceSweepGuide()
    unseen = GuideReading(1.0, 19e3, math.nan, "unsteady", 0.0, "no pulse from the rotor", unseen=True)
    guide.button()
    said = guide.feed(unseen)
    assert said.phase == "close"
    assert said.instruction == "open until the rotor turns"
    assert "no pulse" in said.why
    assert guide.captured == []
    said = guide.feed(GuideReading(2.0, 15e3, 0.02, "unsteady", 0.0))
    assert said.instruction == "close the throttle"


# --- the target of the next point, and a point measured again -----------------------------------------------------------


def opened_slowly(bench, turn=0.01, limit=400.0):
    """A hand that reads the pressure and stops as soon as the guide says hold; gives the targets it was shown."""
    said, targets = bench.look(), []
    while not said.done and bench.time < limit:
        if said.target is not None and (not targets or targets[-1] != said.target):
            targets.append(said.target)
        if said.phase == "close":
            bench.move(0.0)
        elif said.phase == "open":
            bench.move(min(1.0, bench.opening + turn), 0.2)
        elif said.phase == "open_fully":
            bench.move(1.0)
        elif said.phase == "go_back":
            way = turn if said.pressure > said.target[1] else -turn
            bench.move(min(1.0, max(0.0, bench.opening + way)), 0.2)
        said = bench.look()
    return targets


@pytest.mark.parametrize("shut_off", [2e3, 20e3])
@pytest.mark.parametrize("end", [0.0, 0.2])
def test_a_hand_that_goes_to_each_target_gets_points_evenly_along_the_curve(shut_off, end):
    bench = Bench(shut_off=shut_off, end=end)
    targets = opened_slowly(bench)
    assert bench.guide.done
    points = sorted(bench.guide.captured, key=lambda point: point.flow)
    apart = [
        math.hypot((b.pressure - a.pressure) / shut_off, (b.flow - a.flow) / bench.free)
        for a, b in itertools.pairwise(points)
    ]
    assert max(apart) < 2.5 * np.median(apart)
    assert 8 <= len(points) <= 12
    assert bench.said.count("go_back") <= 1
    assert all(0 <= low < high < shut_off for low, high in targets)


def test_the_way_along_the_parabola_is_that_of_numerical_integration():
    """SciPy's quadrature of the arc length of p = q^2, general-purpose reference."""
    from scipy.integrate import quad

    whole = quad(lambda q: math.hypot(1.0, 2.0 * q), 0.0, 1.0)[0]
    for share in (0.0, 0.05, 0.3, 0.7, 1.0):
        part = quad(lambda q: math.hypot(1.0, 2.0 * q), 0.0, math.sqrt(share))[0]
        assert way_along(share) == pytest.approx(part / whole, abs=2e-4)
    near, far = next_target(0.0, 4, 0.25)  # the first of four steps
    assert way_along(near) == pytest.approx(0.75 / 4, abs=1e-6)
    assert way_along(far) == pytest.approx(1.25 / 4, abs=1e-6)


def test_the_first_target_is_a_little_below_shut_off_and_the_next_ones_fall():
    bench = Bench(shut_off=20e3)
    targets = opened_slowly(bench)
    asked = [target for target in targets if target[1] < 20e3]
    assert 0.93 * 20e3 < asked[0][1] < 20e3
    middles = [0.5 * sum(target) for target in asked[:6]]
    assert middles == sorted(middles, reverse=True)


def test_the_guide_waits_for_the_target_while_the_throttle_is_still_opened():
    bench = Bench()
    bench.move(0.0)
    while bench.look().phase != "open":
        assert bench.time < 100
    said = bench.look()
    low, high = said.target
    while said.phase == "open":
        bench.opening += 0.002
        said = bench.look(moving=True)
        assert bench.opening < 1.0
    assert bench.shut_off * (1 - bench.opening**2) <= high
    assert bench.shut_off * (1 - bench.opening**2) > low


def test_a_hand_that_stops_before_the_target_gets_its_point_where_it_stopped():
    bench = Bench()
    bench.move(0.0)
    while bench.look().phase != "open":
        assert bench.time < 100
    said = bench.look()
    bench.move(0.09)  # more than the smallest move, short of the target
    for _ in range(60):
        said = bench.look()
    assert len(bench.guide.captured) == 2
    assert bench.guide.captured[1].flow == pytest.approx(0.09 * bench.free)
    assert said.phase == "open"


def test_a_source_whose_pressure_does_not_fall_is_led_on_by_its_flow():
    """A regulated source: its pressure hardly changes, so that no target is ever reached."""
    guide, time = SourceSweepGuide(), 0.0

    def look(flow, state):
        nonlocal time
        time += STEP
        return guide.feed(GuideReading(time, 15e3 * (1 - 0.01 * flow / 0.003), flow, state, 1.0))

    while look(0.0, "steady").phase != "open":
        assert time < 60
    flow = 0.0
    while look(flow, "unsteady").phase == "open":
        flow += 1e-5
        assert flow < 0.05
    assert guide.phase == "hold"


def test_a_point_is_measured_again_where_the_throttle_is_now():
    bench = Bench()
    bench.move(0.0)
    while bench.look().phase != "open":
        assert bench.time < 100
    bench.move(0.3)
    while len(bench.guide.captured) < 2:
        bench.look()
        assert bench.time < 100
    captured = bench.guide.captured[-1]
    assert bench.look().can_redo
    assert bench.guide.redo() == captured.time
    assert len(bench.guide.captured) == 1
    assert bench.guide.phase == "hold"
    bench.move(0.2)  # it had been opened too far
    while len(bench.guide.captured) < 2:
        bench.look()
        assert bench.time < 100
    assert bench.guide.captured[-1].flow == pytest.approx(0.2 * bench.free)


def test_shut_off_can_be_measured_again_and_a_finished_sweep_can_not():
    bench = Bench()
    assert bench.guide.redo() is None  # nothing has been captured yet
    bench.move(0.0)
    while not bench.guide.captured:
        bench.look()
    bench.guide.redo()
    assert bench.guide.phase == "close"
    said = obedient(bench)
    assert said.done
    assert not said.can_redo
    points = len(bench.guide.captured)
    assert bench.guide.redo() is None
    assert len(bench.guide.captured) == points
