"""Flashing: port, image and avrdude's words, with a stand-in for avrdude on the PATH."""

import json
import os
import shlex
import stat
import sys
from types import SimpleNamespace

import pytest
from fake_board import FakeBoard, PtyBoard
from prompt_json import result_of

from frothline.cli import main
from frothline.errors import InputError, PortBusy, PortError, PortNotFound, PortSilent, WrongDevice
from frothline.rig import flashing
from frothline.rig.known_boards import chip_in
from frothline.rig.port_holder import holder_of


def usb(device, description="USB serial", vid=0x1A86, pid=0x7523):
    return SimpleNamespace(device=device, description=description, vid=vid, pid=pid, serial_number=None, hwid="")


@pytest.fixture
def avrdude(tmp_path, monkeypatch):
    """A stand-in that notes its arguments and answers by the line speed it is given: ``answers[baud] = (code, words)``."""
    folder = tmp_path / "bin"
    folder.mkdir()
    calls, answers = tmp_path / "calls", tmp_path / "answers.json"
    script = folder / "avrdude"
    script.write_text(
        f"#!{sys.executable}\n"
        "import json, sys\n"
        f"open({str(calls)!r}, 'a').write(json.dumps(sys.argv[1:]) + '\\n')\n"
        f"answers = json.load(open({str(answers)!r}))\n"
        "code, words = answers.get(sys.argv[sys.argv.index('-b') + 1], [0, 'avrdude done.  Thank you.'])\n"
        "print(words, file=sys.stderr)\n"
        "sys.exit(code)\n"
    )
    script.chmod(script.stat().st_mode | stat.S_IXUSR)
    answers.write_text("{}")
    monkeypatch.setenv("PATH", f"{folder}{os.pathsep}/usr/bin{os.pathsep}/bin")
    return SimpleNamespace(
        calls=lambda: [json.loads(line) for line in calls.read_text().splitlines()] if calls.exists() else [],
        answer=lambda **by_baud: answers.write_text(json.dumps({k.lstrip("b"): v for k, v in by_baud.items()})),
        path=script,
    )


@pytest.fixture
def board(tmp_path):
    """A pseudo-terminal with a rig behind it, as the port is once the firmware runs."""
    with PtyBoard(FakeBoard(label="bench"), tmp_path) as behind:
        yield behind.url


# --- the image --------------------------------------------------------------------------------------------------------


def test_the_shipped_image_is_whole_and_leaves_the_bootloader_alone():
    """ATmega328P: 32 KiB of flash, of which the smallest bootloader takes 512 bytes. The size is that of `make size`."""
    image = flashing.read_image(flashing.shipped_image())
    assert 5_000 < image.size < 32_256


def test_a_record_with_a_wrong_sum_is_refused_by_its_line(tmp_path):
    """Intel HEX: the bytes of a record and its sum add up to 0 modulo 256. The record is the format's own example,
    :0300300002337A1E (Intel, Hexadecimal Object File Format Specification), whose sum is right."""
    good = tmp_path / "good.hex"
    good.write_text(":0300300002337A1E\n:00000001FF\n")
    assert flashing.read_image(good).size == 3
    bad = tmp_path / "bad.hex"
    bad.write_text(":0300300002337A1F\n:00000001FF\n")
    with pytest.raises(InputError, match="Intel HEX") as refused:
        flashing.read_image(bad)
    assert refused.value.where.endswith("bad.hex:1")


def test_an_image_that_was_cut_off_is_refused(tmp_path):
    cut = tmp_path / "cut.hex"
    cut.write_text("\n".join(flashing.shipped_image().read_text().splitlines()[:-1]))
    with pytest.raises(InputError, match="no end"):
        flashing.read_image(cut)


def test_an_image_that_would_overwrite_the_bootloader_is_refused(tmp_path):
    high = tmp_path / "high.hex"
    record = bytes([1, 0x7E, 0x00, 0, 0xAA])
    high.write_text(f":{record.hex()}{-sum(record) & 0xFF:02X}\n:00000001FF\n")
    with pytest.raises(InputError, match="bootloader"):
        flashing.read_image(high)


def test_an_image_of_another_program_is_refused_before_anything_is_written(avrdude, tmp_path):
    other = tmp_path / "blink.hex"
    other.write_text(":0300300002337A1E\n:00000001FF\n")
    with pytest.raises(InputError, match="not a firmware of Frothline"):
        flashing.plan("/dev/x", image=other)
    assert flashing.plan("/dev/x", image=flashing.shipped_image()).image.ours
    assert avrdude.calls() == []


def test_an_image_for_another_kind_of_board_is_named(tmp_path):
    """UF2 files begin with 0x0A324655 (the format's specification), Intel HEX with a colon."""
    uf2 = tmp_path / "pico.uf2"
    uf2.write_bytes((0x0A324655).to_bytes(4, "little") + bytes(508))
    with pytest.raises(InputError, match="UF2"):
        flashing.read_image(uf2)


# --- the port ---------------------------------------------------------------------------------------------------------


def test_the_only_usb_port_is_taken_and_built_in_ones_are_left_alone():
    built_in = SimpleNamespace(device="/dev/ttyS0", description="", vid=None)
    assert flashing.choose_port([built_in, usb("/dev/ttyUSB0")])[0] == "/dev/ttyUSB0"


def test_without_a_usb_port_it_says_so_and_names_what_is_there():
    with pytest.raises(PortNotFound, match="ttyS0"):
        flashing.choose_port([SimpleNamespace(device="/dev/ttyS0", description="", vid=None)])


def test_among_several_ports_the_one_that_answers_as_a_rig_is_taken(board):
    port, why = flashing.choose_port([usb(board), usb("/dev/does-not-exist")])
    assert port == board
    assert "bench" in why


def test_several_ports_without_a_rig_are_listed_for_the_person_to_choose():
    with pytest.raises(InputError, match=r"/dev/no-1.*/dev/no-2") as refused:
        flashing.choose_port([usb("/dev/no-1"), usb("/dev/no-2")])
    assert refused.value.where == "--port"


@pytest.mark.parametrize(
    ("vid", "pid", "named"),
    [
        # boards.txt of the makers' packages
        (0x2341, 0x0042, "Mega 2560"),
        (0x2341, 0x8036, "Leonardo"),
        (0x2A03, 0x8037, "Micro"),
        (0x2341, 0x0058, "Nano Every"),
        (0x2341, 0x0069, "Uno R4 Minima"),
        (0x2341, 0x1002, "Uno R4 WiFi"),
        (0x03EB, 0x2145, "Uno WiFi Rev2"),
        (0x2E8A, 0x0003, "RP2040"),
        (0x303A, 0x1001, "ESP32"),
    ],
)
def test_a_board_of_another_family_is_named_before_anything_is_written(monkeypatch, avrdude, vid, pid, named):
    wrong = usb("/dev/ttyACM0", vid=vid, pid=pid)
    with pytest.raises(InputError, match=named) as refused:
        flashing.choose_port([wrong])
    assert ("rp2040/README.md" if named == "RP2040" else "Uno R3") in refused.value.remedy
    monkeypatch.setattr("frothline.rig.known_boards.list_ports.comports", lambda: [wrong])
    with pytest.raises(InputError, match=named):
        flashing.plan("/dev/ttyACM0")
    assert avrdude.calls() == []


@pytest.mark.parametrize(("vid", "pid"), [(0x2341, 0x0043), (0x1A86, 0x7523), (0x0403, 0x6001), (0x10C4, 0xEA60)])
def test_an_uno_and_the_bridges_of_nanos_are_taken(vid, pid):
    assert flashing.choose_port([usb("/dev/ttyUSB0", vid=vid, pid=pid)])[0] == "/dev/ttyUSB0"


def test_next_to_a_board_of_another_family_the_right_one_is_taken_and_the_other_named():
    port, why = flashing.choose_port([usb("/dev/ttyACM0", vid=0x2341, pid=0x0042), usb("/dev/ttyUSB0")])
    assert port == "/dev/ttyUSB0"
    assert "/dev/ttyACM0 is a Mega 2560" in why


def test_find_names_a_board_of_another_family(monkeypatch, capsys):
    wrong = usb("/dev/no-such-port", vid=0x2341, pid=0x0058)
    for module in ("finder", "known_boards"):
        monkeypatch.setattr(f"frothline.rig.{module}.list_ports.comports", lambda: [wrong])
    assert main(["find", "--patience", "1"]) == 3
    assert "Nano Every" in capsys.readouterr().out


# --- the command ------------------------------------------------------------------------------------------------------


def test_a_dry_run_writes_nothing_and_shows_the_command(avrdude, capsys):
    assert main(["flash", "--dry-run", "--port", "/dev/ttyUSB7"]) == 0
    line = next(one for one in capsys.readouterr().out.splitlines() if "-b 115200" in one)
    words = shlex.split(line)
    assert words[0] == str(avrdude.path)
    assert words[words.index("-P") + 1] == "/dev/ttyUSB7"
    assert words[-1] == f"flash:w:{flashing.shipped_image()}:i"
    assert avrdude.calls() == []


def test_the_board_is_written_and_then_asked_who_it_is(avrdude, board, capsys):
    assert main(["flash", "--port", board, "--json"]) == 0
    said = result_of(capsys.readouterr().out)
    assert (said["written"], said["label"], said["firmware"]) == (True, "bench", "0.1.0")
    (call,) = avrdude.calls()
    # -c arduino is the bootloader's protocol, -D keeps avrdude from an erase that the bootloader does itself
    assert call == ["-q", "-c", "arduino", "-p", "atmega328p", "-P", board, "-b", "115200", "-D", "-U",
                    f"flash:w:{flashing.shipped_image()}:i"]  # fmt: skip


def test_an_old_bootloader_is_tried_at_its_own_speed_and_the_missing_watchdog_is_said(avrdude, board, capsys):
    avrdude.answer(b115200=[1, "avrdude warning: attempt 10 of 10: not in sync: resp=0x00"])
    assert main(["flash", "--port", board]) == 0
    assert [call[call.index("-b") + 1] for call in avrdude.calls()] == ["115200", "57600"]
    assert "watchdog off" in capsys.readouterr().err
    avrdude.answer()
    assert main(["flash", "--port", board]) == 0
    assert "watchdog" not in capsys.readouterr().err


@pytest.mark.parametrize(
    ("words", "kind", "remedy", "tries"),
    [
        # as avrdude 7.1 prints them
        ("avrdude OS error: cannot open port /dev/x: No such file or directory", PortNotFound, "find", 1),
        ("avrdude OS error: cannot open port /dev/x: Permission denied", PortError, "dialout", 1),
        ("avrdude OS error: cannot open port /dev/x: Device or resource busy", PortBusy, "Close", 1),
        ("avrdude warning: attempt 10 of 10: not in sync: resp=0x00", PortSilent, "reset button", 2),
        ("avrdude error: expected signature for ATmega328P is 1E 95 0F", PortError, "atmega328pb", 1),
        ("avrdude: Device signature = 0x1e9516 (probably m328pb)", PortError, "atmega328pb", 1),
        ("avrdude: Device signature = 0x1e9801 (probably m2560)", PortError, "Uno R3", 1),
        ("Device signature = 1E 94 0B (ATmega168P)", PortError, "Uno R3", 1),
        ("avrdude error: verification mismatch", PortError, "again", 1),
        ("something new", PortError, "Unplug", 1),
    ],
)
def test_what_avrdude_complains_of_becomes_words_and_a_remedy(avrdude, words, kind, remedy, tries):
    avrdude.answer(b115200=[1, words], b57600=[1, words])
    with pytest.raises(kind) as refused:
        flashing.write(flashing.plan("/dev/x"))
    assert remedy in refused.value.remedy
    assert words in refused.value.what
    assert len(avrdude.calls()) == tries


@pytest.mark.parametrize(
    ("words", "chip"),
    [
        # as avrdude 6.3 and 7.1 print it, and as 8.1 does
        ("avrdude: Device signature = 0x1e9406 (probably m168)", "ATmega168"),
        ("Device signature = 1E 95 87 (ATmega32U4)", "ATmega32U4"),
        ("avrdude: Device signature = 0x1e950f (probably m328p)", ""),
        ("avrdude: Device signature = 0x000000", "unknown chip, signature 000000"),
        ("no word of it", ""),
    ],
)
def test_another_chip_is_named_by_its_signature(words, chip):
    assert chip_in(words) == chip
    if chip:
        assert chip in flashing.explain(words, "/dev/x").what


class Clocked:
    """A port that answers at one speed only, as a chip with another clock does."""

    def __init__(self, speaks):
        self.speaks, self.tried = speaks, []

    def open(self, port, baud=500000):
        self.tried.append(baud)
        return SimpleNamespace(url=port, baud=baud, close=lambda: None)

    def ask(self, line, patience):
        assert patience <= 5.0
        if line.baud == self.speaks:
            return "the board"
        raise PortSilent("no data arrived", where=line.url)


@pytest.mark.parametrize(("speaks", "clock"), [(1000000, "32 MHz"), (250000, "8 MHz"), (125000, "4 MHz")])
def test_a_copy_of_the_chip_with_the_same_signature_is_known_by_its_clock(monkeypatch, speaks, clock):
    """LGT8F328P answers 1E 95 0F, and boards with it run at 32 MHz or less (its users' reports)."""
    port = Clocked(speaks)
    monkeypatch.setattr(flashing, "open_port", port.open)
    monkeypatch.setattr(flashing, "ask", port.ask)
    with pytest.raises(WrongDevice, match=clock) as refused:
        flashing.ask_who("/dev/x")
    assert "LGT8F328P" in refused.value.remedy


def test_a_board_that_is_silent_after_flashing_says_what_to_look_at(monkeypatch):
    port = Clocked(9600)
    monkeypatch.setattr(flashing, "open_port", port.open)
    monkeypatch.setattr(flashing, "ask", port.ask)
    with pytest.raises(PortSilent) as refused:
        flashing.ask_who("/dev/x")
    assert port.tried == [500000, *flashing.OTHER_CLOCKS]
    assert "written and verified" in refused.value.remedy
    assert "D0 and D1" in refused.value.remedy


def test_the_program_that_has_the_port_is_named(tmp_path):
    """A folder in the form of Linux's /proc."""
    device = tmp_path / "ttyUSB0"
    device.touch()
    for number, name, opened in ((41, "editor", tmp_path / "other"), (42, "ModemManager", device)):
        folder = tmp_path / "proc" / str(number) / "fd"
        folder.mkdir(parents=True)
        (folder / "3").symlink_to(opened)
        (folder.parent / "comm").write_text(f"{name}\n")
    assert holder_of(str(device), tmp_path / "proc") == "ModemManager, process 42"
    assert holder_of(str(tmp_path / "ttyUSB1"), tmp_path / "proc") == ""
    assert holder_of(str(device), tmp_path / "no proc") == ""


def test_a_missing_avrdude_is_named_with_the_package_that_has_it(monkeypatch, tmp_path, capsys):
    monkeypatch.setenv("PATH", str(tmp_path))
    assert main(["flash", "--port", "/dev/ttyUSB0", "--json"]) == 2
    error = json.loads(capsys.readouterr().out)["error"]
    assert "apt-get install avrdude" in error["remedy"]


def test_a_simulated_rig_cannot_be_flashed(avrdude):
    with pytest.raises(InputError, match="serial port"):
        flashing.plan("modelled://idle")
