"""Frames and messages: encoding and decoding of the bytes on the line and in recordings.

The package opens no ports or files, does not wait and uses no clock: it converts bytes to messages and counted damage.
"""

from frothline.wire.decoder import REASONS, Counts, Damage, Received, StreamDecoder, Tables, gather
from frothline.wire.encoder import encode
from frothline.wire.file_decoder import Decoded, decode_all, decode_tables
from frothline.wire.layout import (
    AFTER_DESCRIPTION,
    ENUMS,
    HEADER,
    LAYOUT_HASH,
    MESSAGES,
    WIRE,
    Field,
    Message,
    name_of,
    names_of_bits,
)
from frothline.wire.segment_head import text

__all__ = [
    "AFTER_DESCRIPTION",
    "ENUMS",
    "HEADER",
    "LAYOUT_HASH",
    "MESSAGES",
    "REASONS",
    "WIRE",
    "Counts",
    "Damage",
    "Decoded",
    "Field",
    "Message",
    "Received",
    "StreamDecoder",
    "Tables",
    "decode_all",
    "decode_tables",
    "encode",
    "gather",
    "name_of",
    "names_of_bits",
    "text",
]
