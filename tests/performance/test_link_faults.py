"""The table of the link under faults, with few of its cases each."""

import os
import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))

import measure_link_faults as faults

pytestmark = pytest.mark.skipif(os.name == "nt", reason="pseudo-terminals are POSIX")


@pytest.fixture(autouse=True)
def slow_board(request, monkeypatch):
    """The terminal keeps 4 kB for a late reader: 4 s at this rate, so that a busy machine loses nothing."""
    if "slept" not in request.node.name:
        monkeypatch.setattr(faults, "RATE", 25)


@pytest.mark.parametrize("count", [2, pytest.param(50, marks=pytest.mark.exhaustive)])
def test_a_pulled_cable_costs_no_line_that_had_a_way(tmp_path, count):
    found = faults.disconnects(tmp_path / "r", count)
    assert found.verdict == "interrupted"
    assert found.damaged <= 2 * count  # where the cable was pulled and where it was plugged in
    assert "port" in found.words


@pytest.mark.parametrize("count", [3, pytest.param(50, marks=pytest.mark.exhaustive)])
def test_a_reset_within_a_frame_costs_that_frame_alone(tmp_path, count):
    found = faults.resets(tmp_path / "r", count, 1)
    assert (found.lost, found.damaged) == (0, count)
    assert found.words.startswith("the board restarted (")


@pytest.mark.parametrize("count", [3, pytest.param(50, marks=pytest.mark.exhaustive)])
def test_garbage_costs_at_most_the_frames_at_its_ends(tmp_path, count):
    found = faults.garbage(tmp_path / "r", count, 1)
    assert found.lost <= count  # the frame behind it, to which its last bytes are joined
    assert found.damaged >= count


def test_a_board_that_falls_silent_is_reported_and_costs_nothing(tmp_path):
    found = faults.silence(tmp_path / "r")
    assert (found.lost, found.damaged, found.verdict) == (0, 0, "whole")
    assert found.words == "the port is open, but no data arrives"


def test_a_second_program_costs_the_first_nothing(tmp_path):
    found = faults.second_program(tmp_path / "r", 1)
    assert (found.lost, found.damaged, found.verdict) == (0, 0, "whole")
    assert "in use by another program" in found.words


@pytest.mark.parametrize(
    "hours", [2.0, *(pytest.param(h, marks=pytest.mark.exhaustive) for h in (1 / 60, 0.2, 0.29, 0.31, 0.5, 1.0, 8.0))]
)
def test_a_computer_that_slept_says_so_and_shows_figures_of_now(tmp_path, hours):
    found = faults.sleeps(tmp_path / "r", hours)
    assert found.verdict == "damaged"
    missing, slept, figure, *at_first = found.words.split("; ")
    # 3 s before it and 1.5 s after it do not tell, but a busy machine hears more
    assert len(at_first) <= (hours == 2.0)
    assert figure == "figure of now shown"
    assert abs(float(slept.removeprefix("the computer slept for ").removesuffix(" s")) - hours * 3600) < 60
    assert found.lost == 0
    assert int(missing.split()[0]) == round(hours * 3600 * faults.RATE)
