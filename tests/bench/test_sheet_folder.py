"""The folder of build sheets: where a sheet may be saved."""

from dataclasses import replace
from functools import cache

import pytest
from builds import FIRST

from frothline.bench.own_build import SHEETS
from frothline.bench.sheet_folder import SheetFolder
from frothline.bench.source_files import SOURCES, generator_entries, source_entries
from frothline.curve.steady_points import SteadyPoint
from frothline.errors import InputError
from frothline.generator.room_air import RoomAir
from frothline.generator.sheet import starting_sheet
from frothline.source_library.saving import source_of_points
from frothline.sweep.generator_file import BUILDS, GENERATORS, generator_of, write_generator
from frothline.sweep.recorded_generator import read_generator_sweep
from frothline.sweep.recorded_source import load_sweeps
from frothline.sweep.source_file import SourceFile, read_source, source_text, write_source


def test_no_sheet_is_saved_through_a_link_out_of_the_folder(tmp_path):
    recordings, outside = tmp_path / "recordings", tmp_path / "outside"
    recordings.mkdir()
    outside.mkdir()
    folder = SheetFolder()
    folder.begin(recordings, simulated=False)
    assert folder.for_saving() == recordings / SHEETS  # made by the first sheet
    (recordings / SHEETS).symlink_to(outside)
    with pytest.raises(InputError, match="is a link to another place"):
        folder.for_saving()
    (recordings / SHEETS).unlink()
    (recordings / "sheets").mkdir()
    (recordings / SHEETS).symlink_to(recordings / "sheets")
    assert folder.for_saving() == recordings / SHEETS


POINTS = tuple(SteadyPoint.from_parts(2e4 - 1e5 * q, q, (20.0, 2e-5, 0.0)) for q in (0.01, 0.02, 0.03, 0.04, 0.05))


THROUGH = tuple(SteadyPoint.from_parts(1e7 * q * q, q, (20.0, 2e-5, 0.0)) for q in (0.01, 0.015, 0.02))


@cache
def measured():
    return generator_of(FIRST, (), THROUGH)


def pass_on(folder, place, name, builder=""):
    (folder / place).mkdir(exist_ok=True)
    if name.startswith("blower"):
        return write_source(folder / place / f"{name}.toml", SourceFile(name, "g", POINTS, RoomAir(), builder=builder))
    return write_generator(folder / place / f"{name}.toml", replace(measured(), name=name, builder=builder))


def test_files_of_other_builders_are_offered_from_both_folders_by_the_name_in_the_file(tmp_path, monkeypatch):
    monkeypatch.setenv("FROTHLINE_BUILDER", "A. Turner")
    pass_on(tmp_path, BUILDS, "tall", "B. Miller")
    pass_on(tmp_path, GENERATORS, "wide", "C. Smith")
    pass_on(tmp_path, BUILDS, "mine", "a.  turner")
    pass_on(tmp_path, BUILDS, "nameless")
    for place in (BUILDS, GENERATORS):
        pass_on(tmp_path, place, "twice", "B. Miller")
    pass_on(tmp_path, BUILDS, "blower one", "B. Miller")
    pass_on(tmp_path, SOURCES, "blower two")
    (tmp_path / BUILDS / "sheet.toml").write_text(starting_sheet(), "utf-8")
    (tmp_path / BUILDS / "damaged.toml").write_text("[[", "utf-8")
    folder = SheetFolder()
    folder.begin(tmp_path, simulated=False)
    folder.refresh()
    lines = {one.words: one.path for one in folder.found.recorded if one.through == "file"}
    assert set(lines) == {
        "tall (file of B. Miller)",
        "wide (file of C. Smith)",
        "mine (file)",
        "nameless (file)",
        "twice (file of B. Miller)",
    }
    assert lines["tall (file of B. Miller)"] == str(tmp_path / BUILDS / "tall.toml")
    assert len(read_generator_sweep([lines["tall (file of B. Miller)"]], "wet")) == len(THROUGH)
    sources = {one.words: one.path for one in folder.found.recorded if one.of_source}
    assert set(sources) == {"blower one (file of B. Miller)", "blower two (file)"}
    assert load_sweeps(sources["blower one (file of B. Miller)"]).points
    assert [one.title for one in source_entries(tmp_path)] == list(sources)


def test_a_changed_file_is_offered_by_its_new_builder(tmp_path):
    path = pass_on(tmp_path, BUILDS, "tall", "B. Miller")
    assert [one.title for one in generator_entries(tmp_path)] == ["tall (file of B. Miller)"]
    path.write_text(path.read_text("utf-8").replace("B. Miller", "D. Cooper"), "utf-8")
    assert [one.title for one in generator_entries(tmp_path)] == ["tall (file of D. Cooper)"]


def test_files_in_a_folder_that_is_a_link_are_not_offered(tmp_path):
    (tmp_path / "outside").mkdir()
    (tmp_path / "own").mkdir()
    pass_on(tmp_path, "outside", "tall", "B. Miller")
    pass_on(tmp_path, "outside", "blower one", "B. Miller")
    (tmp_path / "own" / BUILDS).symlink_to(tmp_path / "outside")
    assert generator_entries(tmp_path / "own") == source_entries(tmp_path / "own") == ()


def test_the_file_of_a_source_names_its_builder(tmp_path, monkeypatch):
    monkeypatch.setenv("FROTHLINE_BUILDER", "A. Turner")
    fit = load_sweeps(pass_on(tmp_path, SOURCES, "blower")).fit()
    path = write_source(tmp_path / "x.toml", source_of_points(POINTS, fit, "blower"))
    assert read_source(path).builder == "A. Turner"
    monkeypatch.delenv("FROTHLINE_BUILDER")
    assert "builder" not in source_text(source_of_points(POINTS, fit, "blower"))
