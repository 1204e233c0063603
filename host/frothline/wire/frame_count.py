"""How many frames of a board are missing, and how many came twice: the rule that both decoders share.

Sequence numbers count modulo 65,536. A step of less than half of that tells its size by itself. A step of half or more
is either a step back (frames that came twice) or a loss of 32,768 frames or more, as when a computer is suspended while
the board runs on; and behind a long silence whole turns of the number may be missing unseen. There the ticks decide:
the silence times the board's own frame rate so far, rounded to whole turns.
"""

from __future__ import annotations

from frothline.wire.layout import WIRE

TURN = 1 << 16
_WRAP = 1 << 32  # of the ticks; see wire/ticks.py, which needs the decoder and so cannot be used by it
LONG = 20 * WIRE.tick_hz  # ticks; 65,536 frames in less time would be more than the line can carry
FASTEST = WIRE.baud / 10 / 12 / WIRE.tick_hz  # frames a tick that the line can carry: ten bits a byte, 12 bytes a frame
_ALIKE, _FEW = 0.1, 64  # how far ticks and numbers of a step back may be apart: share of the step, frames
_LONG_ALIKE = 0.01  # the same share for a step of more than half a turn


def signed(step: int) -> int:
    """A difference of sequence numbers, the shorter way round."""
    return (step + TURN // 2) % TURN - TURN // 2


def turns(frames: int, ticks: int, rate: float) -> int:
    """Whole turns of the sequence number that are missing between two frames.

    ``frames``: their distance by number, the shorter way round; ``ticks``: by the clock, the shorter way round;
    ``rate``: frames a tick. A step back in both alike is no turn: the frames came twice. Where more than half a turn
    came twice, the number seems to step ahead and the turns are negative.
    """
    expected = ticks * rate
    if ticks < 0:
        if abs(expected - frames) <= _ALIKE * abs(expected) + _FEW:
            return 0
        ahead = (ticks + _WRAP) * rate
        back = round((expected - frames) / TURN)
        apart, apart_ahead = (abs(signed(round(one - frames))) for one in (expected, ahead))
        if back < 0 and apart <= _LONG_ALIKE * abs(expected) + _FEW and apart < apart_ahead:
            return back
        expected = ahead
    return max(0, round((expected - frames) / TURN))


class FrameCount:
    """The frames of one boot of a board, in the order of the stream. Numbers never restart here; see ``restart``."""

    def __init__(self) -> None:
        self.restart()

    def restart(self) -> None:
        """What comes next has a count of its own: another boot, a port that came back, another writer."""
        self._sequence: int | None = None
        self._place = self._high = 0  # of this frame in the board's count, and the highest so far
        self._held = 0  # frames without a tick that seem to step back; the next tick tells
        self._tick: int | None = None
        self._ticks = 0  # since the first tick of the count, unwrapped
        self._place_at_tick = 0
        self._since: tuple[int, int] | None = None  # place and ticks from which on the rate is taken

    def new_rate(self) -> None:
        """The board was set to another rate: what it sent before does not tell how fast it sends now."""
        self._since = None

    @property
    def settled(self) -> bool:
        """Nothing is open: frames that follow by one each need not be looked at singly."""
        return self._tick is not None and self._since is not None and not self._held and self._place == self._high

    def skip(self, frames: int, sequence: int, ticked: int | None, tick: int, ticks: int) -> None:
        """``frames`` frames that follow by one each, without a long silence, of which the last has that number.

        ``ticked``: how many of them come up to and with the last one that has a tick (None without any), ``tick`` that
        tick, ``ticks`` how far it is from the tick before.
        """
        if ticked is not None:
            self._tick, self._ticks = tick, self._ticks + ticks
            self._place_at_tick = self._place + ticked
        self._place += frames
        self._high, self._sequence = self._place, sequence

    def feed(self, sequence: int, tick: int | None) -> tuple[int, int]:
        """The next frame; (frames missing before it, frames found to have come twice)."""
        if self._sequence is None:
            self._sequence = sequence
            self._note(tick, 0)
            return 0, 0
        self._place += signed(sequence - self._sequence)
        self._sequence = sequence
        if tick is None:
            if self._place <= self._high:
                self._held += 1
                return 0, 0
        else:
            ticks = 0 if self._tick is None else (tick - self._tick + _WRAP // 2) % _WRAP - _WRAP // 2
            frames = self._place - self._place_at_tick
            if self._tick is not None and (frames <= 0 or abs(ticks) > LONG):
                self._place += TURN * turns(frames, ticks, self._rate) if self._rate else 0
            self._note(tick, ticks)
        held, self._held = self._held, 0
        if self._place <= self._high:
            return 0, held + 1
        missing = max(0, self._place - self._high - 1 - held)
        self._high = self._place
        return missing, 0

    def _note(self, tick: int | None, ticks: int) -> None:
        if tick is None:
            return
        self._ticks += ticks
        self._tick, self._place_at_tick = tick, self._place
        if self._since is None:
            self._since = self._place, self._ticks

    @property
    def _rate(self) -> float:
        """Frames a tick so far; 0 while it is not known."""
        if self._since is None or self._ticks - self._since[1] < WIRE.tick_hz // 10:
            return 0.0
        rate = (self._place_at_tick - self._since[0]) / (self._ticks - self._since[1])
        return min(max(rate, 0.0), FASTEST)
