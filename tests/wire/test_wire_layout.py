"""The layouts: what the file says, and that a C compiler lays the bytes out the same way."""

import json
import subprocess
import sys
import tomllib
from importlib.resources import files
from pathlib import Path

import numpy as np
import pytest

from frothline.errors import UnknownLayout, UnknownMessage, WireError
from frothline.wire import ENUMS, HEADER, LAYOUT_HASH, MESSAGES, WIRE, c_header, encode, layout, name_of, names_of_bits

CORE = Path(__file__).parents[2] / "firmware" / "core"
TEXT = files("frothline.wire").joinpath("messages.toml").read_text(encoding="utf-8")


def test_a_line_message_is_as_long_as_its_fields_added_up():
    # 3 header + tick 4 + three sums of 4 with counts of 2 + pulses 4 + edge 4 + flags 1
    assert MESSAGES["line"].size == 3 + 4 + 3 * (4 + 2) + 4 + 4 + 1
    assert HEADER.itemsize == 3


def test_every_message_begins_with_the_header():
    for message in MESSAGES.values():
        assert message.dtype.names[: len(HEADER.names)] == HEADER.names


def test_every_payload_with_check_stays_within_one_stuffing_block():
    # Cheshire and Baker 1999: a block announces at most 254 bytes; with 253 the full block never arises.
    assert WIRE.largest_payload + 4 <= 253
    assert max(message.size for message in MESSAGES.values()) <= WIRE.largest_payload


def test_explanations_do_not_change_the_hash_but_every_fact_does():
    same = TEXT.replace("one window of the fast channels", "something else").replace("# what is fitted", "# fitted")
    assert layout.parse(same).hash() == LAYOUT_HASH
    for old, new in [
        ('name = "edge_tick", type = "u32"', 'name = "edge_tick", type = "i32"'),
        ('name = "edge_tick"', 'name = "edge_ticks"'),
        ("tick_hz = 2000000", "tick_hz = 1000000"),
        ("hx711_a128 = 80", "hx711_a128 = 81"),
        ("id = 0x45", "id = 0x47"),
        ('enum = "line_flag"', 'enum = "device_flag"'),
    ]:
        changed = TEXT.replace(old, new)
        assert changed != TEXT
        assert layout.parse(changed).hash() != LAYOUT_HASH, old


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("id = 0x02", "id = 0x01", "taken twice"),
        ("id = 0x02", "id = 0x90", "outside the range"),
        ('name = "edge_tick"', 'name = "pulses"', "same name"),
        ('type = "i32"', 'type = "f32"', "unknown type 'f32'"),
        ('enum = "line_flag"', 'enum = "lines"', "'lines', which is not there"),
        ('type = "char[96]", about = "port', 'type = "char[255]", about = "port', "more than the 249"),
        ('name = "edge_tick"', 'name = "edge tick"', "not a plain"),
    ],
)
def test_a_layout_that_contradicts_itself_is_refused_with_the_place(old, new, said):
    assert old in TEXT
    with pytest.raises(UnknownLayout, match=said) as caught:
        layout.parse(TEXT.replace(old, new, 1))
    assert "messages.toml" in str(caught.value)


def test_ids_of_the_first_version_are_never_moved():
    pinned = {"description": 1, "channel": 2, "trimming": 3, "line": 4, "slow": 5, "ambient": 6, "scale": 7, "mark": 8}
    pinned |= {"health": 9, "ack": 10, "settings": 11, "describe": 64, "start": 65, "stop": 66, "set_rate": 67}
    pinned |= {"write_settings": 68, "read_settings": 69, "recording_opened": 128, "anchor": 129, "port": 130}
    pinned |= {"note": 131, "alarm": 132, "recording_resumed": 133, "recording_closed": 134}
    assert {name: MESSAGES[name].id for name in pinned} == pinned


def test_names_of_values_and_bits_are_told_and_unknown_ones_stay_numbers():
    assert name_of("sensor_kind", 64) == "bme280"
    assert name_of("sensor_kind", 201) == "201"
    assert names_of_bits("reset_cause", 0b101) == ("power_on", "brown_out")


def test_an_unknown_message_is_refused_with_the_names_there_are():
    with pytest.raises(UnknownMessage, match="Known: description"):
        encode("lines", 0)


@pytest.mark.parametrize(
    ("values", "said"),
    [
        ({}, "'rate' is missing"),
        ({"rate": 1, "speed": 2}, "'speed' is not one of its fields"),
        ({"rate": 65536}, "does not fit"),
        ({"rate": -1}, "does not fit"),
    ],
)
def test_values_that_do_not_fit_a_message_are_refused(values, said):
    with pytest.raises(WireError, match=said):
        encode("set_rate", 0, **values)


def test_text_longer_than_its_field_is_refused_rather_than_cut():
    with pytest.raises(WireError, match=r"takes char\[16\], 17 bytes"):
        encode("channel", 0, kind=1, sensor=1, count_unit=1, name="x" * 17, rate_millihertz=0, pin="PC0")


def test_the_committed_header_is_what_the_layouts_say():
    assert c_header.main(["--check", str(CORE / "messages.h")]) == 0


def test_a_stale_header_is_told_with_the_command_that_renews_it(tmp_path, capsys):
    stale = tmp_path / "messages.h"
    stale.write_text(c_header.generate().replace("uint32_t tick;", "uint16_t tick;"), encoding="utf-8")
    assert c_header.main(["--check", str(stale)]) == 1
    assert "python -m frothline.wire.c_header >" in capsys.readouterr().err


def c_program():
    """Prints sizes, offsets and constants as the compiler sees them."""
    lines = ['#include "messages.h"', "#include <stdio.h>", "int main(void) {", 'printf("{");']
    for message in MESSAGES.values():
        if message.origin == "host":
            continue
        struct = f"struct msg_{message.name}"
        lines.append(f'printf("\\"{message.name}\\": [%d, %zu", MSG_{message.name.upper()}, sizeof({struct}));')
        lines += [f'printf(", %zu", offsetof({struct}, {name}));' for name in message.dtype.names]
        lines.append('printf("], ");')
    for enum, members in ENUMS.items():
        for name in members:
            lines.append(f'printf("\\"{enum}.{name}\\": %d, ", {enum.upper()}_{name.upper()});')
    lines.append('printf("\\"hash\\": %lu, \\"tick\\": %lu, \\"largest\\": %u}", ')
    lines.append("(unsigned long)WIRE_LAYOUT_HASH, (unsigned long)WIRE_TICK_HZ, WIRE_LARGEST_PAYLOAD);")
    return "\n".join([*lines, "return 0; }"])


@pytest.mark.firmware
def test_the_c_compiler_puts_every_field_where_numpy_does(tmp_path):
    source, program = tmp_path / "offsets.c", tmp_path / "offsets"
    source.write_text(c_program(), encoding="utf-8")
    command = ["gcc", "-std=c11", "-Wall", "-Wextra", "-Werror", f"-I{CORE}", source, "-o", program]
    subprocess.run(command, check=True)
    seen = json.loads(subprocess.run([program], check=True, capture_output=True, text=True).stdout)
    for message in MESSAGES.values():
        if message.origin != "host":
            offsets = [message.dtype.fields[name][1] for name in message.dtype.names]
            assert seen[message.name] == [message.id, message.dtype.itemsize, *offsets], message.name
    document = tomllib.loads(TEXT)
    for enum, members in document["enum"].items():
        for name, value in members.items():
            assert seen[f"{enum}.{name}"] == value
    assert seen["hash"] == LAYOUT_HASH
    assert seen["tick"] == document["wire"]["tick_hz"]
    assert seen["largest"] == document["wire"]["largest_payload"]


@pytest.mark.firmware
def test_the_board_compiler_accepts_the_sizes_too(tmp_path):
    source = tmp_path / "sizes.c"
    source.write_text('#include "messages.h"\nint main(void) { return 0; }\n', encoding="utf-8")
    flags = ["-mmcu=atmega328p", "-std=c11", "-Wall", "-Wextra", "-Werror", f"-I{CORE}"]
    subprocess.run(["avr-gcc", *flags, "-c", source, "-o", tmp_path / "sizes.o"], check=True)


def test_the_header_command_prints_the_header():
    done = subprocess.run([sys.executable, "-m", "frothline.wire.c_header"], check=True, capture_output=True, text=True)
    assert done.stdout == c_header.generate()


def test_dtypes_are_little_endian_and_packed_on_every_machine():
    for message in MESSAGES.values():
        sizes = [np.dtype(message.dtype[name]).itemsize for name in message.dtype.names]
        assert sum(sizes) == message.dtype.itemsize
        assert all(message.dtype[name].byteorder in "<|=" for name in message.dtype.names)
