"""The size of a gap: whole turns of the 16-bit sequence number, frames that came twice, and both decoders alike."""

import random

import pytest

from frothline.wire import StreamDecoder, decode_all, encode

HZ = 2_000_000
LINE = dict.fromkeys(
    ("pressure_sum", "pressure_n", "differential_sum", "differential_n", "thermal_sum", "thermal_n", "pulses"), 1
)
NUMBERS = dict.fromkeys(
    ("protocol", "layout_hash", "firmware_major", "firmware_minor", "firmware_patch", "board_kind", "reset_cause",
     "streaming", "enabled", "present", "adc_clock_hz", "adc_cycles", "rotor_timeout_ticks"), 1,
)  # fmt: skip


class Board:
    """Frames as a board sends them: lines at a rate, slow readings, a description with two channels every 5 s."""

    def __init__(self, rate=500, boot=1, at=0.0):
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
                                        rate=self.rate, channels=2, **NUMBERS))  # fmt: skip
                about = {"sensor": 1, "count_unit": 1, "name": "x", "rate_millihertz": 1, "pin": "PC0"}
                frames += [self.make("channel", kind=kind, **about) for kind in (1, 3)]
            self.window += 1
            frames.append(self.make("line", tick=self.tick, edge_tick=0, flags=0, **LINE))
            if self.window % (self.rate // 5) == 0:
                frames.append(self.make("slow", tick=self.tick, temperature_sum=1, temperature_n=1, bandgap_sum=1,
                                        bandgap_n=1))  # fmt: skip
        return frames

    def unheard(self, seconds):
        """The frames of that time, which are not made; how many they are."""
        before = self.sequence
        for _ in range(round(seconds * self.rate)):
            self.sequence += 3 * (self.window % (5 * self.rate) == 0)
            self.window += 1
            self.sequence += 1 + (self.window % (self.rate // 5) == 0)
        return self.sequence - before

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
    return whole.lost, whole.doubled


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
