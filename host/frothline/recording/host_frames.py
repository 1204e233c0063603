"""The host's frames in a recording, and the board frames repeated at the begin of each segment."""

from __future__ import annotations

from importlib.metadata import PackageNotFoundError, version
from typing import Any

from frothline.recording.disk import SystemClock
from frothline.recording.segments import Fault
from frothline.wire import AFTER_DESCRIPTION, ENUMS, LAYOUT_HASH, MESSAGES, encode
from frothline.wire.decoder import LONGEST, read_frame

FORMAT = 1
GIVEN_UP = "segment "  # begin of a note on a failed write
BYTES_LOST = "bytes were lost"  # part of it if data were lost


def software() -> str:
    """Name and version of this program, as written to each recording."""
    try:
        return f"frothline {version('frothline')}"
    except PackageNotFoundError:
        return "frothline"


def fitting(message: str, field: str, text: str) -> str:
    """The part of a text that fits the field in UTF-8, cut between characters."""
    size = MESSAGES[message].dtype[field].itemsize
    return text.encode()[:size].decode(errors="ignore")


def pieces(message: str, field: str, text: str) -> list[str]:
    """Split a text into pieces that fit the field, none empty except for an empty text."""
    out = []
    while text:
        out.append(fitting(message, field, text))
        text = text[len(out[-1]) :]
    return out or [""]


class HostFrames:
    """Makes the host's frames; their sequence numbers continue from ``sequence``."""

    def __init__(self, identity: bytes, source: str, clock: SystemClock, sequence: int = 0) -> None:
        self.identity, self.source = identity, source
        self._clock, self._sequence = clock, sequence

    def count_from(self, sequence: int) -> None:
        """Give the next frame this number."""
        self._sequence = sequence

    def _frame(self, message: str, **fields: Any) -> bytes:
        texts = {name: fitting(message, name, value) for name, value in fields.items() if isinstance(value, str)}
        self._sequence += 1
        return encode(message, self._sequence - 1, **(fields | texts))

    def _times(self) -> dict[str, int]:
        return {"unix_ns": self._clock.unix_ns(), "monotonic_ns": self._clock.monotonic_ns()}

    def opened(self, segment: int, fault: Fault | None) -> bytes:
        """Head of a segment, with its notes on the segment before."""
        head = self._frame(
            "recording_opened",
            format=FORMAT,
            layout_hash=LAYOUT_HASH,
            segment=segment,
            identity=self.identity,
            **self._times(),
            software=software(),
            source=self.source,
        )
        if fault is None:
            return head
        text = f"{GIVEN_UP}{fault.segment} was given up at byte {fault.repeated_from}: {fault.why}"
        if fault.lost:
            text += f"; {fault.lost} {BYTES_LOST} behind the {len(fault.kept)} repeated here"
        return head + self.note("repeats", str(fault.repeated_from), 0) + self.note("fault", text, 0)

    def resumed(self) -> bytes:
        return self._frame("recording_resumed", **self._times(), software=software())

    def closed(self, size: int, reason: str) -> bytes:
        return self._frame("recording_closed", **self._times(), bytes=size, reason=reason)

    def anchor(self, tick: int, reason: str, unix_ns: int | None, monotonic_ns: int | None) -> bytes:
        times = self._times()
        if unix_ns is not None:
            times["unix_ns"] = unix_ns
        if monotonic_ns is not None:
            times["monotonic_ns"] = monotonic_ns
        return self._frame("anchor", **times, tick=tick, reason=ENUMS["anchor_reason"][reason])

    def note(self, kind: str, text: str, tick: int) -> bytes:
        """Long texts take several frames with the same times."""
        times = self._times()
        parts = pieces("note", "text", text)
        return b"".join(self._frame("note", **times, tick=tick, kind=kind, text=part) for part in parts)

    def port(self, event: str, detail: str) -> bytes:
        return self._frame("port", **self._times(), event=ENUMS["port_event"][event], detail=detail)

    def alarm(self, severity: str, code: str, text: str, tick: int) -> bytes:
        number = ENUMS["severity"][severity]
        return self._frame("alarm", **self._times(), tick=tick, severity=number, code=code, text=text)


_DESCRIBING = tuple(bytes([MESSAGES[name].id]) for name in ("description", *AFTER_DESCRIPTION))


class BoardFrames:
    """Tracks the board's bytes: its last description with what follows it, and the incomplete frame."""

    def __init__(self) -> None:
        self.partial = bytearray()
        self._frames: dict[bytes, bytes] = {}

    def see(self, data: bytes) -> None:
        *whole, rest = data.split(b"\0")
        for piece in whole:
            frame = bytes(self.partial) + piece
            self.partial.clear()
            # The id is never zero, so it is unstuffed after the first code byte.
            if frame[1:2] not in _DESCRIBING or isinstance(found := read_frame(frame), str):
                continue
            message, record = found
            if message.name == "description":
                self._frames.clear()
            key = frame[1:2] + bytes(
                [int(record["kind"])] if any(field.name == "kind" for field in message.fields) else []
            )
            self._frames[key] = frame + b"\0"
        self.partial += rest[: max(0, LONGEST + 1 - len(self.partial))]

    def description(self) -> bytes:
        return b"".join(self._frames.values())
