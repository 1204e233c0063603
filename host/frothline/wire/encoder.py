"""The encoder: frames from the values of a message, for the line or a recording."""

from __future__ import annotations

import struct
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from typing import Any

from frothline.errors import WireError
from frothline.wire import cobs
from frothline.wire.crc import crc32
from frothline.wire.layout import LAYOUT, Field, message_named

DELIMITER = b"\0"


@dataclass(frozen=True)
class _Packing:
    """What packs one message; ``numbers`` are the names of its fields if each is one number, else None."""

    id: int
    packer: struct.Struct
    names: frozenset[str]
    fields: tuple[Field, ...]
    numbers: tuple[str, ...] | None


@cache
def _packing(name: str) -> _Packing:
    message = message_named(name)
    names = tuple(field.name for field in message.fields)
    plain = all(_is_number(field) for field in message.fields)
    packer = struct.Struct("<" + "".join(field.packing for field in (*LAYOUT.header, *message.fields)))
    return _Packing(message.id, packer, frozenset(names), message.fields, names if plain else None)


def _is_number(field: Field) -> bool:
    return field.count == 1 and not field.is_text


def _packed(field: Field, value: Any, where: str) -> Any:
    if _is_number(field):
        return int(value)
    raw = value.encode() if isinstance(value, str) else bytes(value)
    too_long = len(raw) > field.count if field.is_text else len(raw) != field.count
    if too_long:
        raise WireError(f"field {field.name!r} takes {field.type}, {len(raw)} bytes were given", where=where)
    return raw


def payload(name: str, sequence: int, values: Mapping[str, Any]) -> bytes:
    """Header and fields as in the frame before the check; every field must be given.

    ``char[N]`` takes str or bytes of at most N bytes (padded with zeros), ``u8[N]`` exactly N bytes. Raises
    UnknownMessage, and WireError for a missing, unknown or invalid field.
    """
    known, where = _packing(name), f"message {name!r}"
    names = known.names
    if values.keys() != names:
        wrong = [f"{name!r} is missing" for name in sorted(names - values.keys())]
        wrong += [f"{name!r} is not one of its fields" for name in sorted(values.keys() - names)]
        raise WireError(", ".join(wrong), where=where)
    if known.numbers is not None:
        packed = [int(values[name]) for name in known.numbers]
    else:
        packed = [_packed(field, values[field.name], where) for field in known.fields]
    try:
        return known.packer.pack(known.id, sequence & 0xFFFF, *packed)
    except struct.error as error:
        raise WireError(f"a value does not fit its field ({error})", where=where) from error


def frame(text: bytes) -> bytes:
    """A payload with its check, stuffed, with its closing zero."""
    return cobs.encode(text + crc32(text).to_bytes(4, "little")) + DELIMITER


def encode(name: str, sequence: int, /, **fields: Any) -> bytes:
    """One complete frame including its closing zero; ``sequence`` is taken modulo 65,536. See ``payload``."""
    return frame(payload(name, sequence, fields))
