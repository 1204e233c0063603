"""Files of measured sources: the curve comes back as it was, hostile files are refused, a library is searched."""

from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from prompt_json import result_of
from scipy.optimize import brentq

import frothline as fl
from frothline import cli
from frothline.bench.source_files import save_points, save_unmeasured, source_entries
from frothline.curve.blower import BlowerCurve
from frothline.curve.operating_point import operating_point
from frothline.curve.resistance import ResistanceLine
from frothline.curve.steady_points import CommonError, SteadyPoint
from frothline.errors import InputError, TooFewPoints
from frothline.generator.room_air import RoomAir
from frothline.source_library.collection import read_library
from frothline.source_library.prior import pool_figures, pool_group
from frothline.source_library.saving import source_of_points
from frothline.sweep.recorded_source import load_sweeps
from frothline.sweep.source_file import SourceFigures, SourceFile, parse_source, read_source, source_text, write_source

FLOWS = np.linspace(0.002, 0.058, 10)


def sweep(top=20000.0, free=0.06, seed=0):
    """Points of p = top (1 - (q/free)^2) with a common error and random ones."""
    rng = np.random.default_rng(seed)
    made = []
    for k, q in enumerate(FLOWS * free / 0.06):
        p = top * (1 - (q / free) ** 2) + 20 * rng.standard_normal()
        common = [CommonError("span of the sensor", 0.01 * p, 0.005 * q), CommonError("rotor", 0.0, 0.02 * q)]
        made.append(
            SteadyPoint.from_parts(
                p, q, (20.0, 1e-4, 1e-4), common, start=7.0 * k, end=7.0 * k + 5, n=500, n_effective=37.3,
                mass_flow=1.2 * q, line_temperature=305.1, ambient_density=1.19, u_ambient_density=0.003,
            )
        )  # fmt: skip
    return tuple(made)


@pytest.fixture(scope="module")
def one():
    points = sweep()
    return source_of_points(
        points, BlowerCurve().fit(points), "blue vacuum", "workshop vacuum", air=RoomAir(101e3, 293.0)
    )


def test_a_curve_comes_back_from_its_file_as_it_was(one, tmp_path):
    file = write_source(tmp_path / "blue.toml", one)
    before, after = BlowerCurve().fit(sweep()), fl.fit_source(file).fit
    for name in ("shut_off", "free_delivery", "air_power", "air_power_flow"):
        for part in ("value", "standard_uncertainty", "lower", "upper"):
            first, second = (getattr(getattr(fit, name), part) for fit in (before, after))
            assert second == pytest.approx(first, rel=1e-12)
    np.testing.assert_allclose(after.covariance, before.covariance, rtol=1e-12)
    assert after.standard.shut_off.value == pytest.approx(before.standard.shut_off.value, rel=1e-12)
    assert [part.name for part in after.points[0].common] == ["span of the sensor", "rotor"]
    again = read_source(file)
    assert (again.name, again.group, again.air.ambient_pressure) == ("blue vacuum", "workshop vacuum", 101e3)
    assert source_text(again) == file.read_text("utf-8")


def test_every_command_takes_a_sources_file(one, tmp_path, capsys):
    file = write_source(tmp_path / "blue.toml", one)
    assert cli.main(["curve", str(file), "--json"]) == 0
    assert any("blue vacuum" in note for note in result_of(capsys.readouterr().out)["notes"])
    assert cli.main(["compare", str(file), "--resistance", "2e5", "6e6", "--json"]) == 0
    assert cli.main(["report", str(file), "-o", str(tmp_path / "report.html"), "--json"]) == 0


GOOD = source_text(SourceFile("a", "b", sweep()[:3], RoomAir()))


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (lambda text: text.replace("schema = 1", "schema = 2"), "later version"),
        (lambda text: text.replace("frothline library", "something"), "not the file of a measured source"),
        (lambda text: text.replace('kind = "source"', 'kind = "agent"'), "this file is for “agent”"),
        (lambda text: text.replace("flow = 0.002", 'flow = "much"', 1), "“flow” is not a number"),
        (lambda text: text.replace("flow = 0.002", "flow = nan", 1), "not a finite number"),
        (lambda text: text.replace("flow = 0.002", "flow = 1e9", 1), "beyond"),
        (lambda text: text.replace("flow = 0.002", "flow = true", 1), "not a number"),
        (lambda text: text.replace("n = 500", "n = -1", 1), "number of readings"),
        (lambda text: text.replace('name = "a"', "name = 3", 1), "not a text"),
        (lambda text: text.partition("[[points]]")[0], "1 to 500 points"),
        (lambda text: text + "\n[[points]]\nn = 1\n" * 600, "points"),
        (lambda text: text.replace("n = 500", f"n = {'9' * 5000}", 1), "too long"),
        (lambda text: text + "x = " + "[" * 5000, ""),
        (lambda text: text * 400, "too large"),
        (lambda text: "", "not the file of a measured source"),
        (lambda text: "\x00\x01", ""),
    ],
)
def test_a_hostile_file_is_refused_with_its_reason(change, said):
    with pytest.raises(InputError, match=said or None):
        parse_source(change(GOOD), "file")


def test_a_name_is_one_short_line_and_never_a_path(tmp_path):
    text = "pressure (kPa);flow (L/s)\n" + "".join(f"{20 - 5.5e3 * q**2 * 1e0:.4f};{q * 1e3:.2f}\n" for q in FLOWS)
    path, _ = save_points(tmp_path, "../../etc/passwd", text)
    assert path.parent == tmp_path / "sources"
    second, _ = save_points(tmp_path, "../../etc/passwd", text)
    assert second != path  # nothing is replaced
    named = SourceFile("a\nb" + "c" * 500, "b", sweep()[:3], RoomAir())
    assert len(parse_source(source_text(named), "file").name) == 200
    with pytest.raises(InputError, match="no name"):
        save_points(tmp_path, "/", text)
    with pytest.raises(InputError, match="line 2"):
        save_points(tmp_path, "other", "pressure (kPa);flow (L/s)\nten;4\n")
    assert sorted(entry.name for entry in source_entries(tmp_path)) == ["etc-passwd", "etc-passwd-2"]


# --- many files ----------------------------------------------------------------------------------------------------------


def unit(rng, top=20000.0, free=0.06):
    """A source of a kind: 12 % between units in pressure, 8 % in flow, correlated by a half."""
    z = rng.standard_normal(2)
    p0, q0 = top * np.exp(0.12 * z[0]), free * np.exp(0.08 * (0.5 * z[0] + np.sqrt(0.75) * z[1]))
    return p0, q0


def figures(rng, p0, q0):
    """What a sweep of that unit finds: 1.5 % of pressure and 3 % of flow uncertain."""
    top, free = p0 * np.exp(0.015 * rng.standard_normal()), q0 * np.exp(0.03 * rng.standard_normal())
    shape = tuple(1 - share**2 + 0.01 * rng.standard_normal() * (share > 0) for share in (0.0, 0.25, 0.5, 0.75))
    return SourceFigures((top, 0.015 * top), (free, 0.03 * free), shape)


@pytest.fixture(scope="module")
def merged(tmp_path_factory):
    folder = tmp_path_factory.mktemp("merged")
    rng = np.random.default_rng(4)
    for k in range(13):
        group, top = ("Workshop  Vacuum", 20000.0) if k < 9 else ("leaf blower", 5000.0)
        known = figures(rng, *unit(rng, top))
        (folder / f"builder-{k % 3}").mkdir(exist_ok=True)
        write_source(
            folder / f"builder-{k % 3}" / f"{k}.toml", SourceFile(f"unit {k}", group, sweep()[:5], RoomAir(), known)
        )
    (folder / "wrong.toml").write_text('format = "frothline library"\nschema = 7\n')
    (folder / "recording.toml").write_text('kind = "sweep"\n')  # the file next to a recording
    (folder / "link.toml").symlink_to(folder / "builder-0" / "0.toml")
    return folder


def test_a_merged_folder_is_searched_by_kind_and_text(merged):
    library = read_library(merged)
    assert len(library.entries) == 13  # no link, no file of a recording
    assert library.groups == {"Workshop Vacuum": 9, "leaf blower": 4}
    assert len(library.search(group="workshop vacuum").entries) == 9
    assert [one.source.name for one in library.search(text="UNIT 11").entries] == ["unit 11"]
    assert len(library.problems) == 1
    assert "later version" in library.problems[0]
    assert len(fl.library(merged).table()) == 13


def test_a_query_over_the_columnar_file_gives_the_points_of_a_kind(merged, tmp_path):
    file = read_library(merged).write_parquet(tmp_path / "all.parquet")
    found = pd.read_parquet(file, columns=["name", "pressure", "flow"], filters=[("group", "==", "leaf blower")])
    assert len(found) == 4 * 5
    assert found.groupby("name").pressure.max().to_list() == pytest.approx([sweep()[0].pressure] * 4)


def test_an_unmeasured_source_of_a_kind_is_taken_like_a_recording(merged, tmp_path):
    pooled = fl.pool_sources(merged, "workshop vacuum")
    assert pooled.units == 9
    curve = fl.fit_source(pooled.write(tmp_path / "unmeasured.toml"))
    assert curve.shut_off.value == pytest.approx(pooled.shut_off.value, rel=0.02)
    # the curve's interval is as wide as that of the prediction, to the first order in the spread
    width = (curve.shut_off.upper - curve.shut_off.lower) / (pooled.shut_off.upper - pooled.shut_off.lower)
    assert 0.85 < width < 1.2
    assert any("not measured" in note for note in curve.fit.notes)
    assert not read_source(tmp_path / "unmeasured.toml").measured


def test_a_source_that_nobody_measured_says_so_wherever_it_is_used(merged, tmp_path, capsys):
    prior, season = tmp_path / "prior.toml", Path(__file__).parents[2] / "recordings" / "season"
    pool_group(read_library(merged), "leaf blower").write(prior)
    assert cli.main(["compare", str(prior), "--resistance", "5e4", "6e6"]) in {0, 1}
    assert "not measured: pooled from 4 measured units" in capsys.readouterr().out
    sheet = season / "builds" / "first-tube.toml"
    assert cli.main(["whatif", str(sheet), "--sweep", str(prior)]) == 0
    assert "the air source is not measured: pooled from 4 measured units" in capsys.readouterr().out
    assert fl.predict(sheet, prior).findings[0].startswith("the air source is not measured")


def test_a_prior_is_no_unit_of_its_kind(merged, tmp_path):
    pool_group(read_library(merged), "leaf blower").write(tmp_path / "prior.toml")
    assert read_library(tmp_path).groups == {}


def test_copies_of_a_table_by_hand_are_one_unit_too(tmp_path):
    """Its points have no times and no temperature of the air: unknown ones equal nothing, and five copies were pooled."""
    table = tmp_path / "plates.csv"
    table.write_text("hole (mm),pressure (kPa)\n8,17\n14,14.5\n20,11\n28,6.5\n36,3.5\n")
    lib = tmp_path / "lib"
    lib.mkdir()
    made = ["--add", str(table), "--group", "workshop vacuum", "--name", "vac 1", "--to", str(lib / "v1.toml")]
    assert cli.main(["library", str(lib), *made]) == 0
    for number in range(2, 6):
        (lib / f"v{number}.toml").write_bytes((lib / "v1.toml").read_bytes())
    with pytest.raises(TooFewPoints, match=r"1 measured source .*4 files more with the points of another"):
        pool_group(read_library(lib), "workshop vacuum")


def test_copies_of_a_file_are_one_unit(merged, tmp_path):
    alone = pool_group(read_library(merged), "leaf blower")
    for path in merged.glob("*/*.toml"):
        (tmp_path / path.name).write_bytes(path.read_bytes())
        (tmp_path / f"copy {path.name}").write_text(path.read_text("utf-8").replace('name = "unit', 'name = "my unit'))
    again = pool_group(read_library(tmp_path), "leaf blower")
    assert (again.units, again.shut_off) == (4, alone.shut_off)
    for path in tmp_path.glob("*11.toml"):
        path.unlink()
    with pytest.raises(
        TooFewPoints, match=r"3 measured sources .*; the minimum is 4; 3 files more with the points of another"
    ):
        pool_group(read_library(tmp_path), "leaf blower")


def test_page_and_prompt_write_the_same_prior(merged, tmp_path, capsys):
    file = tmp_path / "prior.toml"
    assert (
        cli.main(["library", str(merged), "--group", "leaf blower", "--prior", str(file), "--json"]) == 1
    )  # one is bad
    assert result_of(capsys.readouterr().out)["pooled"]["units"] == 4
    (tmp_path / "sources").symlink_to(merged)
    with pytest.raises(InputError, match="another place"):
        save_unmeasured(tmp_path, "leaf blower")
    (tmp_path / "sources").unlink()
    (tmp_path / "sources").mkdir()
    for path in merged.glob("*/*.toml"):
        (tmp_path / "sources" / path.name).write_bytes(path.read_bytes())
    written, words = save_unmeasured(tmp_path, "leaf blower")
    assert written.read_text("utf-8") == file.read_text("utf-8")
    assert "4 measured units" in words


def test_too_few_units_name_the_kinds_there_are(merged):
    with pytest.raises(TooFewPoints, match="Workshop Vacuum \\(9\\)"):
        pool_group(read_library(merged), "side channel")


def test_a_file_is_made_from_a_table_at_the_prompt(tmp_path, capsys):
    table = tmp_path / "points.csv"
    table.write_text(
        "pressure (kPa);flow (L/s)\n" + "".join(f"{20 * (1 - (q / 0.06) ** 2):.4f};{q * 1e3:.3f}\n" for q in FLOWS)
    )
    file = tmp_path / "mine.toml"
    wanted = ["library", "--add", str(table), "--name", "mine", "--group", "vacuum", "--to", str(file), "--json"]
    assert cli.main(wanted) == 0
    assert cli.main(wanted) == 2  # never replaced
    capsys.readouterr()
    assert load_sweeps(file).fit().shut_off.value == load_sweeps(table).fit().shut_off.value
    assert read_source(file).calibrated == "entered by hand"
    assert cli.main(["library", str(tmp_path / "absent")]) == 2
    assert cli.main(["library", str(tmp_path), "--prior", str(file)]) == 2


@pytest.mark.exhaustive
@pytest.mark.parametrize("units", [4, 8])
def test_an_unmeasured_source_has_the_new_unit_in_its_intervals(units):
    load, rng, held = ResistanceLine(2e5, 6e6), np.random.default_rng(units), np.zeros(4)
    for _ in range(150):
        fit = BlowerCurve().fit(pool_figures([figures(rng, *unit(rng)) for _ in range(units)], "vacuum").source.points)
        p0, q0 = unit(rng)
        true = brentq(lambda q, p0, q0: p0 * (1 - (q / q0) ** 2) - 2e5 * q - 6e6 * q * q, 1e-6, q0, (p0, q0))
        met = operating_point(fit, load)
        pairs = (
            (fit.shut_off, p0),
            (fit.free_delivery, q0),
            (met.flow, true),
            (met.pressure, 2e5 * true + 6e6 * true**2),
        )
        held += [one.lower < value < one.upper for one, value in pairs]
    assert np.all(held / 150 > 0.91)
