"""The size of a gap: whole turns of the 16-bit sequence number, frames that came twice, and both decoders alike."""

import random

import pytest

from frothline.wire import MESSAGES, StreamDecoder, decode_all, encode, losses

HZ = 2_000_000
LINE = dict.fromkeys(
    ("pressure_sum", "pressure_n", "differential_sum", "differential_n", "thermal_sum", "thermal_n", "pulses"), 1
)
NUMBERS = dict.fromkeys(
    ("protocol", "layout_hash", "firmware_major", "firmware_minor", "firmware_patch", "board_kind", "reset_cause",
     "streaming", "enabled", "present", "adc_clock_hz", "adc_cycles", "rotor_timeout_ticks"), 1,
)  # fmt: skip
OPENED = {field.name: "" if field.is_text else 1 if field.count == 1 else bytes(field.count)
          for field in MESSAGES["recording_opened"].fields}  # fmt: skip


class Board:
    """Frames as a board sends them: lines at a rate, slow readings, a description with two channels every 5 s."""

    def __init__(self, rate=500, boot=1, at=0.0, kinds=(1, 3)):
        self.kinds = kinds
        self.rate, self.boot, self.sequence, self.window, self.at = rate, boot, 0, 0, at

    def make(self, message, /, **fields):
        self.sequence += 1
        return encode(message, (self.sequence - 1) & 0xFFFF, **fields)

    @property
    def tick(self):
        return round((self.at + self.window / self.rate) * HZ) % 2**32

    def seconds(self, seconds):
        frames = []
        for _ in range(round(seconds * self.rate)):
            if self.window % (5 * self.rate) == 0:
                frames.append(self.make("description", tick=self.tick, tick_hz=HZ, boot_count=self.boot, label="shed",
                                        rate=self.rate, channels=len(self.kinds), **NUMBERS))  # fmt: skip
                about = {"sensor": 1, "count_unit": 1, "name": "x", "rate_millihertz": 1, "pin": "PC0"}
                frames += [self.make("channel", kind=kind, **about) for kind in self.kinds]
            self.window += 1
            frames.append(self.make("line", tick=self.tick, edge_tick=0, flags=0, **LINE))
            if self.window % (self.rate // 5) == 0:
                frames.append(self.make("slow", tick=self.tick, temperature_sum=1, temperature_n=1, bandgap_sum=1,
                                        bandgap_n=1))  # fmt: skip
        return frames

    def unheard(self, seconds):
        """The frames of that time, which are not made; how many they are."""
        before, after = self.window, self.window + round(seconds * self.rate)
        described = -(-after // (5 * self.rate)) - -(-before // (5 * self.rate))
        slow = after // (self.rate // 5) - before // (self.rate // 5)
        gone = after - before + (1 + len(self.kinds)) * described + slow
        self.window, self.sequence = after, self.sequence + gone
        return gone

    def set_rate(self, rate):
        self.at += self.window / self.rate
        self.rate, self.window = rate, 0


def counted(frames):
    """(lost, doubled) by both decoders, which must agree, whatever the chunks are."""
    data = b"".join(frames)
    stream = StreamDecoder()
    for k in range(0, len(data), 4096):
        stream.feed(data[k : k + 4096])
    whole = decode_all(data)
    assert (whole.lost, whole.doubled) == (stream.counts.lost, stream.counts.doubled)
    assert whole.at_least == stream.at_least
    return whole.lost, whole.doubled


def at_least(frames):
    """Whether more frames may be missing than both decoders count."""
    counted(frames)
    return decode_all(b"".join(frames)).at_least


@pytest.mark.parametrize(
    "suspended",
    [
        1.0,
        80.0,
        128.0,
        *(pytest.param(one, marks=pytest.mark.exhaustive) for one in (59.0, 119.2, 300.0, 900.0, 1070.0, 1500.0)),
        2100.0,
    ],
)
def test_a_computer_that_was_suspended_while_the_board_ran_on_lost_so_many_frames(suspended):
    """At 500 Hz a turn of the sequence number is 128 s; at 80 s more than half of it is gone."""
    board = Board()
    frames = board.seconds(12)
    gone = board.unheard(suspended)
    frames += board.seconds(3)
    assert counted(frames) == (gone, 0)


def anchor(board, wall, own):
    """The computer's clocks when the board's last frame arrived, in s."""
    times = {"unix_ns": round(wall * 1e9), "monotonic_ns": round(own * 1e9)}
    return encode("anchor", 0, tick=board.tick, reason=2, **times)


def with_anchors(board, seconds, wall, own):
    """Frames with an anchor every 10 s; the clocks say ``wall`` and ``own`` at the board's present window."""
    frames = []
    for _ in range(seconds // 10):
        frames += board.seconds(10)
        wall, own = wall + 10.0, own + 10.0
        frames.append(anchor(board, wall, own))
    return frames


SLEEPS = [(100, 2400.0), (200, 4300.0), (100, 7200.0), (10, 28_800.0), (10, 2147.0), (10, 2160.0)]
LONGER = [(rate, seconds) for rate in (100, 200) for seconds in (4300.0, 15_000.0, 28_800.0)]


@pytest.mark.parametrize("own_clock_stops", [True, False])
@pytest.mark.parametrize(
    ("rate", "suspended"), [*SLEEPS, *(pytest.param(*one, marks=pytest.mark.exhaustive) for one in LONGER)]
)
def test_a_sleep_longer_than_the_boards_clock_lost_what_the_wall_clock_says(rate, suspended, own_clock_stops):
    """The board's clock wraps after 2,147.48 s. Some systems stop their own clock in a sleep, some do not."""
    board = Board(rate=rate)
    frames = with_anchors(board, 30, 1e9, 50.0)
    gone = board.unheard(suspended)
    frames += with_anchors(board, 20, 1e9 + 30 + suspended, 80.0 + (0.0 if own_clock_stops else suspended))
    assert counted(frames) == (gone, 0)


def test_a_sleep_after_another_after_a_loss_and_after_a_clock_that_was_set_is_counted_too():
    board = Board(rate=100)
    frames, wall, own, gone = with_anchors(board, 30, 1e9, 50.0), 1e9 + 30, 80.0, 0
    for slept, stopped, lost, step in (
        (7200.0, 7200.0, 0.0, 0.0),  # the board's clock and the numbers go on from a sleep
        (300.0, 0.0, 0.0, 0.0),  # silent, but awake: many frames are lost
        (2400.0, 2400.0, 0.5, 0.0),  # a sleep with fewer by the number, and a further loss soon after
        (0.0, 0.0, 0.0, 3600.0),  # the wall clock is set
        (9000.0, 9000.0, 0.0, 0.0),
    ):
        gone += board.unheard(slept)
        if lost:
            frames += board.seconds(1)
            gone += board.unheard(lost)
            wall, own = wall + 1 + lost, own + 1 + lost
        wall, own = wall + slept + step, own + slept - stopped
        frames += with_anchors(board, 90, wall, own)
        wall, own = wall + 90, own + 90
    assert counted(frames) == (gone, 0)


@pytest.mark.parametrize("own_clock_stops", [True, False])
def test_numbers_that_step_by_chance_as_the_ticks_do_hide_no_sleep(own_clock_stops):
    """At 147 Hz, 152.67 frames a second, a turn of the clock is five turns of the number and 173 frames."""
    board = Board(rate=147)
    frames = with_anchors(board, 30, 1e9, 50.0)
    gone = board.unheard(2147.48 + 200.0)
    frames += with_anchors(board, 20, 1e9 + 30 + 2347.48, 80.0 + (0.0 if own_clock_stops else 2347.48))
    assert counted(frames) == (gone, 0)


def test_an_anchor_from_before_the_sleep_may_be_written_after_the_first_frames():
    board = Board(rate=100)
    frames = [*with_anchors(board, 30, 1e9, 50.0), *board.seconds(2)]
    late = anchor(board, 1e9 + 32, 82.0)
    gone = board.unheard(2400.0)
    frames += [*board.seconds(1), late, *with_anchors(board, 20, 1e9 + 33 + 2400, 83.0)]
    assert counted(frames) == (gone, 0)


def test_frames_from_before_the_sleep_may_arrive_after_it():
    """The system keeps some frames: they are read after the sleep, and the first anchor with the new time is theirs."""
    board = Board(rate=100)
    frames = with_anchors(board, 30, 1e9, 50.0)
    frames += [*board.seconds(1), anchor(board, 1e9 + 31 + 7200, 81.0)]
    gone = board.unheard(7200.0)
    frames += with_anchors(board, 20, 1e9 + 31 + 7200, 81.0)
    assert counted(frames) == (gone, 0)


@pytest.mark.parametrize(
    ("step", "lost"),
    [
        (2147.48, 0.3),
        (86_400.0, 40.0),
        *(pytest.param(step, lost, marks=pytest.mark.exhaustive)
          for step in (2 * 2147.48, -3600.0, 2147.48) for lost in (0.0, 40.0)),
    ],
)  # fmt: skip
def test_a_wall_clock_that_is_set_anew_is_no_sleep(step, lost):
    """Even beside frames that were lost, and where it is set forward by whole turns of the board's clock."""
    board = Board(rate=100)
    frames = with_anchors(board, 30, 1e9, 50.0)
    gone = board.unheard(lost)
    frames += with_anchors(board, 90, 1e9 + 30 + lost + step + 0.4, 80.0 + lost + 0.4)  # frames come late by 0.4 s
    gone += board.unheard(1.0)
    frames += with_anchors(board, 20, 1e9 + 121 + lost + step, 171.0 + lost)
    assert counted(frames) == (gone, 0)


@pytest.mark.parametrize("seconds", [1.0, *(pytest.param(s, marks=pytest.mark.exhaustive) for s in (40.0, 90.0))])
def test_a_sleep_after_which_the_numbers_seem_to_step_back_doubles_no_frame(seconds):
    """The sleep is one turn of the board's clock and some seconds long, in which the numbers seem to step back."""
    board = Board(rate=140)  # 314,800 frames in a turn of the clock: 12,900 short of five turns of the numbers
    frames = with_anchors(board, 30, 1e9, 50.0)
    gone = board.unheard(2147.48 + seconds)
    frames += with_anchors(board, 200, 1e9 + 30 + 2147.48 + seconds, 80.0)
    assert counted(frames) == (gone, 0)


@pytest.mark.exhaustive
@pytest.mark.parametrize("seed", range(12))
def test_both_decoders_count_alike_with_any_anchors(seed):
    rng = random.Random(seed)
    for _ in range(20):
        boards, frames, wall, own = [], [], 1e9, 50.0
        for boot in range(1, 1 + rng.randrange(1, 4)):
            board = Board(rate=rng.choice((10, 100)), boot=boot)
            for _ in range(rng.randrange(1, 5)):
                frames += with_anchors(board, rng.choice((10, 30)), wall, own)
                slept = rng.choice((0.0, 3.0, 2147.5, 4000.0, 9000.0))
                board.unheard(slept)
                wall, own = wall + slept + rng.choice((0.0, 0.0, 3600.0)), own + slept * rng.choice((0, 1))
            boards.append(board)
            if rng.random() < 0.3:
                frames.append(encode("port", 0, unix_ns=0, monotonic_ns=0, event=1, detail=""))
        for _ in range(rng.randrange(3)):
            a = rng.randrange(len(frames))
            frames[a : a + rng.choice((1, 50, 1000))] = rng.choice(([], frames[a : a + 5] * 2))
        counted(frames)


HEARD = [(500, 0.5), (500, 2.0), (200, 0.04), (500, 6.0), (100, 1.0)]


@pytest.mark.parametrize(("rate", "heard"), HEARD)
@pytest.mark.parametrize("own_clock_stops", [True, False])
@pytest.mark.parametrize("suspended", [28_800.0, 2100.0])
def test_a_board_that_was_heard_for_a_moment_before_a_sleep_is_counted_once_it_was_heard_for_longer(
    rate, heard, own_clock_stops, suspended
):
    """A rate from 6 s is wrong by the frames of a description, nine of 3,060: in 8 h by more than half a turn."""
    board = Board(rate=rate, kinds=range(8))
    frames = [*board.seconds(heard), anchor(board, 1e9, 50.0)]
    gone = board.unheard(suspended)
    frames += with_anchors(board, 60, 1e9 + suspended, 50.0 + (0.0 if own_clock_stops else suspended))
    assert counted(frames) == (gone, 0)
    assert not at_least(frames)


@pytest.mark.parametrize("more", [[], [encode("port", 0, unix_ns=0, monotonic_ns=0, event=1, detail="")]])
def test_a_count_that_was_never_settled_is_said_to_be_the_least(more):
    board = Board(rate=500)
    frames = [*board.seconds(2), anchor(board, 1e9, 50.0)]
    gone = board.unheard(28_800.0)
    frames += [*board.seconds(2), anchor(board, 1e9 + 28_802, 52.0), *more, *(more and board.seconds(3))]
    assert counted(frames)[0] <= gone
    assert at_least(frames)


def test_a_rate_that_was_changed_in_the_sleep_leaves_the_count_the_least():
    board = Board(rate=500)
    frames = [*board.seconds(2), anchor(board, 1e9, 50.0)]
    board.unheard(28_800.0)
    board.set_rate(100)
    frames += with_anchors(board, 60, 1e9 + 28_800, 50.0)
    assert at_least(frames)


@pytest.mark.parametrize("silent", [3.0, 20.0, 50.0])
def test_a_cable_that_is_pulled_soon_after_the_start_leaves_no_doubt(silent):
    """In less than a minute no board sends half a turn of the number, so that the numbers alone tell."""
    board = Board(rate=500)
    frames = [*board.seconds(0.02), anchor(board, 1e9, 50.0)]
    gone = board.unheard(silent)
    frames += [*board.seconds(2), anchor(board, 1e9 + silent + 2, 52.0 + silent)]
    assert counted(frames) == (gone, 0)
    assert not at_least(frames)


@pytest.mark.parametrize("suspended", [100.0, 300.0, 1500.0])
def test_a_short_sleep_of_a_board_that_was_heard_for_a_moment_is_counted_too(suspended):
    """The board's clock does not wrap in it, but a whole turn of the number at 500 Hz takes two minutes."""
    board = Board(rate=500, kinds=range(8))
    frames = [*board.seconds(0.3), anchor(board, 1e9, 50.0)]
    gone = board.unheard(suspended)
    frames += with_anchors(board, 60, 1e9 + suspended, 50.0)
    assert counted(frames) == (gone, 0)
    assert not at_least(frames)


def test_a_usual_loss_and_a_sleep_after_half_a_minute_are_certain():
    board = Board(rate=100)
    frames = with_anchors(board, 30, 1e9, 50.0)
    board.unheard(40.0)
    frames += with_anchors(board, 30, 1e9 + 70, 120.0)
    board.unheard(28_800.0)
    frames += with_anchors(board, 20, 1e9 + 100 + 28_800, 150.0)
    assert not at_least(frames)


def test_exactly_one_turn_of_the_sequence_number_is_no_silence_without_loss():
    board = Board()
    frames = board.seconds(12)
    gone = 0
    while gone < 65536:
        gone += board.unheard(1 / 500)
    board.sequence -= gone - 65536  # the board skipped no number, the count ends in the middle of a window
    frames += board.seconds(3)
    assert counted(frames) == (65536, 0)


@pytest.mark.parametrize("doubled", [1, 2, 37, 500, 5000])
def test_frames_that_came_twice_are_counted_as_such_and_nothing_as_lost(doubled):
    frames = Board().seconds(15)
    at = 6000
    assert counted(frames[:at] + frames[at - doubled : at] + frames[at:]) == (0, doubled)


@pytest.mark.exhaustive
@pytest.mark.parametrize("doubled", [33_000, 80_000])
def test_a_long_stretch_that_came_twice_is_not_taken_for_a_loss(doubled):
    """More than half a turn of the number back: the number alone looks like a step ahead, the ticks step back."""
    frames = Board().seconds(170)
    at = 85_007
    assert counted(frames[:at] + frames[at - doubled : at] + frames[at:]) == (0, doubled)


@pytest.mark.exhaustive
def test_a_stretch_cut_out_of_the_middle_is_counted_whatever_its_length():
    frames = Board().seconds(90)
    for cut in (1, 32767, 32768, 33000, 40002):
        assert counted(frames[:4000] + frames[4000 + cut :]) == (cut, 0)


def test_a_change_of_the_rate_is_followed():
    board = Board(rate=20)
    frames = board.seconds(100)
    board.set_rate(500)
    frames += board.seconds(3)
    gone = board.unheard(200.0)
    frames += board.seconds(1)
    assert counted(frames) == (gone, 0)


def test_a_boot_and_a_lost_port_begin_another_count():
    lost = encode("port", 0, unix_ns=0, monotonic_ns=0, event=1, detail="")
    frames = Board().seconds(2) + Board(boot=2).seconds(2)
    board = Board(boot=3)
    frames += [*board.seconds(1), lost]
    board.unheard(40)
    assert counted(frames + board.seconds(1)) == (0, 0)


@pytest.mark.parametrize("times", [8, pytest.param(25, marks=pytest.mark.exhaustive)])
def test_both_decoders_count_alike_whatever_is_cut_doubled_or_moved(times):
    rng = random.Random(5)
    whole = Board(rate=100).seconds(60) + Board(rate=100, boot=2).seconds(30)
    for _ in range(times):
        frames = list(whole)
        for _ in range(rng.randrange(1, 5)):
            a, b = sorted(rng.sample(range(len(frames)), 2))
            b = min(b, a + rng.choice((1, 3, 50, 3000)))
            what = rng.randrange(3)
            if what == 0:
                del frames[a:b]
            elif what == 1:
                frames[b:b] = frames[a:b]
            else:
                piece = frames[a:b]
                rng.shuffle(piece)
                frames[a:b] = piece
        counted(frames)


def head(sequence):
    """The head of a segment: it repeats a description and two channels with the numbers of an earlier time."""
    earlier = Board(rate=50)
    earlier.sequence = sequence
    return [encode("recording_opened", 0, **OPENED), *earlier.seconds(0.02)[:3]]


def many_events():
    """A loss, two heads of segments, a change of the rate, frames that came twice, a long silence, another boot."""
    board = Board(rate=50)
    stream = board.seconds(6)
    board.unheard(3)
    stream += [*board.seconds(2)[4:], *head(5000), *head(5000), *board.seconds(5)]
    board.set_rate(100)
    stream += board.seconds(6)
    stream += stream[-30:]
    board.unheard(700)
    return [*stream, *board.seconds(2), *Board(rate=50, boot=2).seconds(3)], 65_536, 30


def one_turn_behind_frames_without_a_tick():
    """All 65,536 numbers are missing behind a description and its channels, so that the numbers show no loss."""
    board = Board(rate=100)
    stream = [*board.seconds(5), *board.seconds(0.01)[:3]]
    board.sequence += 65_536 - 1
    board.at += 65_536 / 105.6
    return [*stream, *board.seconds(3)], 65_535, 0


def a_boot_whose_predecessor_has_no_description():
    return [*Board(rate=50).seconds(4)[3:], *Board(rate=50, boot=2).seconds(3)], 0, 0


def a_sleep_after_a_loss():
    """The anchor behind the sleep says how much is missing at the last step of the numbers, some frames earlier."""
    board = Board(rate=10)
    stream = [*with_anchors(board, 30, 1e9, 50.0), *head(5000), *with_anchors(board, 10, 1e9 + 30, 80.0)]
    gone = board.unheard(2400.0)
    stream += [*board.seconds(2), *with_anchors(board, 20, 1e9 + 2442, 90.0)]
    return stream, gone, 0


@pytest.mark.parametrize("frames", [1, 2, 3, 64])
@pytest.mark.parametrize(
    "events",
    [
        many_events,
        one_turn_behind_frames_without_a_tick,
        a_boot_whose_predecessor_has_no_description,
        a_sleep_after_a_loss,
    ],
)
def test_frames_that_are_counted_in_parts_are_counted_as_at_once(monkeypatch, frames, events):
    stream, at_least, twice = events()
    at_once = decode_all(b"".join(stream)).losses.tolist()
    monkeypatch.setattr(losses, "_AT_ONCE", frames)
    assert decode_all(b"".join(stream)).losses.tolist() == at_once
    lost, doubled = counted(stream)
    assert at_least <= lost <= at_least + 20_000 * (at_least > 0)
    assert doubled == twice


def test_the_place_of_a_loss_is_the_frame_behind_it():
    board = Board(rate=50)
    frames = board.seconds(4)
    cut = [7, 8, 60, 123]  # a channel, line messages, a slow message
    kept = [frame for k, frame in enumerate(frames) if k not in cut]
    found = decode_all(b"".join(kept)).losses
    ends = {k + 1: sum(len(one) for j, one in enumerate(frames[: k + 1]) if j not in cut) for k in cut}
    assert found["offset"].tolist() == [ends[9], ends[61], ends[124]]
    assert found["missing"].tolist() == [2, 1, 1]
