"""The handshake with a port: a rig is identified by its answer, never by the port's name.

A board may reset when the port is opened and sit in its bootloader for up to 2 s; it may be streaming already; it may
answer late; it may be another device. Each case ends in an Answer or in an error with the bytes received.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from frothline.errors import PortSilent, UnknownLayout, WrongDevice
from frothline.rig.port import Line
from frothline.wire import ENUMS, WIRE, Damage, Received, StreamDecoder, encode, gather, text

# When to ask, in s after opening. A board that runs answers the first at once. Between 0.3 s and 1.6 s the line is
# left in peace: bootloaders of common boards wait for an upload that long, and some start their wait again with every
# byte.
ASK_AT = (0.0, 0.3, 1.6, 2.1, 2.6, 3.2, 3.8, 4.4)
AGAIN = 0.3  # s after which a board that runs, but was not understood, is asked again
PATIENCE = 5.0  # s in all
FOLLOWING_WAIT = 0.3  # s more for what follows the channels: converter, linear sensors, the ambient module's constants
MOST_HEARD = 4_000_000  # bytes without a description, many times what a rig sends in that time
_AMBIENT = 1 << ENUMS["channel_kind"]["ambient"]
_EXCERPT = 24  # bytes
_ONCE = ("adc", "trimming")  # follow the channels, one of each
_LINEAR = ENUMS["sensor_kind"]["linear_pressure"]
_DESCRIBES_ADC = (0, 3)  # first firmware that describes its converter


@dataclass(frozen=True)
class Chunk:
    """Bytes as one read gave them, and when that read returned."""

    data: bytes
    unix_ns: int
    monotonic_ns: int

    @classmethod
    def now(cls, data: bytes) -> Chunk:
        return cls(data, time.time_ns(), time.monotonic_ns())


class Introduction:
    """Collects a description and the messages that follow it; ``tables`` is the latest whole set."""

    def __init__(self, known: Mapping[str, Any] | None = None) -> None:
        """``known``: tables of an earlier introduction of the same board."""
        self.tables: dict[str, Any] = dict(known or {})
        self._coming: list[Received] = []
        self._identity: Received | None = None

    def hear(self, received: Iterable[Received | Damage]) -> bool:
        """Whether these messages completed a set, or added to it what follows the channels."""
        complete = False
        for one in received:
            if not isinstance(one, Received):
                continue
            if one.name == "identity":
                self._identity = one
            elif one.name == "description":
                self._coming = [one]
                complete |= self._complete()
            elif one.name == "channel" and self._coming:
                if len(self._coming) <= int(self._coming[0].record["channels"]):
                    self._coming.append(one)
                    complete |= self._complete()
            elif one.name == "linear_sensor" and self.tables:
                row = gather([one])["linear_sensor"]
                others = self.tables.get("linear_sensor", row[:0])
                both = np.concatenate([others[others["kind"] != row["kind"]], row])
                self.tables = {**self.tables, "linear_sensor": both}
                complete = True
            elif one.name in _ONCE and self.tables:
                self.tables = {**self.tables, one.name: gather([one])[one.name]}
                complete = True
        return complete

    def _complete(self) -> bool:
        if len(self._coming) != 1 + int(self._coming[0].record["channels"]):
            return False
        kept = {name: self.tables[name] for name in (*_ONCE, "linear_sensor") if name in self.tables}
        identity = gather([self._identity]) if self._identity is not None else {}
        self.tables = {**kept, **identity, **gather(self._coming)}
        return True

    @property
    def description(self) -> np.void:
        return self.tables["description"][-1]  # type: ignore[no-any-return]

    @property
    def waits(self) -> bool:
        """Whether a message that surely follows the channels has not come yet."""
        row = self.description
        version = int(row["firmware_major"]), int(row["firmware_minor"])
        lines = {int(one["kind"]) for one in self.tables.get("channel", ()) if int(one["sensor"]) == _LINEAR}
        return (
            (bool(int(row["present"]) & _AMBIENT) and "trimming" not in self.tables)
            or (version >= _DESCRIBES_ADC and "adc" not in self.tables)
            or not lines <= {int(one["kind"]) for one in self.tables.get("linear_sensor", ())}
        )


@dataclass(frozen=True)
class BoardIdentity:
    """The identity of a board: ``number`` is drawn at its first boot, and 0 where the firmware is older than that or
    could not store it. The label may be changed, and may be shared by two boards.
    """

    kind: int
    label: str
    number: int = 0

    @classmethod
    def of(cls, tables: Mapping[str, Any]) -> BoardIdentity:
        """From the tables of an introduction."""
        row, drawn = tables["description"][-1], tables.get("identity", ())
        return cls(int(row["board_kind"]), text(row["label"]), int(drawn[-1]["number"]) if len(drawn) else 0)

    def is_same_board(self, other: BoardIdentity) -> bool:
        """By the numbers where both have one, else by kind and label."""
        if self.number and other.number:
            return self.number == other.number
        return (self.kind, self.label) == (other.kind, other.label)

    def __str__(self) -> str:
        label = f"{self.label!r}" if self.label else "without a label"
        return f"{label} ({self.number:08x})" if self.number else label


@dataclass(frozen=True)
class Handshake:
    """``tables`` holds description (1,), channel (n,) and, with an ambient module, trimming (1,); ``chunks`` is all
    that was heard meanwhile, to be decoded again by the caller; ``waited`` s.
    """

    tables: dict[str, Any]
    chunks: tuple[Chunk, ...]
    waited: float

    @property
    def description(self) -> np.void:
        return self.tables["description"][-1]  # type: ignore[no-any-return]

    @property
    def label(self) -> str:
        return text(self.description["label"])

    @property
    def identity(self) -> BoardIdentity:
        return BoardIdentity.of(self.tables)

    @property
    def firmware(self) -> str:
        row = self.description
        return f"{row['firmware_major']}.{row['firmware_minor']}.{row['firmware_patch']}"


def ask(line: Line, patience: float = PATIENCE, stop: threading.Event | None = None) -> Handshake:
    """Query the port until the board has described itself.

    Raises PortSilent (not a byte), WrongDevice (bytes, but no rig), UnknownLayout (a rig of another protocol),
    PortLost.
    """
    began = time.monotonic()
    decoder, introduction = StreamDecoder(), Introduction()
    chunks: list[Chunk] = []
    asked, asked_at, heard = 0, -AGAIN, 0
    complete_at: float | None = None
    while True:
        waited = time.monotonic() - began
        if complete_at is not None and (not introduction.waits or waited - complete_at > FOLLOWING_WAIT):
            return Handshake(introduction.tables, tuple(chunks), waited)
        if waited > patience or heard > MOST_HEARD or (stop is not None and stop.is_set()):
            break
        runs = decoder.counts.frames > 0  # no bootloader any more: it may be asked as often as it likes
        due = asked < len(ASK_AT) and waited >= ASK_AT[asked]
        if complete_at is None and (due or (runs and waited - asked_at >= AGAIN)):
            # The zero closes whatever noise the board may have heard before.
            line.write(b"\0" + encode("describe", asked))
            asked, asked_at = asked + 1, waited
        data = line.read()
        if not data:
            continue
        chunks.append(Chunk.now(data))
        heard += len(data)
        events = decoder.feed(data)
        _check_protocol(events, line.url)
        if introduction.hear(events) and complete_at is None:
            complete_at = waited
    raise _no_rig(line.url, decoder, chunks, waited)


def _check_protocol(events: Iterable[Received | Damage], url: str) -> None:
    for one in events:
        if isinstance(one, Received) and one.name == "description":
            theirs = int(one.record["protocol"])
            if theirs != WIRE.protocol:
                firmware = ".".join(str(one.record[f"firmware_{part}"]) for part in ("major", "minor", "patch"))
                older, newer = "the board's firmware", "this program"
                behind = older if theirs < WIRE.protocol else newer
                raise UnknownLayout(
                    f"a rig answers with protocol {theirs} (firmware {firmware}); this program requires protocol "
                    f"{WIRE.protocol}",
                    where=url,
                    remedy=f"Update {behind}",
                )


def excerpt(data: bytes) -> str:
    """The first bytes of what was heard, as hex and, where they read as text, as text.

    >>> excerpt(b"$GPGGA,,")
    '24 47 50 47 47 41 2c 2c ("$GPGGA,,")'
    """
    shown = data[:_EXCERPT]
    letters = "".join(chr(byte) if 32 <= byte < 127 else "·" for byte in shown)
    readable = sum(32 <= byte < 127 for byte in shown) > 0.7 * len(shown)
    more = " …" if len(data) > _EXCERPT else ""
    return shown.hex(" ") + more + (f' ("{letters}"{more})' if readable else "")


def _no_rig(url: str, decoder: StreamDecoder, chunks: list[Chunk], waited: float) -> Exception:
    heard = b"".join(chunk.data for chunk in chunks)
    if not heard:
        return PortSilent(
            f"the port is open, but no data arrived in {waited:.1f} s",
            where=url,
            remedy="Check the port, the board's power and its firmware. `frothline find` searches every port",
        )
    said = f"{len(heard)} bytes in {waited:.1f} s: {excerpt(heard)}"
    if decoder.counts.frames:
        return WrongDevice(
            f"frames of a rig arrive ({decoder.counts.frames} whole, {decoder.counts.damaged} damaged), but no "
            f"description of the board; received {said}",
            where=url,
            remedy="Press the board's reset button; if that does not help, flash the firmware again",
        )
    if decoder.counts.unknown:
        return UnknownLayout(
            f"whole frames arrive, but their messages are unknown to this program; received {said}",
            where=url,
            remedy="Update this program",
        )
    return WrongDevice(
        f"a device answers, but it is not a rig; received {said}",
        where=url,
        remedy=f"Choose another port (`frothline find`), or flash the rig's firmware, which uses {WIRE.baud} Bd",
    )
