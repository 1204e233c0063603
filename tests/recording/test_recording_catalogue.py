"""The catalogue: found by looking, quick by its cache, and broken by nothing that lies in the folder."""

import os
import shutil
import time
import tracemalloc
from datetime import UTC, datetime
from pathlib import Path

import pytest
from recording_scenes import BoardStream, SetClock

from frothline.errors import InputError
from frothline.recording import summary
from frothline.recording.catalogue import CACHE, Catalogue
from frothline.recording.reader import load
from frothline.recording.segments import Policy
from frothline.recording.summary import summarise
from frothline.recording.writer import RecordingWriter
from frothline.wire import decode_all, encode

BEGAN = 1_700_000_000.0


def record(folder, name, *, at=0.0, seconds=3, toml="", notes=()):
    clock, stream = SetClock(unix=BEGAN + at), BoardStream()
    writer = RecordingWriter.create(
        folder, name, clock=clock, background=False, policy=Policy(free_floor=0), source="COM7"
    )
    writer.write(stream.description())
    for _ in range(seconds):
        clock.advance(1)
        writer.write(stream.seconds(1))
    for note in notes:
        writer.note("note", note)
    writer.note("mark", "m")
    writer.close()
    if toml:
        writer.path.with_suffix(".toml").write_text(toml, encoding="utf-8")
    return writer.path


@pytest.fixture
def season(tmp_path):
    record(tmp_path, "first", toml='title = "Two vacuums in series"\nkind = "sweep"\ntags = ["wet", "June"]\n')
    record(tmp_path, "second", at=3600, notes=["Packung gewechselt"], toml='kind = "run"\nbuild = "short tube"\n')
    (tmp_path / "attic").mkdir()
    record(tmp_path / "attic", "third", at=-86400, toml="[[sample]]\nmass = 0.123\n[[sample]]\nmass = 0.130\n")
    return tmp_path


def test_all_recordings_are_found_the_newest_first(season):
    catalogue = Catalogue(season)
    assert [entry.name for entry in catalogue] == ["second", "first", "third"]
    entry = catalogue.named("second")
    assert (entry.state, entry.kind, entry.build, entry.source) == ("closed", "run", "short tube", "COM7")
    assert (entry.label, entry.firmware, entry.marks) == ("shed", "1.0.2", 1)
    assert entry.notes == ("Packung gewechselt",)
    assert entry.seconds == pytest.approx(3.0)
    assert entry.began == datetime(2023, 11, 14, 23, 13, 20, tzinfo=UTC)
    assert entry.problem == ""
    assert [sample["mass"] for sample in catalogue.named("third").samples] == [0.123, 0.130]
    assert catalogue.named("first").title == "Two vacuums in series"


@pytest.mark.parametrize(
    ("asked", "found"),
    [
        ({"words": "vacuums"}, ["first"]),
        ({"words": "PACKUNG com7"}, ["second"]),
        ({"words": "packung vacuums"}, []),
        ({"kind": "sweep"}, ["first"]),
        ({"build": "short tube"}, ["second"]),
        ({"tag": "wet"}, ["first"]),
        ({"since": datetime(2023, 11, 14, tzinfo=UTC)}, ["second", "first"]),
        ({"until": datetime(2023, 11, 14, tzinfo=UTC)}, ["third"]),
        ({"since": "2030-01-01"}, []),
        ({"until": "2030-01-01"}, ["second", "first", "third"]),
        ({"state": "closed"}, ["second", "first", "third"]),
        ({}, ["second", "first", "third"]),
    ],
)
def test_search_and_filter(season, asked, found):
    assert [entry.name for entry in Catalogue(season).find(**asked)] == found


def test_days_that_are_none_or_in_the_wrong_order_are_asked_back(season):
    with pytest.raises(InputError, match="“soon” is not a valid date"):
        Catalogue(season).find(since="soon")
    with pytest.raises(InputError, match="the first day is after the last"):
        Catalogue(season).find(since="2025-04-12", until="2025-04-11")


def test_photos_are_those_whose_names_begin_as_the_recordings(season):
    for name in ("first.jpg", "first (outlet).PNG", "unrelated.jpg", "second-2.jpeg"):
        (season / name).write_bytes(b"")
    catalogue = Catalogue(season)
    assert [Path(photo).name for photo in catalogue.named("first").photos] == ["first (outlet).PNG", "first.jpg"]
    assert len(catalogue.named("second").photos) == 1


def test_a_second_look_reads_no_recording_again(season):
    assert Catalogue(season).refresh() == 0
    again = Catalogue(season)
    before = again.entries
    assert again.refresh() == 0
    assert before == again.entries


def test_what_changed_is_summarised_anew(season):
    catalogue = Catalogue(season)
    (season / "first.toml").write_text('title = "another"\n', encoding="utf-8")
    assert catalogue.refresh() == 1
    assert catalogue.named("first").title == "another"
    record(season, "fourth", at=7200)
    assert catalogue.refresh() == 1
    assert next(iter(catalogue)).name == "fourth"


def test_a_moved_file_is_found_where_it_is_now(season):
    Catalogue(season)
    identity = Catalogue(season).named("first").identity
    (season / "first.froth").rename(season / "attic" / "renamed.froth")
    catalogue = Catalogue(season)
    assert catalogue.named(identity).name == "renamed"
    assert len(catalogue) == 3


def test_a_folder_that_moved_as_a_whole_keeps_its_cache(season, tmp_path_factory):
    Catalogue(season)
    there = tmp_path_factory.mktemp("there") / "season"
    shutil.copytree(season, there)  # with the times of the files
    catalogue = Catalogue.__new__(Catalogue)
    catalogue.folder, catalogue._entries, catalogue._stamps = there, {}, {}
    catalogue._read_cache()
    assert catalogue.refresh() == 0
    assert catalogue.named("first").path == str(there / "first.froth")


@pytest.mark.parametrize(
    "content", [b"", b"{", b"[]", b'{"version": 1}', b'{"version": 99, "entries": {}}', b"\xff\xfe"]
)
def test_a_broken_cache_costs_time_and_nothing_else(season, content):
    Catalogue(season)
    (season / CACHE).write_bytes(content)
    assert len(Catalogue(season)) == 3
    assert Catalogue(season).refresh() == 0


def test_a_cache_whose_entries_have_other_fields_is_thrown_away(season):
    Catalogue(season)
    text = (season / CACHE).read_text(encoding="utf-8")
    (season / CACHE).write_text(text.replace('"firmware"', '"programme"'), encoding="utf-8")
    assert Catalogue(season).named("first").firmware == "1.0.2"


def newer(path):
    data = path.read_bytes()
    head = decode_all(data).tables["recording_opened"][0]
    values = {name: head[name].tobytes() if name == "identity" else head[name] for name in head.dtype.names[2:]}
    path.write_bytes(encode("recording_opened", 0, **(values | {"format": 9})) + data[data.index(b"\0") + 1 :])


def test_damaged_newer_and_strange_files_are_listed_with_what_is_wrong(season):
    newer(season / "second.froth")
    (season / "first.froth").write_bytes(b"\x07" * 5000)
    (season / "empty.froth").write_bytes(b"")
    (season / "folder.froth").mkdir()
    (season / "attic" / "third.toml").write_text("title = \n", encoding="utf-8")
    catalogue = Catalogue(season)
    assert {entry.name: entry.state for entry in catalogue} == {
        "first": "unreadable",
        "second": "newer",
        "third": "closed",
        "empty": "unreadable",
    }
    assert "format 9" in catalogue.named("second").problem
    assert catalogue.named("first").title == "Two vacuums in series"  # what people wrote is still shown
    assert "line 1" in catalogue.named("third").problem


def test_any_cut_of_a_recording_is_listed(tmp_path):
    whole = record(tmp_path, "whole", seconds=1).read_bytes()
    for k, cut in enumerate(range(0, len(whole), 97)):
        (tmp_path / f"cut{k}.froth").write_bytes(whole[:cut])
    catalogue = Catalogue(tmp_path)
    assert {entry.state for entry in catalogue} == {"closed", "open", "unreadable"}
    assert len(catalogue) == 1 + k + 1


def test_a_recording_that_is_being_written_is_open_and_has_its_length_so_far(tmp_path):
    stream = BoardStream()
    writer = RecordingWriter.create(tmp_path, "now", background=False, policy=Policy(free_floor=0))
    writer.write(stream.description() + stream.seconds(4))
    (entry,) = Catalogue(tmp_path)
    assert entry.state == "open"
    assert entry.seconds == pytest.approx(3.99)
    writer.close()


@pytest.mark.parametrize("step", [86_400.0, -86_400.0])
@pytest.mark.parametrize("closed", [True, False])
def test_the_length_does_not_follow_a_step_of_the_wall_clock(tmp_path, step, closed):
    clock, stream = SetClock(unix=BEGAN), BoardStream()
    writer = RecordingWriter.create(tmp_path, "r", clock=clock, background=False, policy=Policy(free_floor=0))
    writer.write(stream.description())
    for second in range(25):
        clock.advance(1)
        if second == 12:
            clock.unix += step
        writer.write(stream.seconds(1))
        writer.anchor(stream.tick % 2**32)
    if closed:
        writer.close()
    (entry,) = Catalogue(tmp_path)
    assert entry.state == ("closed" if closed else "open")
    assert entry.seconds == pytest.approx(25.0, abs=0.02)
    assert entry.started == BEGAN
    writer.close()


def test_the_length_of_a_suspended_computer_is_that_of_the_board(tmp_path):
    """CLOCK_MONOTONIC of Linux stops while the computer is suspended (clock_gettime(2)); the board's clock goes on."""
    clock, stream = SetClock(unix=BEGAN), BoardStream()
    writer = RecordingWriter.create(tmp_path, "r", clock=clock, background=False, policy=Policy(free_floor=0))
    writer.write(stream.description() + stream.seconds(20))
    clock.monotonic += 5
    clock.unix += 20
    writer.close()
    (entry,) = Catalogue(tmp_path)
    assert entry.seconds == pytest.approx(20.0, abs=0.02)


def test_a_resumed_recording_counts_the_time_without_the_program(tmp_path):
    clock, stream = SetClock(unix=BEGAN), BoardStream()
    writer = RecordingWriter.create(tmp_path, "r", clock=clock, background=False, policy=Policy(free_floor=0))
    writer.write(stream.description() + stream.seconds(2))
    clock.advance(2)
    writer.anchor(stream.tick)
    path = writer.path
    writer._segments._disk.close(writer._segments._descriptor)
    later = SetClock(unix=BEGAN + 602, monotonic=30.0)  # the computer was started again
    again = RecordingWriter.resume(path, clock=later, background=False, policy=Policy(free_floor=0))
    later.advance(8)
    again.close()
    (entry,) = Catalogue(tmp_path)
    assert entry.seconds == pytest.approx(610.0, abs=0.02)


@pytest.mark.parametrize("forged", ["-", "", "x", "\u0663", "9" * 60, "-5"])
def test_a_segment_that_says_nonsense_about_the_one_before_is_still_read(tmp_path, forged):
    """A note with a valid check can be written by anybody; its text need not be a number of bytes."""
    path = record(tmp_path, "r", seconds=1)
    whole = path.read_bytes()
    first = whole.index(b"\0") + 1
    note = encode("note", 1, unix_ns=0, monotonic_ns=0, tick=0, kind="repeats", text=forged)
    path.with_name("r.s001.froth").write_bytes(whole[:first] + note + whole[first:])
    (entry,) = Catalogue(tmp_path)
    assert (entry.state, entry.problem, entry.segments) == ("closed", "", 2)
    assert len(load(path).decoded.tables["line"]) >= 100


def test_an_empty_and_a_headless_recording_are_listed_as_such(tmp_path):
    whole = record(tmp_path, "whole", seconds=1).read_bytes()
    (tmp_path / "empty.froth").write_bytes(b"")
    (tmp_path / "torn.froth").write_bytes(whole[:20])
    (tmp_path / "headless.froth").write_bytes(whole[whole.index(b"\0") + 1 :])
    found = {entry.name: (entry.state, entry.problem) for entry in Catalogue(tmp_path)}
    assert found["empty"] == ("unreadable", "it is empty")
    assert found["torn"] == ("unreadable", "it contains no valid data")
    assert found["headless"] == ("closed", "its head is missing or damaged; the readings behind it are shown")
    assert found["whole"] == ("closed", "")


def test_the_summary_of_a_large_file_takes_little_more_memory_than_the_file(tmp_path, monkeypatch):
    """It took three times the size of the file."""
    monkeypatch.setattr(summary, "_STEP", 1 << 14)
    path = record(tmp_path, "long")
    content = path.read_bytes()
    path.write_bytes(content + bytes(1 << 21) + b"\1" * (1 << 21))
    tracemalloc.start()
    entry = summarise([path])
    most = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert entry.identity
    assert most < 1.5 * path.stat().st_size


@pytest.mark.parametrize("step", [1, 2, 3, 50, 1000])
def test_the_borders_between_the_searched_steps_hide_no_message(tmp_path, monkeypatch, step):
    path = record(tmp_path, "whole")
    expected = summarise([path])
    monkeypatch.setattr(summary, "_STEP", step)
    assert summarise([path]) == expected


def test_segments_are_one_recording(tmp_path):
    stream = BoardStream()
    writer = RecordingWriter.create(tmp_path, "long", background=False, policy=Policy(free_floor=0, segment_bytes=3000))
    writer.write(stream.description())
    for _ in range(200):
        writer.write(stream.line())
    writer.close()
    (entry,) = Catalogue(tmp_path)
    assert entry.segments > 2
    assert entry.state == "closed"


def test_a_folder_that_is_none_is_told(tmp_path):
    with pytest.raises(InputError, match="folder does not exist"):
        Catalogue(tmp_path / "nowhere")


def test_an_ambiguous_name_is_told(season):
    shutil.copy(season / "first.froth", season / "attic" / "first.froth")
    with pytest.raises(InputError, match="2 recordings have that name"):
        Catalogue(season).named("first")


@pytest.mark.skipif(hasattr(os, "geteuid") and os.geteuid() == 0, reason="root may write everywhere")
def test_a_folder_that_cannot_be_written_is_still_shown(season):
    season.chmod(0o500)
    try:
        assert len(Catalogue(season)) == 3
    finally:
        season.chmod(0o700)


def thousands(folder, n):
    whole = record(folder, "r0").read_bytes()
    for k in range(1, n):
        (folder / f"r{k}.froth").write_bytes(whole)
        (folder / f"r{k}.toml").write_text(f'title = "run {k}"\nkind = "run"\n', encoding="utf-8")


@pytest.mark.slow
@pytest.mark.exhaustive
def test_three_thousand_recordings_open_in_under_two_seconds_of_the_processor(tmp_path):
    thousands(tmp_path, 3000)
    start = time.process_time()
    Catalogue(tmp_path)
    cold = time.process_time() - start
    start = time.process_time()
    catalogue = Catalogue(tmp_path)
    warm = time.process_time() - start
    start = time.process_time()
    (found,) = catalogue.find("run 1234")
    search = time.process_time() - start
    print(f"3000 recordings: first time {cold:.2f} s, from the cache {warm:.2f} s, search {search:.3f} s")
    assert found.name == "r1234"
    assert warm < 2.0


def test_the_runs_of_a_build_are_found_by_the_path_and_by_the_name_of_its_sheet():
    from seasons import SEASON

    found = Catalogue(SEASON).find(build="first-tube")
    assert found
    assert found == Catalogue(SEASON).find(build="builds/first-tube.toml")
