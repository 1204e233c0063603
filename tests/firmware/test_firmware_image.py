"""The image that is flashed: rebuilt byte for byte, within its budgets of flash, RAM and stack."""

import re
import shutil
import subprocess

import pytest
from firmware_probe import FIRMWARE
from worst_stack import worst_stack

SHIPPED = FIRMWARE.parent / "host" / "frothline" / "rig" / "image" / "frothline.hex"
COMPILER = "5.4.0"  # avr-gcc of Debian 12, with which the shipped image was built
FLASH, RAM = 32_768, 2_048  # ATmega328P data sheet, "Features"

pytestmark = pytest.mark.firmware


@pytest.fixture(scope="module")
def build(tmp_path_factory):
    if not shutil.which("avr-gcc"):
        pytest.skip("needs avr-gcc and avr-libc")
    folder = tmp_path_factory.mktemp("image")
    done = subprocess.run(["make", "-C", FIRMWARE, f"BUILD={folder}"], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    assert "warning" not in done.stderr
    return folder


@pytest.fixture(scope="module")
def size(build):
    done = subprocess.run(
        ["make", "-s", "-C", FIRMWARE, "size", f"BUILD={build}"], capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stdout + done.stderr
    return {kind: int(used) for kind, used in re.findall(r"(flash|RAM) +(\d+) of", done.stdout)}


def test_the_image_built_anew_is_the_shipped_one_byte_for_byte(build):
    version = subprocess.run(["avr-gcc", "-dumpversion"], capture_output=True, text=True, check=True).stdout.strip()
    if version != COMPILER:
        pytest.skip(f"the shipped image was built with avr-gcc {COMPILER}, this is {version}")
    assert (build / "frothline.hex").read_bytes() == SHIPPED.read_bytes(), "run `make -C firmware image`"


def test_the_image_keeps_to_60_percent_of_the_flash_and_70_of_the_ram(size):
    assert 0 < size["flash"] <= 0.60 * FLASH
    assert 0 < size["RAM"] <= 0.70 * RAM


def test_size_fails_over_budget(build):
    for limit in ("FLASH_PERCENT=10", "RAM_PERCENT=10"):
        done = subprocess.run(
            ["make", "-s", "-C", FIRMWARE, "size", f"BUILD={build}", limit], capture_output=True, check=False
        )
        assert done.returncode != 0


def test_the_deepest_stack_leaves_half_of_what_the_variables_leave(build, size):
    """Longest chain of calls from main, and on it the deepest interrupt; interrupts do not nest."""
    main, chain, interrupt, vectors = worst_stack(build, "_chore$")
    free = RAM - size["RAM"]
    assert len(chain) >= 4, chain
    assert vectors[0].startswith("__vector")
    assert main + interrupt <= free / 2, (chain, vectors)


def test_the_readme_tells_the_size_as_measured(size):
    readme = (FIRMWARE / "README.md").read_text("utf-8")
    for kind, used in size.items():
        row = re.search(rf"^\| {kind} \| ([\d ]+) \|", readme, re.MULTILINE)
        assert row, f"no row for {kind}"
        assert int(row[1].replace(" ", "")) == used


def test_no_time_place_or_machine_enters_the_image(build):
    dump = subprocess.run(["avr-objcopy", "-O", "binary", build / "frothline.elf", build / "image.bin"], check=False)
    assert dump.returncode == 0
    image = (build / "image.bin").read_bytes()
    for word in (str(FIRMWARE), str(build), "core/", ".c\0"):
        assert word.encode() not in image
