"""A pour, or the test of a cube, on a date that has not come anywhere on Earth is asked back.

The latest local time on Earth is UTC+14 (IANA time zone Pacific/Kiritimati); noon in UTC is 02:00 of the next day there.
"""

from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import pytest

from frothline.bench.cube_record import add_cube, correct_cube
from frothline.bench.cube_rows import add_cubes
from frothline.bench.pour_record import correct_pour, record_pour, wrong_entries
from frothline.errors import InputError
from frothline.pours import entries
from frothline.pours.record import parse_pour, read_pour

NOW = datetime(2025, 4, 12, 12, 0, tzinfo=UTC)
CUBE = {"edge": "100", "mass": "587", "load": "7.4"}


@pytest.fixture(autouse=True)
def _noon(monkeypatch):
    monkeypatch.setattr(entries, "utc_now", lambda: NOW)


def test_the_zone_that_is_furthest_ahead_is_that_of_the_time_zone_database():
    assert NOW.astimezone(ZoneInfo("Pacific/Kiritimati")).utcoffset() == entries.FURTHEST_AHEAD


@pytest.mark.parametrize(
    "text",
    [
        "2025-04-12",
        "2025-04-13",  # today in Kiritimati
        "2025-04-13T02:00:00",
        "2025-04-12T12:09:00Z",  # a clock that is some minutes ahead
        "2025-04-13T02:00:00+14:00",
        "2024-02-29",
    ],
)
def test_what_is_today_somewhere_is_not_in_the_future(text):
    for written in (text, f'"{text}"'):
        pour = parse_pour(f"poured = {written}\n", "kerb")
        assert pour.problems == ()
        assert str(pour.poured)[:10] == text[:10]
    assert wrong_entries({"poured": text}) == {}


@pytest.mark.parametrize(
    "text", ["2025-04-14", "2025-04-13T02:00:01", "2025-04-12T12:11:00Z", "2025-04-12T08:11:00-04:00", "2052-04-12"]
)
def test_a_pour_that_has_not_been_yet_is_asked_back(tmp_path, text):
    for written in (text, f'"{text}"'):
        pour = parse_pour(f"poured = {written}\n", "kerb")
        assert pour.poured is None
        (said,) = pour.problems
        assert "is in the future: it is 2025-04-12 12:00 UTC by this computer; check the date" in said
    assert "is in the future" in wrong_entries({"poured": text})["poured"]
    with pytest.raises(InputError, match="in the future"):
        record_pour(tmp_path, {"name": "kerb", "poured": text})
    assert not (tmp_path / "pours" / "kerb.toml").exists()
    record_pour(tmp_path, {"name": "kerb", "poured": "2025-04-12"})
    with pytest.raises(InputError, match="in the future"):
        correct_pour(tmp_path, "kerb", {"poured": text})


@pytest.mark.parametrize(
    ("poured", "age"),
    [
        ("2025-03-16 15:30", "28 d"),  # 13 April, today in Kiritimati
        ("2025-03-16 23:59", "4 weeks"),  # crushed earlier in the day than it was poured
        ("2025-04-12 01:00", "24 h"),
        ("", "28 d"),
    ],
)
def test_a_cube_that_was_crushed_today_somewhere_is_taken(tmp_path, poured, age):
    (tmp_path / "pours").mkdir()
    (tmp_path / "pours" / "kerb.toml").write_text(f'poured = "{poured}"\n' if poured else "\n", "utf-8")
    add_cube(tmp_path, "kerb", {**CUBE, "age": age})
    assert len(read_pour(tmp_path / "pours" / "kerb.toml").specimens) == 1


def test_a_cube_that_will_be_crushed_is_asked_back_by_every_way_of_entering_it(tmp_path):
    record_pour(tmp_path, {"name": "kerb", "poured": "2025-03-17"})
    path = tmp_path / "pours" / "kerb.toml"
    said = r"age “28 d” is 2025-04-14, which is in the future: check the age, and the date of the pour"
    with pytest.raises(InputError, match=said):
        add_cube(tmp_path, "kerb", {**CUBE, "age": "28"})
    rows = [{"pour": "kerb", **CUBE, "age": "28"}, {"load": "x"}, {"age": "27", "load": "7"}, {"age": "3 weeks"}]
    with pytest.raises(InputError, match=rf"row 1: {said}; row 2: Greatest load.*; row 2: {said}") as refused:
        add_cubes(tmp_path, rows)
    assert "row 3" not in refused.value.what
    add_cube(tmp_path, "kerb", {**CUBE, "age": "27"})
    with pytest.raises(InputError, match=said):
        correct_cube(tmp_path, "kerb", 1, {"age": "28"})
    with pytest.raises(InputError, match=r"specimen 1: age “27 d” is 2025-04-14"):
        correct_pour(tmp_path, "kerb", {"poured": "2025-03-18"})
    path.write_text(path.read_text("utf-8").replace("27 d", "28 d"), "utf-8")
    pour = read_pour(path)
    assert len(pour.specimens) == 1  # the cube is not lost
    assert "specimen 1: age “28 d” is 2025-04-14" in " ".join(pour.problems)


def test_a_specimen_that_was_not_crushed_has_no_date(tmp_path):
    record_pour(tmp_path, {"name": "kerb", "poured": "2025-04-12"})
    add_cube(tmp_path, "kerb", {"edge": "100", "dry-mass": "489"})
    assert read_pour(tmp_path / "pours" / "kerb.toml").problems == ()
