"""Files of measured generators: sheet and points come back, and are taken where a sheet and a sweep are."""

from pathlib import Path

import numpy as np
import pytest
from prompt_json import result_of

import frothline as fl
from frothline import cli
from frothline.curve.steady_points import CommonError, SteadyPoint
from frothline.errors import InputError
from frothline.generator.sheet import read_sheet
from frothline.source_library.collection import read_library
from frothline.sweep.generator_file import (
    GeneratorFile,
    generator_of,
    generator_text,
    parse_generator,
    read_generator,
    write_generator,
)
from frothline.sweep.recorded_generator import check_role, identify, read_generator_sweep

SHEET = Path(fl.__file__).parent / "generator" / "templates" / "starting.toml"


def through(factor=1.0):
    """Wet points p = 900 + 2e5 q + 3e7 q^2 (Pa, m3/s), with the span of the sensor in common."""
    made = []
    for q in np.linspace(0.004, 0.02, 7):
        p = factor * (900 + 2e5 * q + 3e7 * q * q)
        made.append(SteadyPoint.from_parts(p, q, (15.0, 5e-5, 0.0), [CommonError("span", 0.01 * p, 0.0)]))
    return tuple(made)


@pytest.fixture(scope="module")
def held():
    return generator_of(read_sheet(SHEET), wet=through(), name="tall one")


@pytest.fixture
def file(held, tmp_path):
    return write_generator(tmp_path / "tall.toml", held)


def test_a_generator_comes_back_from_its_file_as_it_was(held, file):
    again = read_generator(file)
    assert again.name == held.name
    assert again.factors == held.factors
    assert again.factors  # at least the packing was fitted
    assert [(one.flow, one.pressure, one.random, one.common) for one in again.wet] == [
        (one.flow, one.pressure, one.random, one.common) for one in held.wet
    ]
    assert again.build == read_sheet(SHEET)
    assert generator_text(again) == file.read_text("utf-8")


def test_the_file_is_taken_as_sheet_and_as_sweep(file, tmp_path, capsys):
    assert fl.build(file) == read_sheet(SHEET)
    assert identify(file).role == "wet"
    assert len(read_generator_sweep([file], "wet")) == 7
    with pytest.raises(InputError, match="wet sweep"):
        check_role([file], "dry")
    with pytest.raises(InputError, match="wet sweep"):
        check_role([file], "source")
    table = tmp_path / "vacuum.csv"
    table.write_text(
        "pressure (kPa);flow (L/s)\n"
        + "".join(f"{20 * (1 - (q / 60) ** 2):.3f};{q}\n" for q in (2, 9, 18, 27, 36, 45, 54))
    )
    known = fl.predict(file, table, wet=file, folder=tmp_path).now.point
    # 20 kPa (1 - (q/0.06)^2) = 900 + 2e5 q + 3e7 q^2 at 20.535 L/s: quadratic formula
    assert known.flow.value == pytest.approx(0.020535, rel=0.01)
    assert known.flow.upper - known.flow.lower < 0.1 * known.flow.value  # by the sheet alone some 20 L/s
    assert cli.main(["whatif", str(file), "--sweep", str(table), "--wet", str(file), "--json"]) == 0
    assert result_of(capsys.readouterr().out)["now"]["flow"]["value"] == known.flow.value


def test_a_library_lists_generators_beside_sources(file, capsys):
    library = read_library(file.parent)
    assert [one.name for _, one in library.generators] == ["tall one"]
    assert not library.problems
    assert not library.search(text="short").generators
    assert cli.main(["library", str(file.parent), "--json"]) == 0
    assert result_of(capsys.readouterr().out)["generators"][0]["name"] == "tall one"
    file.write_text(file.read_text("utf-8").replace('kind = "generator"', 'kind = "generator"\nbuilder = "B. Miller"'))
    assert cli.main(["library", str(file.parent)]) == 0
    assert f"generator: tall one (file of B. Miller, {file.name})" in capsys.readouterr().out


def test_a_file_is_made_of_another_one_at_the_prompt(file, tmp_path, capsys):
    wanted = ["library", "--generator", str(file), "--wet", str(file), "--to", str(tmp_path / "copy.toml"), "--json"]
    assert cli.main(wanted) == 0
    assert result_of(capsys.readouterr().out)["wet"] == 7
    assert repr(read_generator(tmp_path / "copy.toml").wet) == repr(read_generator(file).wet)
    assert cli.main(["library", "--generator", str(SHEET), "--to", str(tmp_path / "none.toml")]) == 2
    assert "--wet or --dry-sweep" in capsys.readouterr().err


TEXT = generator_text(GeneratorFile("a", "name = 'x'", (), through()[:2], (("packing", 0.1, 0.2),)))


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (lambda text: text.replace('kind = "generator"', 'kind = "source"'), "this file is for “source”"),
        (lambda text: text.replace("packing = [0.1, 0.2]", "packing = [0.1]"), "2 numbers"),
        (lambda text: text.replace("packing = [0.1, 0.2]", 'packing = "x"'), "2 numbers"),
        (lambda text: text.replace("sheet = ", "other = "), "“sheet” is not a text"),
        (lambda text: text + "\n[[wet]]\nn = 1\n" * 600, "0 to 500 points"),
        (lambda text: text.replace("schema = 1", "schema = 9"), "later version"),
    ],
)
def test_a_hostile_file_is_refused_with_its_reason(change, said):
    with pytest.raises(InputError, match=said):
        parse_generator(change(TEXT), "file")
