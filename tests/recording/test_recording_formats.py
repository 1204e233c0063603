"""Recordings of released formats open for ever. The files are never made again: see their README."""

import hashlib
from pathlib import Path

import numpy as np
import pytest

from frothline.readings.marks import marks
from frothline.readings.table import read_table
from frothline.recording.catalogue import Catalogue
from frothline.recording.host_frames import FORMAT
from frothline.recording.reader import load, verify
from frothline.recording.writer import RecordingWriter

FORMATS = Path(__file__).parents[1] / "formats"
FIRST = FORMATS / "format-1.froth"


def test_there_is_a_recording_of_every_format():
    assert {path.name for path in FORMATS.glob("*.froth") if ".s0" not in path.name} == {
        f"format-{number}.froth" for number in range(1, FORMAT + 1)
    }


def test_the_files_were_never_edited():
    assert (
        hashlib.sha256(FIRST.read_bytes()).hexdigest()
        == "08efe4b1bdc9b4232431038930e3d9a9b62c5e7b87257cf0d2b452bbcf9de85c"
    )
    assert (
        hashlib.sha256((FORMATS / "format-1.s001.froth").read_bytes()).hexdigest()
        == "5143b1339730865a94fce61b44b6d81b9f84f7eae21c0f77a9b9253057674203"
    )


def test_format_1_is_verified_as_it_always_was():
    report = verify(FIRST)
    assert (report.frames, report.lost, report.tail, report.closed) == (439, 4, 0, True)
    assert (report.resumed, report.port_lost, report.boots, report.unknown) == (1, 1, 2, 0)
    # the damaged frame in two stretches, since a zero was put into it; two frames cut off
    assert [(Path(d.file).name, d.offset, d.length) for d in report.damage] == [
        ("format-1.froth", 7583, 12),
        ("format-1.froth", 7596, 26),
        ("format-1.froth", 9844, 17),
        ("format-1.s001.froth", 5011, 9),
    ]
    assert report.identity == bytes(range(16)).hex()


def test_format_1_gives_its_table():
    frame = read_table(FIRST)
    assert len(frame) == 350
    # three lost and one damaged: 5 windows of 20 ms; 4 s of silence and a window; 20 s of silence and two windows
    assert frame["time"].diff()[frame["gap"]].round(3).tolist() == [0.1, 4.02, 20.04]
    assert frame["time"].iloc[-1] == pytest.approx(31.08)
    # 32736 of 64 x 1024 is 0.49951 of the supply; NXP, MPX5050 rev 11: Vout = Vs (0.018 P/kPa + 0.04)
    assert frame["line_pressure"].to_numpy() == pytest.approx((32736 / 65536 - 0.04) / 0.018 * 1e3, rel=1e-3)
    assert np.nanmedian(frame["rotor_frequency"]) == pytest.approx(50.0)
    assert frame.attrs["started"] == "2025-06-15T15:06:40.020+00:00"


def test_format_1_keeps_what_people_said():
    told = marks(load(FIRST))
    assert [mark.kind for mark in told] == ["note", "button", "mark", "warning"]
    assert told[0].text == "Packung gewechselt: Ø 40 mm, Δp höher. " * 6


def test_the_catalogue_shows_format_1(tmp_path):
    for path in FORMATS.glob("format-1*.froth"):
        (tmp_path / path.name).write_bytes(path.read_bytes())
    (entry,) = Catalogue(tmp_path)
    assert (entry.state, entry.segments, entry.label, entry.alarms, entry.marks) == ("closed", 2, "shed", 1, 1)


def test_a_recording_that_was_closed_long_ago_is_not_written_to():
    before = FIRST.read_bytes()
    with pytest.raises(Exception, match="closed properly"):
        RecordingWriter.resume(FIRST)
    assert FIRST.read_bytes() == before
