"""Numbers of missing and repeated frames of a board: the rule of both decoders.

Sequence numbers count modulo 65,536. A step of less than half of that is unambiguous. A step of half or more is either
a step back (repeated frames) or a loss of 32,768 frames or more, as when a computer is suspended while the board keeps
running; and after a long silence whole cycles of the number may be missing. There the ticks decide: the silence times
the board's own frame rate so far, rounded to whole cycles.
"""

from __future__ import annotations

from frothline.wire.layout import WIRE

TURN = 1 << 16
_WRAP = 1 << 32  # of the ticks; wire/ticks.py cannot be imported here, because it imports the decoder
LONG = 20 * WIRE.tick_hz  # ticks; the line cannot carry 65,536 frames in less time
FASTEST = WIRE.baud / 10 / 12 / WIRE.tick_hz  # frames a tick, limit of the line: ten bits a byte, 12 bytes a frame
_ALIKE, _FEW = 0.1, 64  # tolerance between ticks and numbers of a step back: share of the step, frames
_FIRST_FRAMES, _FIRST_TICKS = 8, 2 * WIRE.tick_hz  # within which a board has described itself after a boot
_LONG_ALIKE = 0.01  # the same share for a step of more than half a cycle


def signed(step: int) -> int:
    """A difference of sequence numbers, the shorter way round."""
    return (step + TURN // 2) % TURN - TURN // 2


def turns(frames: int, ticks: int, rate: float) -> int:
    """Whole cycles of the sequence number missing between two frames.

    frames : their distance by number, the shorter way round
    ticks : their distance by the clock, the shorter way round
    rate : frames a tick

    A step back in both is not a cycle: the frames are repeated. Where more than half a cycle is repeated, the number
    seems to step forward and the result is negative.
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


def begins_a_boot(sequence: int, tick: int, before: int) -> bool:
    """Whether a description is the first of a boot by itself, where no earlier one could be read to compare with.

    sequence, tick : of the description
    before : sequence number of the board's frame before it

    A board counts frames and ticks from 0 at its boot and describes itself at once.
    """
    return sequence < _FIRST_FRAMES and tick < _FIRST_TICKS and not 0 < signed(sequence - before) <= _FIRST_FRAMES


class FrameCount:
    """The frames of one boot of a board, in the order of the stream. Numbers never restart here; see ``restart``."""

    def __init__(self) -> None:
        self.restart()

    def restart(self) -> None:
        """Start a new count: another boot, a reconnected port, another writer."""
        self._sequence: int | None = None
        self._place = self._high = 0  # of this frame in the board's count, and the highest so far
        self._held = 0  # frames without a tick that seem to step back; the next tick decides
        self._tick: int | None = None
        self._ticks = 0  # since the first tick of the count, unwrapped
        self._place_at_tick = 0
        self._since: tuple[int, int] | None = None  # place and ticks at the start of the rate measurement

    def new_rate(self) -> None:
        """The board's rate was changed, so earlier frames do not determine the present rate."""
        self._since = None

    @property
    def sequence(self) -> int | None:
        """Number of the last frame; None at the begin of a count."""
        return self._sequence

    @property
    def settled(self) -> bool:
        """True if nothing is undecided: frames that follow by one each can be skipped together."""
        return self._tick is not None and self._since is not None and not self._held and self._place == self._high

    def skip(self, frames: int, sequence: int, ticked: int | None, tick: int, ticks: int) -> None:
        """``frames`` frames that follow by one each, without a long silence; ``sequence`` is the number of the last
        one.

        ``ticked``: number of them up to and including the last one with a tick (None without any); ``tick``: that tick;
        ``ticks``: its distance from the previous tick.
        """
        if ticked is not None:
            self._tick, self._ticks = tick, self._ticks + ticks
            self._place_at_tick = self._place + ticked
        self._place += frames
        self._high, self._sequence = self._place, sequence

    def feed(self, sequence: int, tick: int | None) -> tuple[int, int]:
        """The next frame; (frames missing before it, frames found to be repeated)."""
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
        """Frames a tick so far; 0 while it is unknown."""
        if self._since is None or self._ticks - self._since[1] < WIRE.tick_hz // 10:
            return 0.0
        rate = (self._place_at_tick - self._since[0]) / (self._ticks - self._since[1])
        return min(max(rate, 0.0), FASTEST)
