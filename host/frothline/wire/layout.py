"""The message layouts, read from ``messages.toml``, where they are defined.

Everything that depends on a field, a size or an id uses it: the NumPy dtypes of the decoders, the encoder, and the C
header of the firmware (``frothline.wire.c_header``). The layout hash covers a canonical text of the table without
comments and explanations, so editing those does not change it.
"""

from __future__ import annotations

import re
import tomllib
import zlib
from collections.abc import Mapping
from dataclasses import dataclass
from importlib.resources import files
from types import MappingProxyType
from typing import Any

import numpy as np

from frothline.errors import UnknownLayout, UnknownMessage

_SCALARS = {
    "u8": ("u1", "B"),
    "u16": ("<u2", "H"),
    "u32": ("<u4", "I"),
    "u64": ("<u8", "Q"),
    "i8": ("i1", "b"),
    "i16": ("<i2", "h"),
    "i32": ("<i4", "i"),
    "i64": ("<i8", "q"),
}
_ARRAY = re.compile(r"(char|u8)\[([1-9][0-9]*)\]")
_NAME = re.compile(r"[a-z][a-z0-9_]*")


@dataclass(frozen=True)
class Wire:
    """Constants of the line: protocol number, board clock (Hz), line speed (Bd), largest payload (bytes)."""

    protocol: int
    tick_hz: int
    baud: int
    largest_payload: int


@dataclass(frozen=True)
class Field:
    """One field of a message; ``count`` is 1 for a number, else the length of the text or byte array."""

    name: str
    type: str
    count: int
    dtype: np.dtype[Any]
    packing: str  # code for the struct module
    enum: str = ""
    unit: str = ""
    about: str = ""

    @property
    def is_text(self) -> bool:
        return self.type.startswith("char")


@dataclass(frozen=True)
class Message:
    """One message; ``dtype`` is packed, little-endian, and begins with the header fields ``id`` and ``sequence``."""

    name: str
    id: int
    origin: str  # "board", "command" or "host"
    since: int
    dtype: np.dtype[np.void]
    fields: tuple[Field, ...]  # without those of the header
    about: str

    @property
    def size(self) -> int:
        """Bytes of header and fields, without the check."""
        return self.dtype.itemsize


def _field(entry: Mapping[str, Any], where: str) -> Field:
    name, kind = entry["name"], entry["type"]
    if not _NAME.fullmatch(name):
        raise UnknownLayout(f"field name {name!r} is not a plain lower-case name", where=where)
    if kind in _SCALARS:
        code, packing = _SCALARS[kind]
        count, dtype = 1, np.dtype(code)
    elif found := _ARRAY.fullmatch(kind):
        count, packing = int(found[2]), f"{found[2]}s"
        dtype = np.dtype(f"S{count}") if found[1] == "char" else np.dtype(("u1", (count,)))
    else:
        known = ", ".join([*_SCALARS, "char[N]", "u8[N]"])
        raise UnknownLayout(f"field {name!r} has the unknown type {kind!r}", where=where, remedy=f"Known: {known}.")
    return Field(
        name, kind, count, dtype, packing, entry.get("enum", ""), entry.get("unit", ""), entry.get("about", "")
    )


def _dtype(fields: tuple[Field, ...]) -> np.dtype[np.void]:
    return np.dtype([(field.name, field.dtype) for field in fields])


@dataclass(frozen=True)
class Layout:
    """The contents of ``messages.toml``."""

    wire: Wire
    header: tuple[Field, ...]
    enums: Mapping[str, Mapping[str, int]]
    messages: Mapping[str, Message]
    ranges: Mapping[str, tuple[int, int]]

    def canonical_text(self) -> str:
        """The facts on which two sides must agree, one per line, without explanations and units."""
        lines = [f"wire {self.wire.protocol} {self.wire.tick_hz} {self.wire.baud} {self.wire.largest_payload}"]
        lines += [f"header {field.name} {field.type}" for field in self.header]
        for enum in sorted(self.enums):
            members = sorted(self.enums[enum].items(), key=lambda item: item[1])
            lines += [f"enum {enum} {name} {value}" for name, value in members]
        for message in sorted(self.messages.values(), key=lambda message: message.id):
            lines.append(f"message {message.id} {message.name} {message.origin}")
            lines += [f"field {field.name} {field.type} {field.enum}".rstrip() for field in message.fields]
        return "\n".join(lines) + "\n"

    def hash(self) -> int:
        """CRC-32/ISO-HDLC of the canonical text; sent in the description and in the head of a recording."""
        return zlib.crc32(self.canonical_text().encode())


def _message(
    entry: Mapping[str, Any],
    header: tuple[Field, ...],
    wire: Wire,
    ranges: Mapping[str, tuple[int, int]],
    enums: Mapping[str, Mapping[str, int]],
) -> Message:
    name, where = entry["name"], f"messages.toml, message {entry['name']!r}"
    fields = tuple(_field(field, where) for field in entry["fields"])
    names = [field.name for field in (*header, *fields)]
    if len(set(names)) != len(names):
        raise UnknownLayout("two fields have the same name", where=where)
    for field in fields:
        if field.enum and field.enum not in enums:
            raise UnknownLayout(
                f"field {field.name!r} uses the enumeration {field.enum!r}, which is not there", where=where
            )
    low, high = ranges[entry["from"]]
    if not low <= entry["id"] <= high:
        raise UnknownLayout(f"id 0x{entry['id']:02x} is outside the range of its sender", where=where)
    dtype = _dtype((*header, *fields))
    if dtype.itemsize > wire.largest_payload:
        raise UnknownLayout(
            f"{dtype.itemsize} bytes are more than the {wire.largest_payload} of a payload", where=where
        )
    return Message(name, entry["id"], entry["from"], entry["since"], dtype, fields, entry.get("about", ""))


def parse(text: str) -> Layout:
    """The layout of a text in the form of ``messages.toml``; UnknownLayout if it is inconsistent."""
    document = tomllib.loads(text)
    wire = Wire(**document["wire"])
    header = tuple(_field(entry, "messages.toml, header") for entry in document["header"]["fields"])
    ranges = {origin: (low, high) for origin, (low, high) in document["ranges"].items()}
    enums = {name: MappingProxyType(members) for name, members in document["enum"].items()}
    messages: dict[str, Message] = {}
    for entry in document["message"]:
        message = _message(entry, header, wire, ranges, enums)
        if message.name in messages or any(message.id == other.id for other in messages.values()):
            raise UnknownLayout("its name or its id is taken twice", where=f"messages.toml, message {message.name!r}")
        messages[message.name] = message
    return Layout(wire, header, MappingProxyType(enums), MappingProxyType(messages), MappingProxyType(ranges))


LAYOUT = parse(files("frothline.wire").joinpath("messages.toml").read_text(encoding="utf-8"))
WIRE = LAYOUT.wire
HEADER = _dtype(LAYOUT.header)
ENUMS = LAYOUT.enums
MESSAGES = LAYOUT.messages
BY_ID: Mapping[int, Message] = MappingProxyType({message.id: message for message in MESSAGES.values()})
LAYOUT_HASH = LAYOUT.hash()
# Messages that belong to the description before them: a reader of a part of a stream needs them with it.
AFTER_DESCRIPTION = ("channel", "adc", "linear_sensor", "trimming")


def message_named(name: str) -> Message:
    """The message of that name; UnknownMessage with the known names."""
    try:
        return MESSAGES[name]
    except KeyError:
        raise UnknownMessage(
            f"unknown message {name!r}", where="messages.toml", remedy=f"Known: {', '.join(MESSAGES)}."
        ) from None


def name_of(enum: str, value: int) -> str:
    """Name of an enumeration's value, or the number itself for a value of a newer sender."""
    return next((name for name, number in ENUMS[enum].items() if number == value), str(int(value)))


def names_of_bits(enum: str, value: int) -> tuple[str, ...]:
    """Names of the bits set in a value of flags."""
    return tuple(name for name, bit in ENUMS[enum].items() if value & bit)
