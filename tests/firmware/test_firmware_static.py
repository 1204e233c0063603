"""Static analysis of all C of the project. The compilers' own warnings are errors in every build (firmware/Makefile)."""

import shutil
import subprocess

import pytest
from firmware_probe import FIRMWARE

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
