"""Numbers of missing and repeated frames of a board: the rule of both decoders.

Sequence numbers count modulo 65,536. A step of less than half of that is unambiguous. A step of half or more is either
a step back (repeated frames) or a loss of 32,768 frames or more, as when a computer is suspended while the board keeps
running; and after a long silence whole cycles of the number may be missing. There the ticks decide: the silence times
the board's own frame rate so far, rounded to whole cycles.

The ticks themselves wrap after 36 minutes. Where the computer slept for longer, the anchors of a recording tell how
many wraps are missing: an anchor is a tick with the computer's wall clock, which goes on in a sleep.

A rate from a short time is wrong by the frames of one description. Where that can make a whole cycle, the count waits
until the board has been heard for long enough before and after the silence; until then, and for ever where it never is,
the count is the least (``at_least``).
"""

from __future__ import annotations

from dataclasses import dataclass

from frothline.wire.layout import WIRE

TURN = 1 << 16
_WRAP = 1 << 32  # of the ticks; wire/ticks.py cannot be imported here, because it imports the decoder
LONG = 20 * WIRE.tick_hz  # ticks; the line cannot carry 65,536 frames in less time
FASTEST = WIRE.baud / 10 / 12 / WIRE.tick_hz  # frames a tick, limit of the line: ten bits a byte, 12 bytes a frame
_ALIKE, _FEW = 0.1, 64  # tolerance between ticks and numbers of a step back: share of the step, frames
_FIRST_FRAMES, _FIRST_TICKS = 8, 2 * WIRE.tick_hz  # within which a board has described itself after a boot
_LONG_ALIKE = 0.01  # the same share for a step of more than half a cycle
_UNAMBIGUOUS = 55 * WIRE.tick_hz  # ticks in which no board sends half a cycle: at 540 frames a second it takes 60 s
PAUSE = 20_000_000_000  # ns between anchors, which come every 10 s; with less no anchor changes a count
_DESCRIBED = 24  # frames, at most, of one description: a rate from a short time is wrong by as many
_AGREE = 5 * WIRE.tick_hz  # ticks by which clocks of the board and the computer may differ, besides a hundredth
_PATIENCE = 60 * WIRE.tick_hz  # ticks after which a wall clock that disagrees alone is taken as set anew


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


def _certain(ticks: int, heard: int) -> bool:
    """Whether a rate that was measured over ``heard`` ticks tells the whole cycles in a silence of ``ticks``."""
    return abs(ticks) * _DESCRIBED <= 0.4 * TURN * heard


@dataclass
class _Gap:
    """The largest step of the numbers since the last anchor, as it was read."""

    ticks: int  # of the count, at its end
    step: tuple[int, int, float]  # frames, ticks, rate: what ``turns`` was given
    turns: int  # its answer
    size: int  # frames
    high: int  # highest place before it
    place: int  # of the frame at its end
    held: int  # frames without a tick before that frame
    since: tuple[int, int] | None  # place and ticks at the start of the rate measurement
    anchor: tuple[int, int, int] | None  # the last one before it
    certain: bool  # whether the board was heard for long enough before it to tell whole cycles of the number
    doubled: int = 0  # frames taken as repeated since

    @property
    def by_ticks(self) -> bool:
        """Whether the numbers stepped as the ticks let expect. After a sleep they do so by chance only."""
        frames, ticks, rate = self.step
        return abs(signed(round(ticks * rate - frames))) <= _LONG_ALIKE * abs(ticks * rate) + _FEW


class FrameCount:
    """The frames of one boot of a board, in the order of the stream. Numbers never restart here; see ``restart``."""

    def __init__(self) -> None:
        self._gap: _Gap | None = None
        self._short = False
        self.restart()

    def restart(self) -> None:
        """Start a new count: another boot, a reconnected port, another writer."""
        self._forget_gap()
        self._sequence: int | None = None
        self._place = self._high = 0  # of this frame in the board's count, and the highest so far
        self._held = 0  # frames without a tick that seem to step back; the next tick decides
        self._tick: int | None = None
        self._ticks = 0  # since the first tick of the count, unwrapped
        self._place_at_tick = 0
        self._since: tuple[int, int] | None = None  # place and ticks at the start of the rate measurement
        self._anchor: tuple[int, int, int] | None = None  # ticks of the count, wall clock and own clock of the host, ns
        self._stepped = False  # numbers stepped ahead at a frame without a tick since the last tick

    def new_rate(self) -> None:
        """The board's rate was changed, so earlier frames do not determine the present rate."""
        self._since = None

    @property
    def at_least(self) -> bool:
        """Whether more frames may be missing than were counted: in a silence of which the number of whole cycles is not
        certain, because the board was heard for a few seconds only.
        """
        return self._short or (self._gap is not None and not self._gap.certain)

    def _forget_gap(self) -> None:
        self._short, self._gap = self.at_least, None

    @property
    def sequence(self) -> int | None:
        """Number of the last frame; None at the begin of a count."""
        return self._sequence

    @property
    def settled(self) -> bool:
        """True if nothing is undecided: frames that follow by one each can be skipped together."""
        decided = not self._held and not self._stepped and self._place == self._high
        return self._tick is not None and self._since is not None and decided

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
            self._stepped = self._stepped or self._place > self._high + 1
        else:
            ticks = 0 if self._tick is None else (tick - self._tick + _WRAP // 2) % _WRAP - _WRAP // 2
            frames = self._place - self._place_at_tick
            rate, heard, cycles = self._rate, self._heard, 0
            if self._tick is not None and (frames <= 0 or abs(ticks) > LONG):
                cycles = turns(frames, ticks, rate) if rate else 0
                self._place += TURN * cycles
            self._note(tick, ticks)
            repeated = ticks < 0 and (self._place <= self._high if rate else -ticks <= heard)
            silence = 0 if repeated else ticks % _WRAP
            certain = silence < _UNAMBIGUOUS or _certain(silence, heard)
            if not certain or (rate and (self._stepped or self._place != self._high + 1 + self._held)):
                self._look_at_gap((frames, ticks, rate), cycles, certain=certain)
            self._stepped = False
        held, self._held = self._held, 0
        if self._place <= self._high:
            if self._gap:
                self._gap.doubled += held + 1
            return 0, held + 1
        missing = max(0, self._place - self._high - 1 - held)
        self._high = self._place
        return missing, 0

    def _look_at_gap(self, step: tuple[int, int, float], cycles: int, *, certain: bool) -> None:
        size = abs(step[0] + TURN * cycles)
        if self._gap is None or size > self._gap.size or (self._gap.certain and not certain):
            doubled = self._gap.doubled if self._gap else 0
            self._forget_gap()
            places = self._high, self._place, self._held
            self._gap = _Gap(self._ticks, step, cycles, size, *places, self._since, self._anchor, certain, doubled)

    def anchor(self, tick: int, unix_ns: int, monotonic_ns: int) -> tuple[int, int]:
        """An anchor of the stream; (frames missing besides those counted, frames wrongly counted as repeated, as a
        negative number).

        tick : of a frame that arrived at those times of the computer's wall clock and of its own clock
        Only a sleep of the computer while the board ran on changes the count. The wall clock is then ahead by whole
        wraps of the ticks, and the board's clock disagrees with the computer's own or with the numbers.
        """
        if self._tick is None:
            return 0, 0
        ticks = self._ticks + (tick - self._tick + _WRAP // 2) % _WRAP - _WRAP // 2
        before, here = self._anchor, (ticks, unix_ns, monotonic_ns)
        if before is None:
            self._anchor = here
            return 0, 0
        board = ticks - before[0]
        wall, own = ((now - then) * WIRE.tick_hz / 1e9 for now, then in zip(here[1:], before[1:], strict=True))
        gap = self._gap if self._gap and self._gap.ticks <= ticks else None
        wraps = round((wall - board) / _WRAP)
        slept = wraps > 0 and gap and not (_agree(own, board) and gap.by_ticks)
        if gap and (slept or not gap.certain):
            return self._judge(gap, wraps if slept else 0, here)
        if _agree(wall, board) or board > _PATIENCE:
            self._anchor = here
            if gap:
                self._forget_gap()
        return 0, 0

    def _judge(self, gap: _Gap, wraps: int, here: tuple[int, int, int]) -> tuple[int, int]:
        """What a gap makes the count short by, with ``wraps`` turns of the clock more in it; nothing as long as the
        board has not been heard for long enough beside it.
        """
        rate, heard = self._rate_beside(gap)
        silence = gap.step[1] + wraps * _WRAP if wraps else gap.step[1] % _WRAP
        since = self._anchor  # the gap is between two anchors, and the wall clock knows of a pause
        between = wraps > 0 or (since is not None and gap.anchor == since and abs(here[1] - since[1]) >= PAUSE)
        gap.certain = between and _certain(silence, heard)
        if between and heard and not gap.certain:
            return 0, 0  # a later anchor judges
        self._forget_gap()
        if not (wraps or gap.certain):
            self._anchor = here
            return 0, 0
        self._anchor = here[0] + silence - gap.step[1], *here[1:]
        return self._lengthened(gap, silence, rate)

    def _rate_beside(self, gap: _Gap) -> tuple[float, int]:
        """Frames a tick before and after a gap, and the ticks in which they were heard; 0 ticks where the rate was
        changed after the gap: then nothing more is to be learnt about the rate before it.
        """
        frames, ticks, rate = gap.step
        if self._since is None or self._since != gap.since:
            return rate, 0
        heard = self._ticks - self._since[1] - ticks
        frames = self._place_at_tick - self._since[0] - frames - TURN * gap.turns
        return min(max(frames / heard, 0.0), FASTEST) if heard else rate, heard

    def _lengthened(self, gap: _Gap, silence: int, rate: float) -> tuple[int, int]:
        """A gap was ``silence`` ticks long: what the count was short by, see ``anchor``."""
        frames, ticks, _ = gap.step
        further = TURN * (turns(frames, silence, rate) - gap.turns)
        self._ticks += silence - ticks
        self._place += further
        self._place_at_tick += further
        if gap.place > gap.high:
            self._high += further
            return further, 0
        self._high = self._place
        return gap.place + further - gap.high - 1 - gap.held, -gap.doubled

    def _note(self, tick: int | None, ticks: int) -> None:
        if tick is None:
            return
        self._ticks += ticks
        self._tick, self._place_at_tick = tick, self._place
        if self._since is None:
            self._since = self._place, self._ticks

    @property
    def _heard(self) -> int:
        """Ticks over which the rate is measured."""
        return 0 if self._since is None else self._ticks - self._since[1]

    @property
    def _rate(self) -> float:
        """Frames a tick so far; 0 while it is unknown."""
        if self._since is None or self._heard < WIRE.tick_hz // 10:
            return 0.0
        rate = (self._place_at_tick - self._since[0]) / self._heard
        return min(max(rate, 0.0), FASTEST)


def _agree(ticks: float, others: float) -> bool:
    """Whether two lengths of time are the same but for the errors of clocks and of late frames."""
    return abs(ticks - others) <= _AGREE + 0.01 * abs(others)
