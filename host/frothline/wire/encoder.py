"""The encoder: frames from the values of a message, for the line or a recording."""

from __future__ import annotations

import struct
from collections.abc import Mapping
from functools import cache
from typing import Any

from frothline.errors import WireError
from frothline.wire import cobs
from frothline.wire.crc import crc32
from frothline.wire.layout import LAYOUT, Field, message_named

DELIMITER = b"\0"


@cache
def _packer(name: str) -> struct.Struct:
    fields = (*LAYOUT.header, *message_named(name).fields)
    return struct.Struct("<" + "".join(field.packing for field in fields))


def _packed(field: Field, value: Any, where: str) -> Any:
    if field.count == 1 and not field.is_text:
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
    message, where = message_named(name), f"message {name!r}"
    names = {field.name for field in message.fields}
    if values.keys() != names:
        wrong = [f"{name!r} is missing" for name in sorted(names - values.keys())]
        wrong += [f"{name!r} is not one of its fields" for name in sorted(values.keys() - names)]
        raise WireError(", ".join(wrong), where=where)
    packed = [_packed(field, values[field.name], where) for field in message.fields]
    try:
        return _packer(name).pack(message.id, sequence & 0xFFFF, *packed)
    except struct.error as error:
        raise WireError(f"a value does not fit its field ({error})", where=where) from error


def frame(text: bytes) -> bytes:
    """A payload with its check, stuffed, with its closing zero."""
    return cobs.encode(text + crc32(text).to_bytes(4, "little")) + DELIMITER


def encode(name: str, sequence: int, /, **fields: Any) -> bytes:
    """One complete frame including its closing zero; ``sequence`` is taken modulo 65,536. See ``payload``."""
    return frame(payload(name, sequence, fields))
