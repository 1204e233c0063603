"""House rules of the firmware that a machine can check."""

import re
import zlib

from cobs import cobs
from firmware_probe import FIRMWARE

from frothline.wire import ENUMS, MESSAGES

PORTABLE = sorted(path for folder in ("core", "drivers", "rig") for path in (FIRMWARE / folder).glob("*.[ch]"))
OWN = sorted(
    path
    for folder in ("core", "drivers", "rig", "boards", "native")
    for path in (FIRMWARE / folder).rglob("*.[ch]")
    if path.name != "messages.h"
)


def test_the_portable_part_includes_no_register_header():
    assert len(PORTABLE) > 20
    for path in PORTABLE:
        assert not re.search(r"#include\s*<(avr|util)/", path.read_text()), path.name
        assert "__AVR__" not in path.read_text(), path.name


def test_nothing_allocates_memory_at_run_time():
    for path in [*PORTABLE, *(FIRMWARE / "boards").rglob("*.c")]:
        assert not re.search(r"\b(malloc|calloc|realloc|alloca|free)\s*\(", path.read_text()), path.name


def test_what_a_board_must_supply_fits_one_screen():
    assert len((FIRMWARE / "core" / "board.h").read_text().splitlines()) <= 80


def test_no_file_is_longer_than_400_lines():
    for path in OWN:
        if path.parent.name != "native":
            assert len(path.read_text().splitlines()) <= 400, path.name


def test_every_pin_of_the_board_is_in_its_pin_map_and_its_descriptions():
    pins = (FIRMWARE / "boards" / "atmega328p" / "pins.h").read_text()
    board = (FIRMWARE / "boards" / "atmega328p" / "board.c").read_text()
    told = re.search(r"pins\[\]\[5\] PROGMEM = \{(.*?)\};", board, re.DOTALL)[1]
    names = re.findall(r'"(\w*)"', told)
    assert len(names) == 1 + len(ENUMS["channel_kind"])
    for name in names[1:]:
        assert name == "AVCC" or re.search(rf"^//   {name} ", pins, re.MULTILINE), name


def test_the_readme_names_every_message_from_the_board_and_every_command():
    readme = (FIRMWARE / "README.md").read_text("utf-8")
    for name, message in MESSAGES.items():
        if message.origin in {"board", "command"}:
            assert re.search(rf"^\| 0x{message.id:02X} \| `{name}` \| {message.since} \|", readme, re.MULTILINE), name


def test_the_example_frame_of_the_readme_is_right():
    """Held against zlib and the package cobs."""
    readme = (FIRMWARE / "README.md").read_text("utf-8")
    payload, check, frame = (
        bytes.fromhex(re.search(rf"^    {word} +((?:[0-9a-f]{{2}} ?)+)$", readme, re.MULTILINE)[1])
        for word in ("payload", "check", "frame")
    )
    assert check == zlib.crc32(payload).to_bytes(4, "little")
    assert frame == cobs.encode(payload + check) + b"\0"
