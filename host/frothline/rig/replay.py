"""Playback of a recording in place of a board: ``replay://<path>?speed=1&from=0.5``.

The board's own frames come at the pace of the board's own ticks, damage between them included; what the host wrote
into the recording stays out. Commands are answered: ``describe`` with the latest introduction played, the others with
an acknowledgement that changes nothing. Frames are numbered on by as many as were put in, so that what was missing in
the recording is missing here, and nothing else. ``speed=0`` plays as fast as it is read. ``from`` is the part of the
recording, by bytes, that is passed over at the start: the description in force there is the one that is sent.
"""

from __future__ import annotations

import math
import sys
import threading
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any
from urllib.parse import parse_qsl, unquote, urlencode

import serial
from serial.serialutil import PortNotOpenError, SerialBase, to_bytes

from frothline.errors import InputError, NotARecording
from frothline.rig.playback import Playback
from frothline.wire import AFTER_DESCRIPTION, ENUMS, WIRE, Damage, Received, StreamDecoder, encode
from frothline.wire.encoder import frame
from frothline.wire.segment_head import LONGEST_HEAD, Head, read_head, valid_parts
from frothline.wire.ticks import apart

_READ = 1 << 16  # bytes of the file at a time
_AT_ONCE = 4096  # bytes handed out at most ahead of the reader, at speed 0
_LONGEST_PAUSE = 5.0  # s; a longer silence in the recording is cut to this


LIMITS = {"speed": (1.0, math.inf), "from": (0.0, 1.0)}  # the options of the URL: default and highest value


def read_url(url: str) -> tuple[Path, float, float]:
    """Read path, speed and starting share (0 to 1) from the URL. Raises InputError with the problem."""
    rest = url.split("://", 1)[1]
    path, _, query = rest.partition("?")
    found = {name: default for name, (default, _) in LIMITS.items()}
    for name, text in parse_qsl(query, keep_blank_values=True):
        try:
            value = float(text)
        except ValueError:
            value = math.nan
        if name not in LIMITS or not 0.0 <= value <= LIMITS[name][1]:
            raise InputError(
                f"{name}={text} is not an option of a replay",
                where=url,
                remedy="Give speed=<number>, 0 is as fast as possible; or from=<0 to 1>, the part to pass over",
            )
        found[name] = value
    return Path(unquote(path)), found["speed"], found["from"]


def is_replay(url: str | None) -> bool:
    """Whether a port's address is that of a recording that is played back."""
    return url is not None and url.startswith("replay://")


def from_share(url: str, share: float) -> str:
    """The URL of the same playback, started at a share (0 to 1) of the recording."""
    path, _, query = url.partition("?")
    kept = [(name, text) for name, text in parse_qsl(query, keep_blank_values=True) if name != "from"]
    query = urlencode([*kept, ("from", f"{share:g}")] if share > 0.0 else kept)
    return f"{path}?{query}" if query else path


def segments(path: Path) -> list[Path]:
    """The files of a recording, in order: ``name.froth name.s001.froth …``; a later segment alone is played alone."""
    return [path, *sorted(path.parent.glob(f"{path.stem}.s[0-9][0-9][0-9]{path.suffix}"))]


def board_frames(path: Path) -> Iterator[tuple[Received | None, bytes]]:
    """Every stretch of the recording that came from a board: (message, frame), or (None, bytes) where it is damaged.

    What a segment repeats of the one before it, because a write had failed, comes once.
    """
    files = segments(path)
    for k, limit in valid_parts([_head(one) for one in files]):
        yield from _frames_of(files[k], limit)


def _head(path: Path) -> Head:
    with path.open("rb") as file:
        return read_head(file.read(LONGEST_HEAD))


def _frames_of(path: Path, limit: int | None) -> Iterator[tuple[Received | None, bytes]]:
    decoder = StreamDecoder()
    kept, kept_at = b"", 0
    left = sys.maxsize if limit is None else limit  # it may still be growing
    with path.open("rb") as file:
        while True:
            data = file.read(min(_READ, left))
            left -= len(data)
            kept += data
            for event in decoder.feed(data) if data else decoder.finish():
                if isinstance(event, Damage):
                    start = event.offset - kept_at
                    yield None, kept[start : start + event.length] + b"\0"
                elif event.message.origin == "board":
                    yield event, event.raw
            if not data:
                return
            done = len(kept) - decoder.pending
            kept, kept_at = kept[done:], kept_at + done


class ReplayPort(SerialBase):  # type: ignore[misc]  # pyserial is not typed
    """The port of a playback, with the interface of a pyserial port."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        self.is_open: bool
        super().__init__(*args, **kwargs)

    def open(self) -> None:
        """Open; raises InputError (the URL), SerialException (no file), NotARecording (no frame of a board in it)."""
        path, speed, share = read_url(str(self._port))
        if not path.is_file():
            raise serial.SerialException(2, f"no recording at {path}")
        self._introduced = _introduction(path)  # of the boot that is being played
        self._frames = board_frames(path)
        self._out = bytearray()
        self._order = threading.Lock()  # a frame is numbered and appended at once: reader and commander are two threads
        self._put_in = 0  # frames of our own
        self._sequence = 0  # of the last frame handed out
        self._commands = StreamDecoder()
        self._next: tuple[Received | None, bytes] | None = None
        self._played = 0.0  # s of board time
        self._last_tick: int | None = None
        self._last_boot: int | None = None
        self._handed = 0  # bytes of the board's frames
        self.ended = False
        self.playback = Playback(path, sum(one.stat().st_size for one in segments(path)), speed)
        self._fetch()
        self._pass_over(share)
        self._sequence = self._first_sequence()
        self.is_open = True

    def close(self) -> None:
        self.is_open = False

    @property
    def in_waiting(self) -> int:
        """Number of bytes due at the present time."""
        self._check()
        self._advance()
        return len(self._out)

    def read(self, size: int = 1) -> bytes:
        """Up to ``size`` bytes; waits for them no longer than the timeout."""
        self._check()
        until = time.monotonic() + (self._timeout if self._timeout is not None else 3600.0)
        while True:
            self._advance()
            left = until - time.monotonic()
            if len(self._out) >= size or left <= 0 or not self.is_open:
                break
            time.sleep(min(left, 0.005))
        with self._order:
            data = bytes(self._out[:size])
            del self._out[:size]
        return data

    def write(self, data: bytes) -> int:
        """A command; its answer waits to be read."""
        self._check()
        for event in self._commands.feed(to_bytes(data)):
            if isinstance(event, Received) and event.message.origin == "command":
                self._answer(event)
        return len(data)

    # --- inside -----------------------------------------------------------------------------------------------------

    def _check(self) -> None:
        if not self.is_open:
            raise PortNotOpenError

    def _fetch(self) -> None:
        self._next = next(self._frames, None)
        if self._next is None:
            return
        received = self._next[0]
        if received is None:
            return
        if received.name == "description":
            boot = int(received.record["boot_count"])
            if self._last_boot is not None and boot != self._last_boot:
                self._last_tick = None
            self._last_boot = boot
        if received.name == "line":
            tick = int(received.record["tick"])
            step = 0 if self._last_tick is None else apart(tick, self._last_tick)
            self._last_tick = tick
            self._played += min(max(step, 0) / WIRE.tick_hz, _LONGEST_PAUSE)

    def _pass_over(self, share: float) -> None:
        """Pass over a share of the recording; its descriptions are kept."""
        until = share * self.playback.size
        while self._next is not None and self._handed < until:
            received, raw = self._next
            self._handed += len(raw)
            if received is not None:
                self._introduced.see(received)
            self._fetch()
        self.playback.begin_at(self._played, self._handed)

    def _first_sequence(self) -> int:
        """One before that of the first frame, so that what is put in before it leaves no hole."""
        first = self._next[0] if self._next is not None else None
        return 0 if first is None else (first.sequence - 1) & 0xFFFF

    def _advance(self) -> None:
        with self._order:
            self._hand_out()

    def _hand_out(self) -> None:
        while self._next is not None:
            if not self.playback.unpaced:
                if self._played > self.playback.due():
                    break
            elif len(self._out) >= _AT_ONCE:
                break
            received, raw = self._next
            self._handed += len(raw)
            if received is None:
                self._out += raw
            else:
                self._introduced.see(received)
                self._sequence = (received.sequence + self._put_in) & 0xFFFF
                self._out += _numbered(received, self._sequence) if self._put_in else raw
            self._fetch()
        self.ended = self._next is None and not self._out
        self.playback.note(self._played, self._handed, ended=self.ended)

    def _answer(self, command: Received) -> None:
        with self._order:
            self._put_in_answer(command)

    def _put_in_answer(self, command: Received) -> None:
        if command.name == "describe":
            for received in self._introduced.whole:
                self._insert(_numbered(received, self._number()))
        result = ENUMS["ack_result"]["ok"]
        self._insert(
            encode(
                "ack",
                self._number(),
                command=command.message.id,
                command_sequence=command.sequence,
                result=result,
            )
        )

    def _number(self) -> int:
        self._put_in += 1
        self._sequence = (self._sequence + 1) & 0xFFFF
        return self._sequence

    def _insert(self, made: bytes) -> None:
        self._out += made

    def reset_input_buffer(self) -> None:
        """Do nothing, so that a recording does not lose its beginning when the port is opened."""

    def reset_output_buffer(self) -> None:
        """Nothing is held back."""

    def _reconfigure_port(self) -> None:
        """Any line setting does."""

    _update_dtr_state = _update_rts_state = _update_break_state = _reconfigure_port


def _numbered(received: Received, sequence: int) -> bytes:
    """The same message with another sequence number."""
    payload = bytearray(received.record.tobytes())
    payload[1:3] = sequence.to_bytes(2, "little")
    return frame(bytes(payload))


class _Introduced:
    """The latest whole introduction of the board: its description with all messages that follow it."""

    def __init__(self) -> None:
        self.whole: list[Received] = []
        self._coming: list[Received] = []

    def see(self, received: Received) -> None:
        """The next frame of the board."""
        if received.name == "description":
            self._coming = [received]
        elif self._coming and received.name in AFTER_DESCRIPTION and (received.name != "channel" or self._missing):
            self._coming.append(received)
        else:
            return
        if self._missing == 0:
            self.whole = list(self._coming)

    @property
    def _missing(self) -> int:
        """Channels still to come."""
        channels = sum(one.name == "channel" for one in self._coming)
        return int(self._coming[0].record["channels"]) - channels


def _introduction(path: Path) -> _Introduced:
    """The first whole description with all messages that follow it."""
    found = _Introduced()
    for received, _ in board_frames(path):
        if received is None:
            continue
        if received.name == "description" and found.whole:
            break
        found.see(received)
    if not found.whole:
        raise NotARecording(
            "it contains no description of a board, so it cannot be replayed",
            where=str(path),
            remedy="Check it with `frothline verify`",
        )
    return found
