"""The table of recording under faults, with few of its cases each."""

import errno
import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))

import measure_recording_faults as faults


@pytest.mark.skipif(sys.platform == "win32", reason="there is no SIGKILL")
@pytest.mark.parametrize("count", [12, pytest.param(500, marks=pytest.mark.exhaustive)])
def test_a_recording_process_killed_at_any_moment_loses_no_byte_that_was_handed_over(tmp_path, count):
    found = faults.killed_recordings(tmp_path, count, 5)
    assert found["killed"] == count
    assert found["ended by itself"] == 0
    assert found["bytes lost"] == found["frames lost"] == found["tracebacks"] == 0
    assert found["empty files"] == found["without a head"] == found["without TOML"] == found["refused in words"] == 0
    assert found["listed with a problem"] == 0
    assert found["opened"] == found["left a recording"] == found["continued"]
    assert found["opened"] + found["before the recording began"] == count


@pytest.mark.parametrize(("number", "for_ever"), [(errno.ENOSPC, False), (errno.EROFS, True)])
def test_a_failing_disk_loses_nothing_without_a_message(tmp_path, number, for_ever):
    found = faults.failing_disk(tmp_path, number, for_ever=for_ever, step=9)
    assert found["tracebacks"] == found["lines lost without a word"] == 0
    assert found["refused in words"] + found["complete"] + found["reported at the end"] == found["cases"]


def test_a_file_that_may_not_grow_further_goes_on_in_segments(tmp_path):
    found = faults.small_file(tmp_path / "small", 50_000)
    assert found["complete"] == 1
    assert found["write faults"] > 2
    assert found["lines in the file"] == found["lines handed over"]


def test_a_folder_that_goes_away_costs_at_most_the_second_before(tmp_path):
    lost = {name: of - lines for name, lines, of, _ in faults.folder_faults(tmp_path)}
    assert lost == {
        "folder deleted": 500,
        "folder moved": 0,
        "file deleted": 500,
        "folder replaced by a file": 500,
        "clock set back a day": 0,
    }


def test_every_frame_that_no_damage_touched_is_read(tmp_path):
    found = faults.damaged_files(tmp_path / "damaged", 5, 3)
    assert found["of them read"] == found["frames not touched"] > 3000
    assert found["tracebacks"] == 0


@pytest.mark.parametrize("count", [50_000, pytest.param(10_000_000, marks=pytest.mark.exhaustive)])
def test_no_damaged_frame_is_taken_for_a_valid_one(count):
    assert faults.damaged_frames(count, 2, min(count, 200_000)) == (count, 0)
