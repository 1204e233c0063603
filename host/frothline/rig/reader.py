"""The reader thread of the port: it passes bytes first to the log, then to a bounded queue.

When the port is lost the thread reports it, searches the board again (every 0.2 s, growing to 2 s) and continues. If
the consumer of the queue falls behind, the oldest of the *live* bytes are dropped and counted; the log has them all.
"""

from __future__ import annotations

import threading
import time
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Protocol

from frothline.errors import FrothlineError, PortLost
from frothline.rig.finder import Whereabouts
from frothline.rig.handshake import BoardIdentity, Chunk, Handshake, ask
from frothline.rig.playback import Playback
from frothline.rig.port import Line, open_port

FIRST_PAUSE, LONGEST_PAUSE, GROWTH = 0.2, 2.0, 1.6  # s, s, -
LIVE_BYTES = 1 << 18  # ten seconds at the highest line rate

LAST_FRAME = 0.5  # s
ASK_AGAIN_PATIENCE = 3.5  # s for a port that came back: a bootloader and a little

Log = Callable[[bytes], None]
Told = Callable[[str, str], None]
FindAgain = Callable[[], "tuple[Line, Handshake] | None"]


@dataclass(frozen=True)
class Gone:
    """The port was lost."""

    why: PortLost
    unix_ns: int
    monotonic_ns: int


@dataclass(frozen=True)
class Back:
    """The board was found again; ``answer.chunks`` have been logged and follow."""

    answer: Handshake
    words: str
    unix_ns: int
    monotonic_ns: int


@dataclass(frozen=True)
class Stranger:
    """Another board answered during the search; reported once for each board."""

    url: str
    found: BoardIdentity
    expected: BoardIdentity
    unix_ns: int
    monotonic_ns: int

    @property
    def words(self) -> str:
        return (
            f"another board is on {self.url}: {self.found} answers, {self.expected} is expected."
            " Plug the right board in, or start again to use this one"
        )


Item = Chunk | Gone | Back | Stranger


class HandOver:
    """From the reader to the live thread: in order, bounded in bytes; only chunks are dropped, the oldest first."""

    def __init__(self, most: int = LIVE_BYTES) -> None:
        self.skipped = 0  # bytes dropped so far
        self._most = most
        self._bytes = 0
        self._items: deque[Item] = deque()
        self._changed = threading.Condition()

    def put(self, item: Item) -> None:
        with self._changed:
            self._items.append(item)
            if isinstance(item, Chunk):
                self._bytes += len(item.data)
                if self._bytes > self._most:
                    self._drop()
            self._changed.notify()

    def _drop(self) -> None:
        kept: deque[Item] = deque()
        for item in self._items:
            if isinstance(item, Chunk) and self._bytes > self._most:
                self._bytes -= len(item.data)
                self.skipped += len(item.data)
            else:
                kept.append(item)
        self._items = kept

    def take(self, timeout: float) -> list[Item]:
        """Take all waiting items; waits up to ``timeout`` s for one."""
        with self._changed:
            if not self._items:
                self._changed.wait(timeout)
            items, self._items = list(self._items), deque()
            self._bytes = 0
            return items


class LiveBytes(Protocol):
    """What the live thread takes from; ``skipped`` counts the bytes that were dropped before it took them."""

    @property
    def skipped(self) -> int: ...

    def take(self, timeout: float) -> list[Item]: ...


class PortReader(Protocol):
    """The interface of a port reader for a ``Rig``: a thread here, or a separate process."""

    @property
    def live(self) -> LiveBytes: ...

    @property
    def url(self) -> str: ...

    @property
    def ended(self) -> bool: ...

    @property
    def simulation(self) -> Any: ...

    @property
    def playback(self) -> Any: ...

    def start(self) -> None: ...

    def is_alive(self) -> bool: ...

    def write(self, data: bytes) -> None: ...

    def stop(self) -> None: ...


class Reader(threading.Thread):
    """``line`` is open and has given ``answer``. ``find_again`` opens the same board after its port was lost: it gives
    an open line and its answer, or None, and never raises. By default the board is looked for at its old port and
    where it may have turned up.
    """

    def __init__(self, line: Line, answer: Handshake, find_again: FindAgain | None = None) -> None:
        super().__init__(name="frothline-reader", daemon=True)
        self.line = line
        self.live = HandOver()
        self._answer = answer
        self._whereabouts = Whereabouts(line.url)
        self._find_again = find_again or self._look_for_board
        self._strangers: set[BoardIdentity] = set()
        self.stopping = threading.Event()
        self._log: Log | None = None
        self._told: Told | None = None
        self._leaving: threading.Event | None = None
        self._logging = threading.Lock()
        self._between = True  # the last byte was a zero: what comes next begins a frame
        self._open = False  # the log has had the beginning of a frame that it is to begin with

    @property
    def url(self) -> str:
        return self.line.url

    @property
    def ended(self) -> bool:
        return self.line.ended

    @property
    def simulation(self) -> Any:
        """See ``Line.simulation``."""
        return self.line.simulation

    @property
    def playback(self) -> Playback | None:
        """See ``Line.playback``."""
        return self.line.playback

    def write(self, data: bytes) -> None:
        """Send to the board. Raises PortLost."""
        self.line.write(data)

    # --- the log ----------------------------------------------------------------------------------------------------

    def attach(self, log: Log, told: Told | None = None) -> None:
        """Give all bytes to ``log``, from the next frame that begins: a recording is not to open with half a frame.

        ``told`` is called with ("lost" or "back", words) at that very place between the bytes.
        """
        with self._logging:
            self._log, self._told = log, told
            self._open = self._between

    def detach(self) -> None:
        """Give no more, once the frame that is under way has ended (or has not for LAST_FRAME s)."""
        with self._logging:
            if self._log is None:
                return
            if self._between or not self._open or not self.is_alive():
                self._log = self._told = None
                return
            self._leaving = threading.Event()
        self._leaving.wait(LAST_FRAME)
        with self._logging:
            self._log = self._told = self._leaving = None

    def _keep(self, data: bytes) -> None:
        with self._logging:
            self._between = data.endswith(b"\0")
            if self._log is None:
                return
            if not self._open:
                begin = data.find(b"\0") + 1
                self._open = begin > 0
                data = data[begin:] if begin else b""
            end = data.find(b"\0") + 1 if self._leaving is not None else 0
            if end:
                data = data[:end]
            if data:
                self._log(data)
            if end and self._leaving is not None:
                self._log = self._told = None
                self._leaving.set()

    def _tell(self, kind: str, words: str) -> None:
        """Report to the log that the port was lost, perhaps within a frame, or came back; the next bytes begin a frame
        or are marked as torn.
        """
        with self._logging:
            self._between = self._open = True
            if self._told is not None:
                self._told(kind, words)

    # --- the thread -------------------------------------------------------------------------------------------------

    def run(self) -> None:
        for chunk in self._answer.chunks:
            self._hand_on(chunk)
        while not self.stopping.is_set():
            try:
                data = self.line.read()
            except PortLost as why:
                if self.stopping.is_set():
                    break
                self._wait_for_it(why)
                continue
            if data:
                self._hand_on(Chunk.now(data))
        self.line.close()

    def _hand_on(self, chunk: Chunk) -> None:
        self._keep(chunk.data)
        self.live.put(chunk)

    def _wait_for_it(self, why: PortLost) -> None:
        began = time.monotonic()
        self._tell("lost", why.what)
        self._strangers.clear()
        self.line.close()
        self.live.put(Gone(why, time.time_ns(), time.monotonic_ns()))
        pause = FIRST_PAUSE
        while not self.stopping.wait(pause):
            found = self._find_again()
            if found is not None:
                self.line, answer = found
                words = f"{self.line.url} is back after {time.monotonic() - began:.1f} s"
                self._tell("back", words)
                self.live.put(Back(answer, words, time.time_ns(), time.monotonic_ns()))
                for chunk in answer.chunks:
                    self._hand_on(chunk)
                return
            pause = min(LONGEST_PAUSE, pause * GROWTH)

    def _look_for_board(self) -> tuple[Line, Handshake] | None:
        """The same board at its old port, or where it may have turned up."""
        for url in self._whereabouts.may_be_at(self.line.url):
            if self.stopping.is_set():
                return None
            try:
                line = open_port(url)
            except FrothlineError:
                continue
            try:
                answer = ask(line, ASK_AGAIN_PATIENCE, self.stopping)
            except FrothlineError:
                line.close()
                continue
            if self._answer.identity.is_same_board(answer.identity):
                return line, answer
            line.close()
            self._name_stranger(url, answer.identity)
        return None

    def _name_stranger(self, url: str, found: BoardIdentity) -> None:
        if found not in self._strangers:
            self._strangers.add(found)
            self.live.put(Stranger(url, found, self._answer.identity, time.time_ns(), time.monotonic_ns()))

    def stop(self) -> None:
        """End the thread and close the port; returns within about a second."""
        self.stopping.set()
        if self.is_alive() and threading.current_thread() is not self:
            self.join(3.0)
        if not self.is_alive():
            self.line.close()
