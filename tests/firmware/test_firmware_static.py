"""Static analysis of all C of the project. The compilers' own warnings are errors in every build (firmware/Makefile)."""

import shutil
import subprocess

import pytest
from firmware_probe import FIRMWARE, Board, Probe, build_native, named

from frothline.wire import ENUMS, LAYOUT_HASH

pytestmark = pytest.mark.firmware
SOURCES = ("core", "drivers", "rig", "boards", "main.c", "native", "emulator")


def test_the_c_is_clean_for_cppcheck():
    if not shutil.which("cppcheck"):
        pytest.fail("cppcheck is not installed; tests/run installs it")
    command = [
        "cppcheck",
        "--std=c11",
        "--enable=warning,style,performance,portability",
        "--suppress=missingIncludeSystem",
        "--suppress=unusedStructMember:emulator/analog.c",  # one member of a union that only writes the other
        "--error-exitcode=1",
        "--quiet",
        "-I.",
        "-DF_CPU=16000000UL",
        "-D__AVR_ATmega328P__",
        *SOURCES,
    ]
    found = subprocess.run(command, cwd=FIRMWARE, capture_output=True, text=True, check=False)
    assert found.returncode == 0, found.stdout + found.stderr


def test_an_error_in_c_would_be_found(tmp_path):
    (tmp_path / "wrong.c").write_text("int last(void)\n{\n    int four[4] = {0};\n    return four[4];\n}\n")
    found = subprocess.run(
        ["cppcheck", "--error-exitcode=1", "--quiet", "wrong.c"],
        cwd=tmp_path,
        capture_output=True,
        text=True,
        check=False,
    )
    assert found.returncode == 1
    assert "arrayIndexOutOfBounds" in found.stderr


@pytest.fixture(scope="module")
def second(tmp_path_factory):
    """The portable firmware as the second compiler builds it, with the same checks at run time."""
    return build_native(tmp_path_factory.mktemp("clang"), "clang")


def test_a_second_compiler_builds_the_portable_firmware_without_a_warning_and_it_runs(second, program):
    """Every warning that clang has is on and an error, but for those listed in firmware/Makefile with their reason."""
    answers = []
    for built in (program, second):
        probe = Probe(built)
        assert probe.ask("crc", b"123456789".hex()) == "cbf43926"  # catalogue of CRCs, CRC-32/ISO-HDLC
        board = Board(probe, adc0=512, rotor=5000)
        board.command("start")
        heard = board.run(1.0) + board.command("describe", seconds=0.3)[1]
        assert int(named(heard, "description")[-1]["layout_hash"]) == LAYOUT_HASH
        assert board.command("set_rate", rate=5)[0] == ENUMS["ack_result"]["bad_value"]
        answers.append([one.raw for one in heard])
        probe.close()
    assert answers[0] == answers[1]  # byte for byte


def test_the_second_compiler_finds_what_the_first_lets_pass(tmp_path):
    """-Wmissing-noreturn is a warning of clang's that is not among gcc's in firmware/Makefile."""
    if not shutil.which("clang"):
        pytest.skip("needs clang; tests/run installs it")
    wrong = "#include <stdlib.h>\nstatic void end(void)\n{\n    abort();\n}\nint main(void)\n{\n    end();\n}\n"
    (tmp_path / "wrong.c").write_text(wrong)
    flags = ["-std=c11", "-Weverything", "-Werror", "-fsyntax-only"]
    found = subprocess.run(["clang", *flags, "wrong.c"], cwd=tmp_path, capture_output=True, text=True, check=False)
    assert found.returncode != 0
    assert "-Wmissing-noreturn" in found.stderr


@pytest.mark.exhaustive
def test_the_portable_c_is_clean_for_clang_tidy():
    """Off: advice to use functions of C11's annex K, which neither library has, and parameters that could be swapped."""
    if not shutil.which("clang-tidy"):
        pytest.skip("needs clang-tidy")
    checks = (
        "-*,bugprone-*,clang-analyzer-*,performance-*,portability-*,misc-*,-bugprone-easily-swappable-parameters,"
        "-clang-analyzer-security.insecureAPI.DeprecatedOrUnsafeBufferHandling"
    )
    sources = [str(path) for folder in ("core", "drivers", "rig") for path in sorted((FIRMWARE / folder).glob("*.c"))]
    command = ["clang-tidy", "--quiet", "--warnings-as-errors=*", f"--checks={checks}", *sources]
    found = subprocess.run(
        [*command, "--", "-std=c11", "-I.", "-fshort-enums"], cwd=FIRMWARE, capture_output=True, text=True, check=False
    )
    assert found.returncode == 0, found.stdout
