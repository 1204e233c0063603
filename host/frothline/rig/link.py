"""An open rig: port, description, commands and received messages.

Two threads. The *reader* (rig/reader.py) owns the port and writes the log. The *live* thread of this file decodes,
keeps the clock, pairs commands with their answers, and calls ``on_batch`` and ``on_event``, always in the order of the
stream. The target state of the board (stream, at this rate) is stored; each description that differs from it is
answered with the correcting command, so that a board that was reset or missed a command recovers.
"""

from __future__ import annotations

import itertools
import logging
import threading
import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any, Self

from frothline.errors import BoardRefused, PortLost, PortSilent
from frothline.rig.clock_drift import DriftEstimator
from frothline.rig.finder import find_one
from frothline.rig.handshake import BoardIdentity, Chunk, Handshake, Introduction, ask
from frothline.rig.port import open_port
from frothline.rig.reader import Back, Gone, PortReader, Reader, Stranger
from frothline.wire import (
    AFTER_DESCRIPTION,
    MESSAGES,
    Damage,
    Received,
    StreamDecoder,
    encode,
    gather,
    name_of,
    names_of_bits,
)

# s that messages are collected for: 12.5 batches a second, whatever the line rate. Each begins at a multiple of it on
# the computer's monotonic clock, so that the messages to the pages can be made right after it. A batch costs nearly the
# same for one message as for a hundred; at 20 batches a second a change would be seen 15 ms earlier on average.
BATCH = 0.08
ACK_WITHIN = 0.8  # s; the slowest answer is that to write_settings, some 30 bytes of EEPROM at 3.4 ms

_log = logging.getLogger(__name__)


@dataclass(frozen=True)
class Ack:
    """``result`` is a name of the enumeration ack_result; only "ok" comes out of ``Rig.command``."""

    command: str
    result: str


@dataclass(frozen=True)
class LinkEvent:
    """``kind`` is "lost", "back", "board_reset" or "other_board"; ``words`` a sentence for people and for the
    recording.
    """

    kind: str
    words: str
    unix_ns: int
    monotonic_ns: int
    error: dict[str, str] | None = None


@dataclass(frozen=True)
class MessageBatch:
    """Messages received together. ``tables`` by message name; ``description`` is the latest whole introduction of the
    board, ``described_anew`` says that it says something new. Times are those of the arrival of ``last_tick``.
    """

    tables: Mapping[str, Any]
    damage: tuple[Damage, ...]
    description: Mapping[str, Any]
    described_anew: bool
    last_tick: int | None
    unix_ns: int
    monotonic_ns: int


@dataclass(frozen=True)
class LinkCounts:
    """Counts since the rig was opened; ``missing`` by the board's sequence numbers, ``skipped`` in bytes not seen
    live.
    """

    frames: int = 0
    bytes: int = 0
    missing: int = 0
    at_least: bool = False  # whether more may be missing
    unknown: int = 0
    skipped: int = 0
    damage: Mapping[str, int] = field(default_factory=dict)


@dataclass
class _Waiting:
    command: int
    sequences: set[int]
    answered: threading.Event = field(default_factory=threading.Event)
    result: int = 0


def _nothing(_: Any) -> None:
    return


class Rig:
    """An open rig, made by ``open_rig``. ``run`` starts it, ``close`` ends it."""

    def __init__(self, reader: PortReader, answer: Handshake) -> None:
        """``reader`` has the open port and finds the board again; ``answer`` is what the board said when asked."""
        self.clock = DriftEstimator()
        self.answer = answer
        self.tables: dict[str, Any] = answer.tables
        self.settings: Any = None  # the latest settings message, np.void
        self.last_tick = 0
        self.trouble = ""  # what ``on_batch`` raised last
        self.reader = reader
        self._live = threading.Thread(target=self._run_live, name="frothline-live", daemon=True)
        self._on_batch: Callable[[MessageBatch], None] = _nothing
        self._on_event: Callable[[LinkEvent], None] = _nothing
        self._decoder = StreamDecoder()
        self._counts = LinkCounts()
        self._before = LinkCounts()
        self._introduction = Introduction(answer.tables)
        self._boot: int | None = None
        self._sequence = itertools.count()
        self._waiting: list[_Waiting] = []
        self._wait_lock = threading.Lock()
        self._wish_streaming = False
        self._wish_rate: int | None = None
        self._away = False
        self.pause = BATCH  # s between two batches; each begins at a multiple of it
        self._rounds = 0  # of the live thread: bytes taken and handed to ``on_batch``
        self._ended = False
        self._closing = False

    # --- life -------------------------------------------------------------------------------------------------------

    def run(
        self,
        on_batch: Callable[[MessageBatch], None] = _nothing,
        on_event: Callable[[LinkEvent], None] = _nothing,
        *,
        rate: int | None = None,
        stream: bool = True,
    ) -> Rig:
        """Start the threads and, unless ``stream`` is False, the stream. The two callbacks run in the live thread and
        must neither block for long nor call ``command``.
        """
        self._on_batch, self._on_event = on_batch, on_event
        self._wish_streaming, self._wish_rate = stream, rate
        self.reader.start()
        self._live.start()
        self._wish(self.answer.description)
        return self

    def close(self) -> None:
        """Stop threads, close the port. The board goes on streaming if it was: another program may want to listen."""
        self._closing = True
        self.reader.stop()
        if self._live.is_alive() and threading.current_thread() is not self._live:
            self._live.join(3.0)

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    @property
    def url(self) -> str:
        return self.reader.url

    @property
    def simulation(self) -> Any:
        """See ``Line.simulation``."""
        return self.reader.simulation

    @property
    def playback(self) -> Any:
        """Control of a playback, as ``rig.playback.Playback``; None with a board."""
        return self.reader.playback

    @property
    def ended(self) -> bool:
        """Whether a playback has ended and all of it was passed to ``on_batch``."""
        return self._ended

    def catch_up(self, timeout: float) -> bool:
        """Wait until everything received before this call was passed to ``on_batch``; returns False after ``timeout``
        s. Not for the live thread itself.
        """
        until = time.monotonic() + timeout
        wanted = self._rounds + 2  # the round that is going on may have begun before
        while self._live.is_alive() and self._rounds < wanted:
            if time.monotonic() > until:
                return False
            time.sleep(0.005)
        return True

    @property
    def away(self) -> bool:
        """Whether the port is lost at present."""
        return self._away

    @property
    def counts(self) -> LinkCounts:
        return self._counts

    # --- commands -----------------------------------------------------------------------------------------------------

    def command(self, name: str, *, within: float = ACK_WITHIN, **fields: Any) -> Ack:
        """Send a command and wait for its answer; sends it once more when none comes in time.

        Raises BoardRefused, PortSilent, PortLost.
        """
        if threading.current_thread() is self._live:
            raise RuntimeError("a command cannot be given from the live thread")
        waiting = _Waiting(MESSAGES[name].id, set())
        with self._wait_lock:
            self._waiting.append(waiting)
        try:
            for attempt in range(2):
                sequence = next(self._sequence) & 0xFFFF
                waiting.sequences.add(sequence)
                # On the second try a zero first: it closes what noise may have opened on the board's side.
                self.reader.write((b"\0" if attempt else b"") + encode(name, sequence, **fields))
                if waiting.answered.wait(within):
                    break
            else:
                if self._away:
                    raise PortLost(f"the port was lost while {name} waited for its answer", where=self.url)
                raise PortSilent(
                    f"the board did not answer {name} within twice {within:g} s",
                    where=self.url,
                    remedy="Check the state of the link; press the board's reset button if frames do not arrive",
                )
        finally:
            with self._wait_lock:
                self._waiting.remove(waiting)
        result = name_of("ack_result", waiting.result)
        if result != "ok":
            raise BoardRefused(f"the board refused {name}: {result.replace('_', ' ')}", where=self.url)
        return Ack(name, result)

    def describe(self) -> None:
        """Ask for a description without waiting; it comes in a batch."""
        self._send("describe")

    def _send(self, name: str, **fields: Any) -> None:
        try:
            self.reader.write(encode(name, next(self._sequence) & 0xFFFF, **fields))
        except PortLost:
            pass  # the reader notices, finds the board again, and the wish is made then

    def _wish(self, description: Any) -> None:
        if self._wish_rate is not None and int(description["rate"]) != self._wish_rate:
            self._send("set_rate", rate=self._wish_rate)
        if self._wish_streaming and not int(description["streaming"]):
            self._send("start")

    # --- the live thread --------------------------------------------------------------------------------------------

    def _run_live(self) -> None:
        while True:
            began = time.monotonic()
            items = self.reader.live.take(0.2)
            if not items:
                self._ended = self.reader.ended
                self._rounds += 1
                if not self.reader.is_alive():
                    return
                continue
            chunks: list[Chunk] = []
            for item in items:
                if isinstance(item, Chunk):
                    chunks.append(item)
                    continue
                self._decode(chunks)
                chunks = []
                self._notice(item)
            self._decode(chunks)
            self._rounds += 1
            if (now := time.monotonic()) - began < self.pause:
                time.sleep(self.pause - now % self.pause)

    def _guarded(self, call: Callable[[Any], None], what: Any) -> None:
        """Call a callback; its errors must not end link and recording."""
        try:
            call(what)
        except Exception as error:
            if self._closing and isinstance(error, PortLost):
                return  # the port was closed while a callback was about to use it
            self.trouble = str(error)
            _log.exception("a listener of the rig failed")

    def _decode(self, chunks: list[Chunk]) -> None:
        received: list[Received] = []
        damage: list[Damage] = []
        last: tuple[int, int, int] | None = None
        for chunk in chunks:
            tick: int | None = None
            for event in self._decoder.feed(chunk.data):
                if isinstance(event, Damage):
                    damage.append(event)
                    continue
                received.append(event)
                if event.name == "line":
                    tick = int(event.record["tick"])
                elif event.name == "ack":
                    self._pair(event.record)
                elif event.name == "description":
                    if self._look_for_reset(event.record, chunk):
                        tick = last = None  # of the boot before: no anchor may tie it to this one
                elif event.name == "settings":
                    self.settings = event.record
            if tick is not None:
                if not self.clock.feed(tick, chunk.monotonic_ns):
                    self.clock.restart()
                    self.describe()  # a board that went back in time has started again; let it say so
                self.last_tick = tick
                last = (tick, chunk.unix_ns, chunk.monotonic_ns)
                self._decoder.anchor(*last)
        anew = self._hear(received)
        self._count()
        if received or damage:
            tick_, unix_ns, monotonic_ns = last or (None, chunks[-1].unix_ns, chunks[-1].monotonic_ns)
            batch = MessageBatch(gather(received), tuple(damage), self.tables, anew, tick_, unix_ns, monotonic_ns)
            self._guarded(self._on_batch, batch)

    def _hear(self, received: list[Received]) -> bool:
        if not self._introduction.hear(received):
            return False
        before, self.tables = self.tables, self._introduction.tables
        self._look_for_other_board(BoardIdentity.of(before), BoardIdentity.of(self.tables))
        self._wish(self._introduction.description)
        first = self._described_once is False
        self._described_once = True
        return first or _key(before) != _key(self.tables)

    _described_once = False

    def _count(self) -> None:
        now, before = self._decoder.counts, self._before
        damage = dict(before.damage)
        for reason, count in now.reasons.items():
            if reason != "unknown-id":
                damage[reason] = damage.get(reason, 0) + count
        self._counts = LinkCounts(
            before.frames + now.frames,
            before.bytes + now.bytes,
            before.missing + now.lost,
            before.at_least or self._decoder.at_least,
            before.unknown + now.unknown,
            self.reader.live.skipped,
            damage,
        )

    def _pair(self, ack: Any) -> None:
        with self._wait_lock:
            for waiting in self._waiting:
                if int(ack["command"]) == waiting.command and int(ack["command_sequence"]) in waiting.sequences:
                    waiting.result = int(ack["result"])
                    waiting.answered.set()

    def _look_for_reset(self, description: Any, chunk: Chunk) -> bool:
        boot = int(description["boot_count"])
        reset = self._boot is not None and boot != self._boot
        if reset:
            self.clock.restart()
            causes = " and ".join(names_of_bits("reset_cause", int(description["reset_cause"]))).replace("_", " ")
            words = f"the board restarted ({causes or 'cause unknown'})"
            self._guarded(self._on_event, LinkEvent("board_reset", words, chunk.unix_ns, chunk.monotonic_ns))
        self._boot = boot
        return reset

    def _look_for_other_board(self, before: BoardIdentity, now: BoardIdentity) -> None:
        """Another board in the middle of the stream, on a line whose loss was not seen."""
        if before.number and now.number and not before.is_same_board(now):
            words = f"another board is connected: {now} instead of {before}"
            self._guarded(self._on_event, LinkEvent("other_board", words, time.time_ns(), time.monotonic_ns()))

    def _notice(self, item: Gone | Back | Stranger) -> None:
        if isinstance(item, Stranger):
            event = LinkEvent("other_board", item.words, item.unix_ns, item.monotonic_ns)
        elif isinstance(item, Gone):
            self._away = True
            self._count()
            self._before = self._counts
            self._decoder = StreamDecoder()
            event = LinkEvent("lost", item.why.what, item.unix_ns, item.monotonic_ns, item.why.as_dict())
        else:
            self._away = False
            event = LinkEvent("back", item.words, item.unix_ns, item.monotonic_ns)
        self._guarded(self._on_event, event)


def _key(tables: Mapping[str, Any]) -> tuple[Any, ...]:
    """What a description says that a converter hangs on: not its tick, nor whether it streams."""
    row = tables["description"][-1]
    said = tuple(
        bytes(row[name]) if row.dtype[name].kind == "S" else int(row[name])
        for name in row.dtype.names
        if name not in {"id", "sequence", "tick", "streaming"}
    )
    drop = {"id", "sequence"}
    following = tuple(
        bytes(one[[name for name in one.dtype.names if name not in drop]].tobytes())
        for name in AFTER_DESCRIPTION
        for one in tables.get(name, ())
    )
    return said, following


def open_reader(url: str | None = None, *, patience: float | None = None) -> tuple[Reader, Handshake]:
    """Open the rig at ``url``, or find it by its answer, and wait for its description; the reader is not started.

    Raises PortNotFound, PortBusy, PortError, PortSilent, WrongDevice, UnknownLayout (another protocol), InputError.
    """
    if url is None:
        line, answer = find_one()
    else:
        line = open_port(url)
        try:
            answer = ask(line) if patience is None else ask(line, patience)
        except BaseException:
            line.close()
            raise
    return Reader(line, answer), answer


def open_rig(url: str | None = None, *, patience: float | None = None) -> Rig:
    """Open a rig whose port is read by a thread of this process; opens and raises as ``open_reader``."""
    return Rig(*open_reader(url, patience=patience))
