"""The guide: every command, link and file that it names exists, its cautions stand first, its pictures are the computed ones."""

import contextlib
import importlib.util
import io
import re
import shlex
import sys
from pathlib import Path

import printed
import pytest

from frothline.cli import parser
from frothline.sensors.datasheets import PRESSURE, SENSOR
from frothline.sensors.spool import Spool

ROOT = Path(__file__).parents[2]
HARDWARE = ROOT / "hardware"
PAGES = sorted(HARDWARE.rglob("*.md"))
STEPS = sorted((HARDWARE / "guide").glob("[0-9]-*.md"))
MADE_LATER = {"hardware/spool/build"}  # by the command beside it

spec = importlib.util.spec_from_file_location("bench_drawing", HARDWARE / "guide/bench.py")
bench = importlib.util.module_from_spec(spec)
sys.modules["bench_drawing"] = bench
spec.loader.exec_module(bench)


def name(path):
    return path.relative_to(ROOT).as_posix()


def commands(page):
    """Calls of frothline in code blocks and between backticks, comments and line breaks taken out."""
    text = page.read_text("utf-8").replace("\\\n", " ")
    return [
        shlex.split(found, comments=True)
        for found in re.findall(r"\.venv/bin/frothline((?: [^\n`]*)?)(?=[\n`]|$)", text)
    ]


@pytest.mark.parametrize("page", PAGES, ids=name)
def test_every_link_leads_to_a_file_that_is_there(page):
    for target in re.findall(r"\]\(([^)#]+)\)", page.read_text("utf-8")):
        if "://" not in target:
            assert (page.parent / target).exists(), f"{name(page)} links to {target}"


@pytest.mark.parametrize("page", PAGES, ids=name)
def test_every_file_of_the_repository_that_is_named_is_there(page):
    for target in re.findall(r"`((?:host|hardware|firmware|tests)/[\w./-]+)`", page.read_text("utf-8")):
        assert target in MADE_LATER or (ROOT / target).exists(), f"{name(page)} names {target}"
    for script in re.findall(r"(?:python|sh) ((?:host|hardware)/[\w./-]+)", page.read_text("utf-8")):
        assert (ROOT / script).exists(), f"{name(page)} runs {script}"


@pytest.mark.parametrize("page", [p for p in PAGES if ".venv/bin/frothline" in p.read_text("utf-8")], ids=name)
def test_every_command_of_the_guide_is_one_the_prompt_takes(page):
    found = commands(page)
    assert found
    for words in found:
        if not words or words == ["--help"]:
            continue
        with contextlib.redirect_stderr(io.StringIO()) as complaint:
            try:
                parser().parse_args(words)
            except SystemExit:
                pytest.fail(f"{name(page)}: frothline {' '.join(words)}: {complaint.getvalue()}")


def test_the_guide_shows_check_flash_calibrate_and_a_sweep():
    """A guide whose commands were not found would pass the test above."""
    used = {words[0] for page in STEPS for words in commands(page) if words}
    assert {"check", "flash", "calibrate", "settings", "live", "record", "curve", "demo"} <= used


@pytest.mark.parametrize("page", STEPS, ids=name)
def test_each_step_begins_with_what_can_hurt_there(page):
    lines = [line for line in page.read_text("utf-8").splitlines() if line]
    assert lines[0].startswith("# ")
    assert lines[1].startswith("> ")


def test_the_first_page_has_every_caution_before_any_instruction():
    text = (HARDWARE / "guide/README.md").read_text("utf-8")
    cautions = text[: text.index("## The bench")].lower()
    for word in ("compressor", "shatters", "relief opening", "residual-current", "ground-fault", "licensed", "local codes",
                 "noise", "hot", "check valve", "solder", "solvent", "cement"):  # fmt: skip
        assert word in cautions, word


def test_pvc_is_never_offered_to_compressed_air():
    """Every page that speaks of a compressor says never or through a regulator in the same paragraph."""
    for page in PAGES:
        for paragraph in re.split(r"\n\s*\n", page.read_text("utf-8")):
            if re.search(r"compress(or|ed air)", paragraph):
                assert re.search(r"[Nn]ever|Nothing|regulator|mistake|No plastic|\bno\b", paragraph), (
                    f"{name(page)}: {paragraph}"
                )


def test_the_side_view_and_its_list_are_the_ones_drawn_from_the_spool_file():
    spool = Spool.default()
    assert (HARDWARE / "guide/bench.svg").read_text("utf-8") == bench.bench(spool)
    assert bench.legend(spool) in (HARDWARE / "guide/README.md").read_text("utf-8")


def test_the_readings_to_expect_are_those_of_the_data_sheets():
    """NXP MPX5050 rev 5 table (read): offset 0.20 V typical at 5 V; a 10 kohm divider stands at half of 5 V at 25 C."""
    text = (HARDWARE / "guide/4-first-light.md").read_text("utf-8")
    assert 5.0 * PRESSURE[SENSOR["mpx5050"]].c == pytest.approx(0.20)
    assert "0.20 V on A0" in text
    assert "2.5 V on A2 at 25 °C" in text
    # the accuracy band of the same table, 2.5 % of 50 kPa
    assert "±1.25 kPa" in text


@pytest.mark.parametrize("part", sorted({*printed.render.PARTS, *printed.render.APART}))
def test_each_printed_part_has_its_picture(part):
    picture = HARDWARE / f"guide/pictures/{part}.png"
    assert picture.read_bytes().startswith(b"\x89PNG")
    assert picture.stat().st_size > 5000  # an empty view of this size takes 3 kB
