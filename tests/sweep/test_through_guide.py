"""The guided sweep through a generator, worked by hands of several kinds on a line that the test makes up.

Source p = p0 (1 - (Q/Q0)^2), generator p = head + k q^2 (no flow below the head), bleed q = c opening sqrt(p); the
pressure at which source = generator + bleed is found by bisection.
"""

import math
import re

import pytest

from frothline.generator.cautions import COMPRESSOR, SWEEPING
from frothline.physics.safety import HARD_PRESSURE_LIMIT
from frothline.sweep.generator_guide import PHASES, WORDS, GeneratorSweepGuide
from frothline.sweep.guide import GuideReading, widest_gap

STEP = 0.1  # s between readings
SETTLING = 3.0  # s of stillness until the reading counts as steady, as the steady-state test needs


class Bench:
    """A bleed, a line and a clock; ``bleed`` 0 shut to 1 open. ``wet`` holds a head of solution; it foams from
    ``primed`` s on."""

    def __init__(self, *, wet=False, shut_off=12e3, free=0.05, ask=9e3, at=0.02, open_share=5.0, primed=8.0):
        self.shut_off, self.free = shut_off, free
        self.head = 0.12 * ask if wet else 0.0
        self.k = (ask - self.head) / at**2
        self.c = open_share * free / math.sqrt(shut_off)
        self.guide = GeneratorSweepGuide(wet=wet)
        self.time, self.bleed, self.still, self.said, self.primed = 0.0, 0.4, 0.0, [], primed
        self.source = 1.0  # speed of the source, of full

    def line(self):
        low, high = 0.0, self.shut_off
        for _ in range(60):
            p = (low + high) / 2
            given = self.free * self.source * math.sqrt(max(0.0, 1 - p / (self.shut_off * self.source**2)))
            low, high = (p, high) if given > self.through(p) + self.c * self.bleed * math.sqrt(p) else (low, p)
        return low, self.through(low)

    def bleed_for(self, more):
        """The opening at which ``more`` of the full air goes through than now: a hand feels its way there."""
        now, q = self.bleed, self.line()[1]
        self.bleed = 0.0
        wanted = q + more * self.line()[1]
        low, high = 0.0, 1.0
        for _ in range(30):
            self.bleed = (low + high) / 2
            low, high = (self.bleed, high) if self.line()[1] > wanted else (low, self.bleed)
        found, self.bleed = self.bleed, now
        return found

    def through(self, p):
        return math.sqrt(max(0.0, p - self.head) / self.k)

    def look(self, *, moving=False, known=True):
        self.still = 0.0 if moving else self.still + STEP
        self.time += STEP
        p, q = self.line()
        progress = min(1.0, self.still / SETTLING)
        state = "steady" if progress >= 1 else "settling" if self.still > 0.5 else "unsteady"
        said = self.guide.feed(GuideReading(self.time, p, q if known else math.nan, state, progress))
        if not self.said or self.said[-1] != said.phase:
            self.said.append(said.phase)
        return said

    def move(self, target, seconds=1.0):
        start, steps = self.bleed, max(1, round(seconds / STEP))
        for k in range(steps):
            self.bleed = start + (min(max(target, 0.0), 1.0) - start) * (k + 1) / steps
            self.look(moving=True)


def obey(bench, said, step=0.1):
    """Do what was said, once, slowly; ``step`` is the share of the full air that "a little" is to this hand."""
    if said.phase in {"full", "full_again", "foam"} and bench.bleed > 0:
        bench.move(0.0)
    elif said.phase == "foam" and bench.time > bench.primed and bench.still > 1:
        bench.guide.button()
    elif said.instruction == WORDS["little"] and bench.bleed < 1:
        bench.move(bench.bleed + 0.05)
    elif said.instruction == WORDS["more"]:
        bench.move(bench.bleed_for(step if said.phase == "more" else 0.02))
    elif said.instruction == WORDS["go_back"]:
        bench.move(bench.bleed_for(-0.02))
    return bench.look()


def obedient(bench, step=0.1, limit=400.0):
    said = bench.look()
    while not said.done and bench.time < limit:
        said = obey(bench, said, step)
    return said


def until(bench, phase, step=0.1, limit=300.0):
    said = bench.look()
    while said.phase != phase:
        assert bench.time < limit, bench.said
        said = obey(bench, said, step)
    return said


@pytest.mark.parametrize("wet", [False, True])
@pytest.mark.parametrize(("ask", "at"), [(9e3, 0.02), (3e3, 0.03), (11e3, 0.008)])  # what the generator is like
@pytest.mark.parametrize("step", [0.07, 0.14])
def test_an_obedient_hand_is_led_from_full_air_to_little_and_back_to_full_air(wet, ask, at, step):
    bench = Bench(wet=wet, ask=ask, at=at)
    said = obedient(bench, step)
    assert said.done
    assert said.missing == ()
    flows = [point.flow for point in bench.guide.captured]
    bench.bleed = 0.0
    most = bench.line()[1]
    assert flows[0] == pytest.approx(most, rel=0.01)
    assert flows[-1] == pytest.approx(most, rel=0.03)
    assert min(flows) < 0.4 * most
    assert 6 <= len(flows) <= 14
    assert bench.time < 150
    assert widest_gap(bench.guide.captured, 0.26) is None


def test_the_order_is_full_air_little_air_more_and_more_and_full_air_again():
    bench = Bench()
    obedient(bench)
    asked = [phase for phase in bench.said if phase not in {"hold", "steady"}]
    assert asked[:3] == ["full", "little", "more"]
    assert set(asked[3:-2]) <= {"more", "go_back"}
    assert asked[-2:] == ["full_again", "done"]
    assert set(bench.said) <= set(PHASES) == set(WORDS)
    flows = [point.flow for point in bench.guide.captured[1:]]
    assert flows == sorted(flows)


def test_the_generator_itself_is_never_to_be_shut():
    assert not [words for words in WORDS.values() if "close" in words or "shut" in words]


def test_wet_nothing_is_taken_before_the_hand_says_that_it_foams():
    bench = Bench(wet=True)
    bench.bleed = 0.0
    for _ in range(600):
        said = bench.look()
    assert said.phase == "foam"
    assert said.points == 0
    assert "once foam comes evenly" in said.why
    bench.guide.button()
    assert bench.look().phase in {"hold", "steady"}
    assert bench.look().points == 1


def test_wet_too_little_air_is_said_at_once_and_is_no_point():
    """Below the head of solution no air passes: the solution would come back."""
    bench = Bench(wet=True)
    said = until(bench, "little")
    bench.bleed = 1.0
    said = bench.look(moving=True)
    assert bench.line()[1] == 0.0
    assert said.instruction == "slightly more air"
    assert "foam stops" in said.why
    assert said.caution == SWEEPING["too-little-air"].words
    for _ in range(100):
        said = bench.look()
    assert said.points == 1
    assert said.phase == "little"
    assert obedient(bench).done


def test_air_that_is_lost_while_holding_is_no_point_either():
    bench = Bench(wet=True)
    until(bench, "more")
    bench.move(bench.bleed_for(0.15))
    assert bench.look().phase == "hold"
    taken = len(bench.guide.captured)
    bench.bleed = 1.0
    for _ in range(60):
        said = bench.look()
    assert said.instruction == "slightly more air"
    assert len(bench.guide.captured) == taken


def test_a_hand_that_shuts_the_bleed_in_two_jumps_is_sent_back_to_the_gap():
    bench = Bench()
    said = until(bench, "go_back", step=0.4)
    lower, upper = said.gap
    pressures = [point.pressure for point in bench.guide.captured]
    assert {lower, upper} <= set(pressures)
    assert not [one for one in pressures if lower < one < upper]
    assert obedient(bench, step=0.4).done
    assert widest_gap(bench.guide.captured, 0.4) is None


def test_in_a_gap_it_says_which_way():
    bench = Bench()
    until(bench, "go_back", step=0.4)
    bench.bleed = 0.0
    assert bench.look(moving=True).instruction == "slightly less air"
    bench.bleed = 0.9
    assert bench.look(moving=True).instruction == "slightly more air"


def test_opening_the_bleed_where_it_was_to_be_shut_is_said_and_not_taken():
    bench = Bench()
    until(bench, "more")
    while bench.guide.captured[-1].flow < 0.6 * bench.guide.captured[0].flow:
        obey(bench, bench.look())
    said = until(bench, "more")
    taken = len(bench.guide.captured)
    bench.move(bench.bleed + 0.2)
    said = bench.look()
    assert "less air" in said.why
    for _ in range(60):
        bench.look()
    assert len(bench.guide.captured) == taken


def test_where_nothing_changes_it_asks_whether_the_bleed_is_as_far_as_it_goes():
    bench = Bench()
    said = until(bench, "little")
    for _ in range(70):
        said = bench.look()
    assert "nothing has changed" in said.why
    bench.guide.button()
    said = bench.look()
    assert said.done
    assert any("the bleed changes nothing" in words for words in said.missing)


def test_a_shut_bleed_may_be_declared_with_the_button():
    bench = Bench()
    until(bench, "more")
    bench.move(0.0)  # in one jump to where no more can be had
    while bench.look().phase != "go_back":
        assert bench.time < 100
    bench = Bench()
    until(bench, "more")
    for _ in range(70):
        said = bench.look()
    assert "if the bleed is closed already" in said.why
    bench.guide.button()
    assert bench.look().why == "taken as full air: hold while the reading settles" or bench.guide.phase == "steady"


def test_a_bleed_too_small_still_ends_and_is_told_so():
    bench = Bench(open_share=0.15)
    said = bench.look()
    while not said.done and bench.time < 400:
        if said.phase == "little" and bench.bleed == 1.0 and bench.still > 1:
            bench.guide.button()
        said = obey(bench, said)
    assert said.done
    assert any("open the bleed wider" in words for words in said.missing)


def test_without_a_bleed_the_source_turned_down_does_the_same():
    bench = Bench()
    bench.bleed = 0.0
    said = bench.look()
    while not said.done and bench.time < 400:
        if said.instruction == WORDS["little"]:
            bench.source -= 0.1
        elif said.instruction == WORDS["more"]:
            bench.source = min(1.0, bench.source + (0.08 if said.phase == "more" else 0.02))
        elif said.instruction == WORDS["go_back"]:
            bench.source -= 0.02
        elif said.phase == "full_again":
            bench.source = 1.0
        said = bench.look(moving=said.phase not in {"hold", "steady", "full"})
    assert said.done
    assert said.missing == ()


def test_a_generator_that_changed_between_first_and_last_point_is_told():
    bench = Bench(wet=True)
    until(bench, "full_again")
    bench.k *= 1.3  # the packing moved
    said = obedient(bench)
    assert said.done
    told = next(words for words in said.missing if "than at the beginning" in words)
    # p = head + k q^2 at the first point's flow, by hand: 0.3 k q^2 more; the guide's square law knows no head
    first = bench.guide.captured[0]
    more = 0.3 * (first.pressure - bench.head) / first.pressure
    assert float(re.search(r"(\d+) % more", told).group(1)) / 100 == pytest.approx(more, abs=0.03)


def test_a_link_that_is_lost_pauses_the_sweep():
    bench = Bench()
    bench.bleed = 0.0
    bench.look()
    said = bench.look(known=False)
    assert said.phase == "full"
    assert said.why == "waiting for pressure and flow"
    assert obedient(bench).done


def test_a_pressure_that_plastic_pipe_does_not_bear_is_cautioned_before_all_else():
    guide = GeneratorSweepGuide(wet=True)
    said = guide.feed(GuideReading(0.0, 1.1 * HARD_PRESSURE_LIMIT, 0.02, "unsteady", 0.0))
    assert "stop the air" in said.caution
    assert "compressor" in guide.feed(GuideReading(0.1, 1.1 * COMPRESSOR, 0.02, "unsteady", 0.0)).caution
    assert guide.feed(GuideReading(0.2, 5e3, 0.02, "unsteady", 0.0)).caution == SWEEPING["bucket"].words
