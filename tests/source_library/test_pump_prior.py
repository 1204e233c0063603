"""A positive-displacement source of a kind that nobody measured: line, interval, file, and the refusal of mixed kinds."""

from dataclasses import replace

import numpy as np
import pytest
from prompt_json import result_of

import frothline as fl
from frothline import cli
from frothline.curve.blower import BlowerCurve
from frothline.curve.positive_displacement import FORM
from frothline.curve.steady_points import SteadyPoint
from frothline.errors import InputError, TooFewPoints
from frothline.generator.room_air import RoomAir
from frothline.source_library.collection import read_library
from frothline.source_library.prior import pool_group, pool_pumps
from frothline.sweep.source_file import (
    PumpFigures,
    SourceFigures,
    SourceFile,
    parse_source,
    source_text,
    write_source,
)

PRESSURES = np.linspace(2e3, 40e3, 8)


def points(q0, leakage, pressures=PRESSURES):
    return tuple(SteadyPoint.from_parts(p, q0 * (1 - leakage * p), (30.0, 0.004 * q0, 0.0)) for p in pressures)


def unit(rng):
    """A pump of a kind: 10 % between units in its flow, and 1.5 to 3.5 % of it lost at 10 kPa."""
    return 6e-3 * np.exp(0.1 * rng.standard_normal()), rng.uniform(1.5e-6, 3.5e-6)


def figures(rng, q0, leakage):
    """What a sweep of that unit finds: 2 % of flow and 0.2e-6 1/Pa of leakage uncertain."""
    found = q0 * np.exp(0.02 * rng.standard_normal()), leakage + 2e-7 * rng.standard_normal()
    return PumpFigures((found[0], 0.02 * found[0]), (found[1], 2e-7), 40e3)


@pytest.fixture
def folder(tmp_path):
    rng = np.random.default_rng(3)
    for k in range(6):
        known = figures(rng, *unit(rng))
        write_source(tmp_path / f"{k}.toml", SourceFile(f"pump {k}", "side pump", points(6e-3, 2e-6), RoomAir(), known))
    return tmp_path


def test_the_figures_of_a_pump_are_those_of_its_line():
    found = SourceFigures.of(BlowerCurve().fit(points(6e-3, 2.5e-6)))
    assert isinstance(found, PumpFigures)
    assert found.free_delivery[0] == pytest.approx(6e-3, rel=1e-3)
    assert found.leakage[0] == pytest.approx(2.5e-6, rel=0.01)
    assert found.highest == pytest.approx(40e3)
    # a straight line through eight points, each known to 0.4 %: sum of (p - mean)^2 is 1.24e9 Pa^2, so that the slope
    # is known to 0.004 q0 / 3.5e4 Pa = 1.1e-7 q0 (linear regression by hand)
    assert found.leakage[1] == pytest.approx(1.1e-7, rel=0.15)
    assert (
        PumpFigures.of(BlowerCurve().fit([replace(one, flow=3e-7 * (41e3 - one.pressure)) for one in points(1, 0)]))
        is None
    )


def test_the_figures_come_back_from_the_file_and_wrong_ones_are_refused():
    text = source_text(
        SourceFile("one", "side pump", points(6e-3, 2e-6), RoomAir(), PumpFigures((6e-3, 1e-4), (2e-6, 1e-7), 4e4))
    )
    assert parse_source(text, "file").figures == PumpFigures((6e-3, 1e-4), (2e-6, 1e-7), 4e4)
    wrong = [
        ("highest = [40000.0]", "highest = 40000.0"),
        ("highest = [40000.0]", "highest = [0.0]"),
        ("[2e-6, 1e-7]", "[2e-6]"),
        ("[2e-6, 1e-7]", "[1e-4, 1e-7]"),
        ("[0.006, 0.0001]", "[-0.006, 0.0001]"),
    ]
    for old, new in wrong:
        bad = text.replace(old, new).replace(old.replace("e-6", "e-06").replace("e-7", "e-07"), new)
        assert bad != text, old
        with pytest.raises(InputError, match="pump"):
            parse_source(bad, "file")


def test_an_unmeasured_pump_is_taken_like_a_recording_and_is_as_uncertain_as_its_kind(folder, tmp_path):
    pooled = fl.pool_sources(folder, "side pump")
    assert pooled.units == 6
    curve = fl.fit_source(pooled.write(tmp_path / "unmeasured.toml"))
    assert curve.fit.form == FORM
    assert curve.fit.free_delivery.value == pytest.approx(pooled.free_delivery.value, rel=0.01)
    width = (curve.fit.free_delivery.upper - curve.fit.free_delivery.lower) / (
        pooled.free_delivery.upper - pooled.free_delivery.lower
    )
    assert 0.85 < width < 1.2
    # at the highest pressure the spread of the leakage is there too, independent of that of the flow
    wider = 2.776 / 1.96  # Student's factor of four degrees of freedom over the normal one, from tables
    spread = {part.name: part.on_flow for part in pooled.source.points[-1].common}
    q0, lost = pooled.free_delivery, pooled.leakage
    through = (1 - lost.value) * q0.standard_uncertainty
    assert spread["spread between units, flow"] == pytest.approx(wider * through, rel=1e-3)
    assert spread["spread between units, leakage"] == pytest.approx(
        -wider * q0.value * lost.standard_uncertainty, rel=1e-3
    )
    said = " ".join(curve.fit.notes)
    assert "not measured" in said
    assert "a relief valve is not part of a pooled pump" in said
    assert read_library(tmp_path).groups == {"side pump": 6}  # the prior is no unit of its kind


def test_prompt_and_table_tell_a_pump_apart(folder, capsys):
    assert cli.main(["library", str(folder), "--group", "side pump"]) == 0
    said = capsys.readouterr().out
    assert "flow lost at the highest pressure" in said
    assert "shut-off pressure of" not in said
    assert "6 measured pumps" in said
    assert cli.main(["library", str(folder), "--group", "side pump", "--json"]) == 0
    pooled = result_of(capsys.readouterr().out)["pooled"]
    assert 0.02 < pooled["leakage"]["value"] < 0.2
    assert {row["shut_off"] for row in read_library(folder).rows()} == {None}
    assert all(row["free_delivery"] for row in read_library(folder).rows())


def test_pumps_and_blowers_of_one_name_are_refused_and_two_pumps_are_too_few(folder):
    blower = SourceFigures((2e4, 200.0), (0.06, 0.001), (1.0, 0.9, 0.7, 0.4))
    write_source(folder / "b.toml", SourceFile("a blower", "side pump", points(6e-3, 2e-6), RoomAir(), blower))
    with pytest.raises(InputError, match="6 are pumps and 1 are not"):
        pool_group(read_library(folder), "side pump")
    for name in ("b", "0", "1", "2", "3"):
        (folder / f"{name}.toml").unlink()
    with pytest.raises(TooFewPoints, match=r"2 measured sources .* are not"):
        pool_group(read_library(folder), "side pump")
    (folder / "4.toml").unlink()
    with pytest.raises(TooFewPoints, match="1 measured source of the kind “side pump” is not enough"):
        pool_group(read_library(folder), "side pump")


def test_pumps_that_leak_a_lot_are_pooled_up_to_the_pressure_at_which_they_still_are_pumps():
    known = [PumpFigures((q, 0.01 * q), (9e-6, 1e-7), 40e3) for q in (5e-3, 6e-3, 7e-3)]  # 36 % lost at 40 kPa
    pooled = pool_pumps(known, "worn pump")
    assert pooled.highest == pytest.approx(0.19 / 9e-6)
    assert BlowerCurve().fit(pooled.source.points).form == FORM


def test_pumps_without_a_measurable_leak_have_none_below_zero():
    units = ((5e-3, -2e-7, 30e3), (6e-3, 1e-7, 40e3), (7e-3, -1e-7, 80e3))
    known = [PumpFigures((q, 0.01 * q), (leak, 2e-7), highest) for q, leak, highest in units]
    pooled = pool_pumps(known, "new pump")
    assert pooled.leakage.value == pooled.leakage.lower == 0.0
    assert pooled.leakage.upper > 0.0
    assert pooled.highest == 40e3
    assert len({point.flow for point in pooled.source.points}) == 1
    assert BlowerCurve().fit(pooled.source.points).form == FORM


@pytest.mark.exhaustive
@pytest.mark.parametrize("units", [4, 8])
def test_an_unmeasured_pump_has_the_new_unit_in_its_intervals(units):
    rng, held = np.random.default_rng(units), np.zeros(3)
    for _ in range(200):
        fit = BlowerCurve().fit(pool_pumps([figures(rng, *unit(rng)) for _ in range(units)], "pump").source.points)
        q0, leakage = unit(rng)
        wanted = ((fit.free_delivery, q0), *((fit.flow_at(p), q0 * (1 - leakage * p)) for p in (15e3, 38e3)))
        held += [one.lower < value < one.upper for one, value in wanted]
    # 95 % of 200 with a standard deviation of 1.5 %
    assert np.all(held / 200 > 0.905)
    assert np.all(held / 200 < 0.995)
