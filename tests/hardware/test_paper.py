"""The guide on paper, its pictures, and what its pages say of flashing, held to the code."""

import importlib.util
import re
import sys
from pathlib import Path

import pytest

from frothline.cli import parser
from frothline.rig import flashing
from frothline.rig.known_boards import SIGNATURES, other_board
from frothline.sensors.datasheets import PRESSURE, SENSOR
from frothline.sensors.spool import Spool

GUIDE = Path(__file__).parents[2] / "hardware/guide"
FLASH = (GUIDE / "3-flash.md").read_text("utf-8")


def script(name):
    spec = importlib.util.spec_from_file_location(f"guide_{name}", GUIDE / f"{name}.py")
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    return module


paper, steps = script("paper"), script("steps")


@pytest.mark.parametrize("name", steps.PICTURES)
def test_each_picture_of_a_step_is_the_one_made_by_its_script(name):
    assert (GUIDE / "pictures" / name).read_text("utf-8") == steps.PICTURES[name](), (
        "run python hardware/guide/steps.py"
    )


@pytest.mark.parametrize("page", [p for p in paper.GUIDE if p != "8-when-odd"])
def test_each_step_has_its_picture(page):
    assert re.search(r"!\[[^\]]+\]\([^)]+\.(svg|png)\)", (GUIDE / f"{page}.md").read_text("utf-8")), page


def test_the_pictures_show_the_figures_of_the_data_sheets_and_of_the_parts_list():
    """0.20 V of an MPX5050 at rest (NXP table, rev 5); 1 kg on 25 mm; 25 kPa are 2.55 m of water at 20 C."""
    assert f"{5 * PRESSURE[SENSOR['mpx5050']].c:.2f} V" in steps.first_light()
    bore, mass, pressure = steps._relief()
    assert (bore, mass) == (0.025, 1.0)
    assert pressure == pytest.approx(20e3, rel=0.01)
    assert "opens at 20 kPa" in steps.relief()
    assert "lift at 4.0 kPa" in steps.relief()
    assert "25 kPa are 2.55 m" in steps.u_tube()
    assert "630 mm straight" in steps.sweep(Spool.default())


def test_the_relief_is_proved_before_the_first_air():
    """The step comes before the first one in which the blower blows against a closed line."""
    text = (GUIDE / "5-leaks.md").read_text("utf-8")
    assert text.index("Relief and plates first") < text.index("Blind plate into the holder")
    for page in ("4-first-light.md", "3-flash.md", "2-wiring.md"):
        assert "blower on" not in (GUIDE / page).read_text("utf-8").lower()


def test_a_sweep_has_its_relief_in_the_picture_and_in_the_step():
    """The relief of step 5 stays in the line: both lines of the picture have it, and so has the list of what is in the hose."""
    assert steps.sweep(Spool.default()).count(">relief</text>") == 2
    text = (GUIDE / "7-first-sweep.md").read_text("utf-8")
    assert text.index("The relief is on its tee") < text.index("Guided sweep")


def test_the_buttons_that_the_first_sweep_names_are_on_the_pages():
    from frothline.web.pages.source import labels as source
    from frothline.web.pages.sweep import labels as sweep

    text = (GUIDE / "7-first-sweep.md").read_text("utf-8")
    for button in (source.GUIDED_SWEEP, sweep.MEASURE_DRY, sweep.MEASURE_WET, sweep.BUTTONS["foam"]):
        assert f"*{button}*" in text, button


# --- flashing ---------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("system", ["## Linux", "## Windows", "## macOS"])
def test_each_system_has_its_driver_port_permission_and_command(system):
    part = FLASH.split(system, 1)[1].split("\n## ", 1)[0]
    for word in ("driver", "port", "flash"):
        assert word in part.lower(), word


def test_the_commands_for_windows_are_ones_that_the_prompt_takes():
    found = re.findall(r"\.venv\\Scripts\\frothline (\w[^\n`]*)", FLASH)
    assert found
    for words in found:
        parser().parse_args(words.split())


@pytest.mark.parametrize("named", ["Mega 2560", "Leonardo", "Micro", "Nano Every", "Uno WiFi Rev2", "Due"])
def test_the_boards_that_the_guide_calls_wrong_are_those_that_flash_names(named):
    assert named in FLASH
    known = {str(other_board(vid, pid)) for vid in (0x2341, 0x2A03, 0x03EB) for pid in range(0x9000)}
    assert any(named in one for one in known)


def test_what_the_guide_quotes_is_what_flash_says():
    said = " ".join([entry[2] for entry in flashing._MEANINGS])
    for words in ("the bootloader does not answer", "this user may not open the port", "in use by another program",
                  "the memory read back differs"):  # fmt: skip
        assert words in said
        assert words in FLASH
    for number in ("1e9516", "1e9406"):
        told = flashing.explain(f"Device signature = 0x{number}", "/dev/x").what
        assert f"the board's chip is an {SIGNATURES[number]}" in told
        assert f"the board's chip is an {SIGNATURES[number]}" in FLASH
    assert [f"{baud:,}".replace(",", " ") in FLASH for baud in flashing.BAUDS[1:]] == [True]


# --- the paper --------------------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def printed():
    return paper.paper()


def test_the_paper_has_every_page_of_the_guide_in_its_order(printed):
    places = [printed.index(f'<section id="{paper.anchor(page)}">') for page in paper.PAGES]
    assert places == sorted(places)
    on_disk = {path.name for path in GUIDE.glob("*.md")}
    assert on_disk == {page.name for page in paper.PAGES if page.parent == GUIDE}


def test_the_paper_needs_no_other_file(printed):
    sources = re.findall(r'src="([^"]{1,40})', printed)
    assert len(sources) > 15
    assert all(source.startswith("data:image/") for source in sources)
    for target in re.findall(r'href="#([^"]+)"', printed):
        assert f'id="{target}"' in printed, target


def test_links_between_the_pages_of_the_guide_stay_within_the_paper(printed):
    guide = printed[: printed.index(f'<section id="{paper.anchor(paper.PAGES[len(paper.GUIDE)])}">')]
    outside = [target for target in re.findall(r'href="([^"#][^"]*)"', guide) if "://" not in target]
    assert not [target for target in outside if "guide" in target or re.match(r"\d-", target)], outside


def test_tables_code_and_cautions_are_on_the_paper_as_such(printed):
    assert printed.count("<table>") > 20
    assert "|---|" not in printed
    assert "```" not in printed
    fences = sum(len(re.findall(r"^ *```\w", page.read_text("utf-8"), re.MULTILINE)) for page in paper.PAGES)
    assert printed.count("<pre>") == fences > 10
    assert printed.count("<blockquote>") >= 8
    assert "MPX5050GP" in printed
    assert "In all lines: price date: 2026-11; price basis: from memory." in printed
    assert "frothline calibrate supply" in printed
