"""The C header of the message layouts: ``python -m frothline.wire.c_header > firmware/core/messages.h``.

With ``--check FILE`` it writes nothing; its exit code is 0 if the file is up to date, else 1.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from frothline.wire.crc import CHECK_BYTES
from frothline.wire.layout import LAYOUT, Field, Layout, Message

_C_TYPES = {
    "u8": "uint8_t",
    "u16": "uint16_t",
    "u32": "uint32_t",
    "u64": "uint64_t",
    "i8": "int8_t",
    "i16": "int16_t",
    "i32": "int32_t",
    "i64": "int64_t",
}


def _declaration(field: Field) -> str:
    if field.type in _C_TYPES:
        return f"{_C_TYPES[field.type]} {field.name};"
    element = "char" if field.is_text else "uint8_t"
    return f"{element} {field.name}[{field.count}];"


def _comment(field: Field) -> str:
    parts = [f"enum {field.enum}" if field.enum else "", field.unit, field.about]
    text = "; ".join(part for part in parts if part)
    return f"  // {text}" if text else ""


def _struct(layout: Layout, message: Message) -> list[str]:
    name = f"msg_{message.name}"
    fields = (*layout.header, *message.fields)
    lines = [f"// {message.about}" if message.about else "", f"struct __attribute__((packed)) {name} {{"]
    lines += [f"    {_declaration(field)}{_comment(field)}" for field in fields]
    lines += ["};", f'_Static_assert(sizeof(struct {name}) == {message.size}, "size of {name}");']
    offsets: Mapping[str, Any] = message.dtype.fields or {}
    for field in fields:
        offset = offsets[field.name][1]
        what = f"offset of {name}.{field.name}"
        lines.append(f'_Static_assert(offsetof(struct {name}, {field.name}) == {offset}, "{what}");')
    return lines


def _largest(layout: Layout, origin: str) -> int:
    return max(message.size for message in layout.messages.values() if message.origin == origin)


def generate(layout: Layout = LAYOUT) -> str:
    """The text of ``messages.h``: ids, enumerations, packed structs, and assertions of their sizes and offsets."""
    wire = layout.wire
    largest_frame = wire.largest_payload + CHECK_BYTES + 2  # one code byte of the stuffing, one closing zero
    out = [
        "// Generated from host/frothline/wire/messages.toml by `python -m frothline.wire.c_header`. Do not edit.",
        "#ifndef FROTHLINE_MESSAGES_H",
        "#define FROTHLINE_MESSAGES_H",
        "",
        "#include <stddef.h>",
        "#include <stdint.h>",
        "",
        '_Static_assert(__BYTE_ORDER__ == __ORDER_LITTLE_ENDIAN__, "the structs are sent as they lie in memory");',
        "",
        "// Macros, because int has 16 bit on the board and an enumeration constant is an int.",
        f"#define WIRE_PROTOCOL {wire.protocol}u",
        f"#define WIRE_TICK_HZ {wire.tick_hz}ul",
        f"#define WIRE_BAUD {wire.baud}ul",
        f"#define WIRE_LAYOUT_HASH 0x{layout.hash():08x}ul",
        f"#define WIRE_HEADER_SIZE {sum(field.dtype.itemsize for field in layout.header)}u",
        f"#define WIRE_CHECK_SIZE {CHECK_BYTES}u",
        f"#define WIRE_LARGEST_PAYLOAD {wire.largest_payload}u  // header and fields, without the check",
        f"#define WIRE_LARGEST_FRAME {largest_frame}u  // with check, stuffing and closing zero",
        f"#define WIRE_LARGEST_BOARD_PAYLOAD {_largest(layout, 'board')}u  // of the messages below",
        f"#define WIRE_LARGEST_COMMAND_PAYLOAD {_largest(layout, 'command')}u",
        "",
    ]
    for enum, members in layout.enums.items():
        out.append(f"enum {enum} {{")
        out += [f"    {enum.upper()}_{name.upper()} = {value}," for name, value in members.items()]
        out += ["};", ""]
    # Host messages in recordings are never sent to a board.
    messages = [message for message in layout.messages.values() if message.origin != "host"]
    out.append("enum message_id {")
    out += [f"    MSG_{message.name.upper()} = 0x{message.id:02x}," for message in messages]
    out += ["};", ""]
    for message in messages:
        out += [*_struct(layout, message), ""]
    out.append("#endif")
    return "\n".join(out) + "\n"


def main(arguments: list[str] | None = None) -> int:
    parser = argparse.ArgumentParser(
        prog="python -m frothline.wire.c_header", description=(__doc__ or "").split("\n")[0]
    )
    parser.add_argument("--check", metavar="FILE", type=Path, help="compare FILE with what would be written")
    options = parser.parse_args(arguments)
    text = generate()
    if options.check is None:
        sys.stdout.write(text)
        return 0
    if options.check.is_file() and options.check.read_text(encoding="utf-8") == text:
        return 0
    remedy = f"python -m frothline.wire.c_header > {options.check}"
    sys.stderr.write(f"{options.check}: differs from messages.toml. Write it again: {remedy}\n")
    return 1


if __name__ == "__main__":
    sys.exit(main())
