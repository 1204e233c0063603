"""The second board: its image is built every day, and executed instruction by instruction in the exhaustive run.

The emulated board (firmware/boards/rp2040/emulator) speaks the words of the native probe, so that the same questions go to
the image. It stops with an error where the image loses a received byte, overfills the serial line or lets the watchdog bite.
"""

import re
import shutil
import struct
import subprocess

import crcmod.predefined
import numpy as np
import pytest
from firmware_probe import FIRMWARE, SECOND, Board, Probe, flag, named

from frothline.sensors.converter import Converter
from frothline.sensors.description import RigDescription
from frothline.wire import encode
from frothline.wire.file_decoder import decode_all

pytestmark = pytest.mark.firmware
EMULATOR = FIRMWARE / "boards" / "rp2040" / "emulator"
RAM, PROGRAM_IN_RAM = 256 * 1024, 0x20000000
emulated = pytest.mark.exhaustive


@pytest.fixture(scope="session")
def image(tmp_path_factory):
    if not shutil.which("arm-none-eabi-gcc"):
        pytest.fail("gcc-arm-none-eabi is not installed; tests/run installs it")
    build = tmp_path_factory.mktemp("rp2040")
    subprocess.run(["make", "-s", "-C", FIRMWARE, "rp2040", f"BUILD={build}"], check=True)
    return build / "rp2040"


def test_the_uf2_file_holds_the_boot_stage_with_its_check_and_the_program_behind_it(image):
    """crcmod's CRC-32/MPEG-2 is the one of the boot ROM: polynomial 0x04C11DB7, not reflected."""
    blocks = (image / "frothline.uf2").read_bytes()
    assert len(blocks) % 512 == 0
    flash = bytearray()
    for number in range(len(blocks) // 512):
        block = blocks[512 * number : 512 * number + 512]
        first, second, flags, at, size, n, count, family = struct.unpack_from("<8I", block)
        assert (first, second, *struct.unpack_from("<I", block, 508)) == (0x0A324655, 0x9E5D5157, 0x0AB16F30)
        assert (flags, at, size, n, count) == (0x2000, 0x10000000 + 256 * number, 256, number, len(blocks) // 512)
        assert family == 0xE48BFF56
        flash += block[32 : 32 + 256]
    check = crcmod.predefined.mkCrcFun("crc-32-mpeg")
    assert struct.unpack_from("<I", flash, 252)[0] == check(bytes(flash[:252]))
    program = (image / "program.bin").read_bytes()
    assert flash[256 : 256 + len(program)] == program
    stack, entry = struct.unpack_from("<2I", program)
    assert stack == 0x20040800
    assert entry & 1  # Thumb
    assert PROGRAM_IN_RAM < entry < PROGRAM_IN_RAM + len(program)


def test_the_page_of_the_board_has_the_pins_of_its_header():
    folder = FIRMWARE / "boards" / "rp2040"
    listed = dict(re.findall(r"^\| GP(\d+) \| (.+?) \|", (folder / "README.md").read_text("utf-8"), re.MULTILINE))
    header = (folder / "pins.h").read_text("utf-8")
    assert list(listed) == re.findall(r"^//   GP(\d+) ", header, re.MULTILINE)
    pins = {name: int(number) for name, number in re.findall(r"(\w+_PIN) = (\d+)", header)}
    first = pins.pop("FIRST_ANALOG_PIN")
    inputs = {name: first + int(number) for name, number in re.findall(r"(ADC_\w+) = (\d+)", header)}
    words = {
        "SEND_PIN": "TXD", "RECEIVE_PIN": "RXD", "BUTTON_PIN": "push button", "ROTOR_PIN": "rotor", "SDA_PIN": "SDA",
        "SCL_PIN": "SCL", "SCALE_DATA_PIN": "DOUT", "SCALE_CLOCK_PIN": "SCK", "LED_PIN": "LED",
        "ADC_PRESSURE": "line pressure", "ADC_SECOND": "second pressure", "ADC_TEMPERATURE": "line temperature",
    }  # fmt: skip
    assert words.keys() == (pins | inputs).keys()
    for name, number in (pins | inputs).items():
        assert words[name] in listed[str(number)], name


def test_program_and_variables_fill_a_twelfth_of_the_ram_at_most(image):
    said = subprocess.run(
        ["arm-none-eabi-size", image / "frothline.elf"], capture_output=True, text=True, check=True
    ).stdout.splitlines()[1]
    text, data, bss = (int(one) for one in said.split()[:3])
    assert text + data + bss < RAM / 12


@pytest.fixture
def chip(image):
    """Starts the image on the emulated chip with a world around it."""
    if not (shutil.which("node") and (EMULATOR / "node_modules" / "rp2040js").exists()):
        pytest.fail("the emulator is not installed; sh tests/run --all installs it")
    started = []

    def start(**world):
        started.append(Probe("node", EMULATOR / "board.mjs", image / "frothline.uf2"))
        return Board(started[-1], **world)

    yield start
    for probe in started:
        probe.close()


def stream(board, seconds):
    """Bytes that the board sends in ``seconds`` of streaming, its description before them."""
    board.receive(encode("describe", 900))
    board.probe.ask("run", SECOND // 5)
    board.receive(encode("start", 901))
    board.probe.ask("run", round(seconds * SECOND))
    return bytes.fromhex(board.probe.ask("sent"))


@emulated
def test_after_boot_the_board_says_what_it_is_and_what_it_cannot_measure(chip):
    heard = chip(counts=5).run(0.6)
    (description,) = named(heard, "description")
    assert int(description["board_kind"]) == flag("board_kind", "rp2040")
    assert int(description["boot_count"]) == 1
    number = int(named(heard, "identity")[-1]["number"])
    assert bytes(description["label"]) == b"frothline " + f"{number & 0xFFFF:04x}".encode()
    kinds = {int(row["kind"]): (int(row["sensor"]), bytes(row["pin"])) for row in named(heard, "channel")}
    assert flag("channel_kind", "supply") not in kinds
    pressure = flag("sensor_kind", "linear_pressure"), b"GP26"  # the named sensors need 5 V
    assert kinds[flag("channel_kind", "pressure")] == pressure
    assert int(named(heard, "adc")[0]["levels"]) == 4096


@emulated
def test_the_supply_cannot_be_enabled(chip):
    board = chip()
    board.run(0.6)
    fields = {
        "label": "bench",
        "rate": 100,
        "enabled": 1 << flag("channel_kind", "supply"),
        "pressure_sensor": 0,
        "differential_sensor": 0,
        "anemometer": 0,
        "temperature_sensor": 0,
    }
    assert board.command("write_settings", **fields)[0] == flag("ack_result", "bad_value")


@emulated
def test_at_500_hz_with_everything_fitted_no_frame_and_no_edge_is_lost_while_commands_come(chip):
    every = SECOND // 700
    board = chip(adc0=1234, adc3=2048, rotor=every, counts=-7, ambient=0x76)
    registers(board)
    board.run(0.6)
    assert board.command("set_rate", rate=500)[0] == 0
    board.command("start")
    heard = []
    for _ in range(20):  # a command of the largest size every tenth of a second
        result, more = board.command("read_settings", seconds=0.1)
        assert result == 0
        heard += more
    lines = named(heard, "line")
    ends = np.array([int(row["tick"]) for row in lines])
    assert len(lines) > 950
    assert set(np.diff(ends)) == {SECOND // 500}
    sums, n = (np.array([int(row[f"pressure_{what}"]) for row in lines]) for what in ("sum", "n"))
    assert (sums == 1234 * n).all()
    assert n.min() >= 8
    pulses, edges = (np.array([int(row[what]) for row in lines]) for what in ("pulses", "edge_tick"))
    moved = np.diff(pulses) > 0
    spacing = np.diff(edges)[moved] / np.diff(pulses)[moved]
    assert np.abs(spacing - every).max() < 10  # ticks: an edge waits for a conversion's interrupt to end
    assert np.abs((edges[-1] - edges[0]) / (pulses[-1] - pulses[0]) - every) < 0.1
    assert {int(row["counts"]) for row in named(heard, "scale")} == {-7}
    (health,) = named(heard, "health")[-1:]
    for name in ("frames_dropped", "adc_overruns", "capture_overruns", "receive_errors", "bus_errors"):
        assert int(health[name]) == 0, name
    assert int(health["stack_free"]) > 1000


def registers(board):
    """An ambient module: its chip number and a burst that changes with nothing."""
    board.probe.ask("registers", 0xD0, "60")
    board.probe.ask("registers", 0xF7, "5a5a50808000".ljust(16, "7"))


@emulated
def test_an_ambient_module_is_read_and_a_held_bus_is_clocked_free(chip):
    board = chip(ambient=0x76)
    registers(board)
    board.run(0.6)
    board.command("start")
    (burst,) = named(board.run(3.0), "ambient")[-1:]
    assert bytes(burst["burst"]).hex() == "5a5a508080007777"
    board.set("hang", 1)
    failed = named(board.run(3.0), "health")[-1]
    assert int(failed["bus_errors"]) > 0
    assert int(failed["bus_recoveries"]) > 0
    assert int(board.probe.ask("clocks")) == 9 * int(failed["bus_recoveries"])
    board.set("hang", 0)
    fresh = flag("device_flag", "present") | flag("device_flag", "fresh")
    assert int(named(board.run(5.0), "ambient")[-1]["flags"]) == fresh


@emulated
def test_a_press_of_the_button_is_a_mark(chip):
    board = chip()
    board.run(0.6)
    board.command("start")
    board.set("button", 1)
    assert [int(row["number"]) for row in named(board.run(0.5), "mark")] == [1]


SETTINGS = {
    "rate": 100,
    "enabled": 1 << 1,
    "pressure_sensor": 6,
    "differential_sensor": 0,
    "anemometer": 0,
    "temperature_sensor": 32,
}


def labels(chip, board):
    """The label after a restart."""
    board.boots = int(board.probe.ask("boot"))
    heard = board.run(0.7)
    return bytes(named(heard, "description")[-1]["label"])


@emulated
def test_settings_outlive_a_power_cut_and_so_do_the_boots(chip):
    board = chip()
    board.run(0.6)
    assert board.command("write_settings", seconds=0.6, label="bench A", **SETTINGS)[0] == 0
    assert labels(chip, board) == b"bench A"
    board.probe.ask("boot")
    assert int(named(board.run(0.7), "description")[-1]["boot_count"]) == 3


@emulated
@pytest.mark.parametrize("cut", [*range(0, 48, 3), 47, 48])
def test_a_cut_at_any_write_of_the_flash_leaves_the_old_or_the_new_settings(chip, cut):
    board = chip()
    board.run(0.6)
    board.command("write_settings", seconds=0.6, label="old", **SETTINGS)
    board.set("fails", cut)
    board.command("write_settings", seconds=0.6, label="new", **SETTINGS)
    board.set("fails", -1)
    assert labels(chip, board) in {b"old", b"new"}
    assert board.command("write_settings", seconds=0.6, label="after", **SETTINGS)[0] == 0
    assert labels(chip, board) == b"after"


@emulated
def test_a_full_sector_goes_on_in_the_other_and_a_cut_on_the_way_loses_the_last_write_only(chip):
    """A sector holds 1023 changes; settings are 31 of them. The move is cut at some of its steps."""
    board = chip()
    board.run(0.6)
    for number in range(29):
        assert board.command("write_settings", seconds=0.25, label=f"{number}", **SETTINGS)[0] == 0
    for cut in (0, 1, 7, 40, 90, 130):
        kept = labels(chip, board)
        board.set("fails", cut)
        for number in range(6):
            board.command("write_settings", seconds=0.25, label=f"c{cut} {number}", **SETTINGS)
        board.set("fails", -1)
        assert labels(chip, board).startswith((b"c%d " % cut, kept))
    for number in range(40):
        assert board.command("write_settings", seconds=0.4, label=f"more {number}", **SETTINGS)[0] == 0
    assert labels(chip, board) == b"more 39"


@emulated
def test_the_host_reads_pressure_and_temperature_of_the_twelve_bits(chip):
    """A sensor of 0 to 30 kPa from a tenth to nine tenths of the supply, at half of it; an NTC at its nominal 10 kohm."""
    board = chip(adc0=2048, adc3=2048)
    board.run(0.6)
    wanted = {
        "kind": flag("channel_kind", "pressure"),
        "low_pascal": 0,
        "high_pascal": 30000,
        "low_millivolt": 500,
        "high_millivolt": 4500,
        "accuracy_per_myriad": 200,
    }
    assert board.command("write_linear_sensor", seconds=0.6, **wanted)[0] == 0
    tables = decode_all(stream(board, 6.0)).tables
    found = Converter(RigDescription.from_tables(tables)).convert(tables)
    assert np.nanmedian(found["line_pressure"].value) == pytest.approx(15e3, abs=5.0)
    assert np.nanmedian(found["line_temperature"].value) == pytest.approx(298.15, abs=0.1)
