"""Compressors with a tank: asked for an unmeasured one, the program says what describes one instead of pooling."""

import pytest

import frothline as fl
from frothline import cli
from frothline.bench.library import LibraryFolder
from frothline.bench.source_files import SOURCES, groups_of
from frothline.curve.steady_points import SteadyPoint
from frothline.curve.tank_duration import tank_duration
from frothline.errors import InputError, TooFewPoints
from frothline.generator.room_air import RoomAir
from frothline.simulation.sources import RegulatedCompressor
from frothline.source_library.tank import INSTEAD
from frothline.sweep.source_file import SourceFigures, SourceFile, write_source
from frothline.web.components import Asked
from frothline.web.pages.source import source_forms

FLOWS = (0.001, 0.004, 0.007, 0.010, 0.013)


def compressor(setting):
    """Points of the simulated compressor with its regulator at a setting, Pa."""
    source = RegulatedCompressor("compressor", free_flow=0.05, power_shut=0.0, power_free=0.0, set_pressure=setting)
    return tuple(SteadyPoint.from_parts(source.curve(q)[0], q, (30.0, 1e-5, 0.0)) for q in FLOWS)


def blower(top):
    return tuple(SteadyPoint.from_parts(top * (1 - (q / 0.014) ** 2), q, (30.0, 1e-5, 0.0)) for q in FLOWS)


def put(folder, group, *lines):
    folder.mkdir(exist_ok=True)
    for k, points in enumerate(lines):
        top = points[0].pressure
        known = SourceFigures((top, 0.01 * top), (0.014, 2e-4), (0.94, 0.75, 0.44, 0.1))
        write_source(folder / f"{group} {k}.toml", SourceFile(f"{group} {k}", group, points, RoomAir(), known))


@pytest.fixture
def tanks(tmp_path):
    put(tmp_path / SOURCES, "workshop compressor", *(compressor(p) for p in (12e3, 15e3, 20e3)))
    return tmp_path


def test_three_measured_compressors_are_not_pooled_and_the_reason_is_said(tanks, tmp_path, capsys):
    with pytest.raises(
        InputError, match=r"volume on its plate, the readings of its gauge.*regulator is set to"
    ) as seen:
        fl.pool_sources(tanks / SOURCES, "Workshop Compressor")
    assert "frothline sources --tank" in seen.value.remedy
    prior = tmp_path / "prior.toml"
    asked = ["library", str(tanks / SOURCES), "--group", "workshop compressor", "--prior", str(prior)]
    assert cli.main(asked) != 0
    assert "is not pooled" in capsys.readouterr().err
    assert not prior.exists()


def test_the_page_says_it_too_and_writes_nothing(tanks):
    before = sorted((tanks / SOURCES).iterdir())
    (kind,) = groups_of(tanks)
    with pytest.raises(InputError, match="is not pooled"):
        source_forms.answer(Asked("unmeasured", "", {"group": kind}), None, LibraryFolder("own", tanks))
    assert sorted((tanks / SOURCES).iterdir()) == before


@pytest.mark.parametrize("name", ["compressor", "Air tank", "tank-compressor", "two receivers"])
def test_a_kind_without_any_file_is_told_by_its_name(tmp_path, name):
    with pytest.raises(InputError, match="is not pooled"):
        fl.pool_sources(tmp_path, name)


def test_machines_with_such_a_name_are_pooled_by_their_falling_lines(tmp_path):
    for group in ("side-channel compressor", "tank vacuum"):
        put(tmp_path, group, *(blower(p) for p in (18e3, 20e3, 21e3, 23e3)))
        pooled = fl.pool_sources(tmp_path, group)
        assert pooled.units == 4
        assert pooled.shut_off.lower < 20e3 < pooled.shut_off.upper


def test_other_kinds_are_told_as_before(tmp_path):
    with pytest.raises(TooFewPoints, match="0 measured sources"):
        fl.pool_sources(tmp_path, "thank-you fan")


def test_the_command_that_is_named_instead_answers(capsys):
    """By hand: 50 L from 8 to 4 bar hold 0.050 x 4e5 / (287.05 x 293.15) / 1.2 = 0.198 m3 of standard air, 66 s at 3 L/s."""
    words = INSTEAD.split("frothline ")[1].split(",")[0]
    assert cli.main(words.split()) == 0
    assert "the tank lasts" in capsys.readouterr().out
    assert tank_duration(0.050, 8e5, 4e5, 3e-3).lasting.seconds.value == pytest.approx(66.0, rel=5e-3)
