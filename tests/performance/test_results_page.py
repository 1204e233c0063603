"""The results page is written from its stored parts, and says when each was measured."""

import json
import subprocess
import sys
from pathlib import Path

import pytest

HERE = Path(__file__).parent
sys.path.insert(0, str(HERE))

from results_page import NAMES, PARTS, RESULTS, Part, main, page  # noqa: E402


def test_the_stored_page_is_the_one_that_the_stored_parts_give():
    assert (RESULTS / "README.md").read_text() == page()


STORED = tuple(sorted(path.stem for path in PARTS.glob("*.json")))


def test_no_part_is_without_its_measurement_and_the_page_says_what_was_never_measured():
    assert set(STORED) <= set(NAMES)
    missing = sorted(set(NAMES) - set(STORED))
    assert (f"Not measured yet: {', '.join(missing)}." in page()) == bool(missing)


@pytest.mark.parametrize("name", STORED)
def test_every_part_names_its_machine_its_date_and_its_seed(name):
    part = Part(**json.loads((PARTS / f"{name}.json").read_text()))
    assert {"machine", "date", "seed", "took"} <= set(part.measured)
    assert part.rows
    assert {len(row) for row in part.rows} == {len(part.columns)}


def test_an_unknown_measurement_is_named_with_those_that_there_are(capsys):
    with pytest.raises(SystemExit):
        main(["flying"])
    assert "no measurement is called flying" in capsys.readouterr().err


def test_the_command_tells_its_use():
    told = subprocess.run(
        [sys.executable, HERE / "results_page.py", "--help"], capture_output=True, text=True, check=True
    )
    assert "--seed" in told.stdout
