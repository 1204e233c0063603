"""Messages are converted rarely while nobody looks at the readings, and as often as ever once somebody does."""

from frothline.bench.batch_pace import HURRIED, RESTING, SEEN, BatchPace
from frothline.rig.link import BATCH
from frothline.wire import WIRE


class Clock:
    now = 100.0

    def __call__(self):
        return self.now

    def passes(self, seconds):
        self.now += seconds


def pauses(pace, clock, count, *, speed=1.0, first=0):
    """The pauses after ``count`` batches, of a board whose clock runs ``speed`` times as fast."""
    tick, found = first, []
    for _ in range(count):
        pause = pace.pause(int(tick) % 2**32)
        found.append(pause)
        clock.passes(pause)
        tick += speed * pause * WIRE.tick_hz
    return found


def test_the_pause_is_long_while_nobody_looks_and_short_again_after_a_look():
    clock = Clock()
    pace = BatchPace(clock)
    found = pauses(pace, clock, 200)
    assert found[: int(SEEN / BATCH)] == [BATCH] * int(SEEN / BATCH)
    assert found[-1] == RESTING
    pace.looked()
    assert pauses(pace, clock, 3, first=int((clock.now - Clock.now) * WIRE.tick_hz)) == [BATCH] * 3


def test_a_simulation_that_runs_faster_than_the_clock_is_never_slowed_down():
    clock = Clock()
    pace = BatchPace(clock)
    assert set(pauses(pace, clock, 200, speed=20.0)) == {BATCH, HURRIED}
    assert pace.pause(20) == HURRIED  # also while somebody looks: it would wait at each batch
    pace.looked()
    assert set(pauses(pace, clock, 3, speed=20.0, first=10**6)) == {HURRIED}
    assert HURRIED < BATCH


def test_the_wrap_of_the_boards_clock_is_no_haste():
    clock = Clock()
    pace = BatchPace(clock)
    clock.passes(2 * SEEN)
    assert pauses(pace, clock, 10, first=2**32 - WIRE.tick_hz) == [BATCH] + [RESTING] * 9


def test_batches_without_a_tick_change_nothing():
    clock = Clock()
    pace = BatchPace(clock)
    clock.passes(2 * SEEN)
    assert [pace.pause(None), pace.pause(5), pace.pause(None)] == [BATCH] * 3
