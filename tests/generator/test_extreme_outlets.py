"""Very open and very small outlets on the kinds of air sources: a finite interval or words, never "nan" in a text."""

from pathlib import Path

import numpy as np
import pytest

from frothline import cli
from frothline.bench import evaluation_input
from frothline.curve.blower import BlowerCurve
from frothline.curve.operating_point import NoCrossing
from frothline.curve.steady_points import SteadyPoint
from frothline.formatting import full_text
from frothline.generator.operating_conditions import OperatingConditions
from frothline.generator.prediction import predict
from frothline.generator.pressure_model import PressureModel
from frothline.generator.sheet import edit_sheet, parse_sheet, starting_sheet
from frothline.units import Unit

SEASON = Path(__file__).parents[2] / "recordings" / "season"
SWEEPS = {"vacuum": "03-29-sweep-shop-motor.froth", "leaf blower": "03-29-sweep-garden-blower.froth"}
FIRST = SEASON / "builds" / "first-tube.toml"
BORES = ("2 mm", "3 mm", "5 mm", "10 mm", "20 mm", "40 mm", "50x3", "100 mm")
CHANGES = [
    *({"outlet.bore": bore} for bore in BORES),
    {"outlet.bore": "50x3", "packing.length": "20 mm"},
    {"outlet.bore": "50x3", "hose.bore": "12 mm"},
    {"outlet.bore": "3 mm", "tube.hole": "1 mm"},
    {"outlet.bore": "100 mm", "tube.hole": "6 mm"},
]


def fitted(q, p, u_p, u_q, seed=1):
    rng = np.random.default_rng([28, seed])
    seen = zip(p + u_p * rng.standard_normal(len(p)), q + u_q * rng.standard_normal(len(q)), strict=True)
    return BlowerCurve().fit([SteadyPoint.from_parts(float(y), float(x), (u_p, u_q, 0.0)) for y, x in seen])


@pytest.fixture(scope="module")
def sources():
    # magnitudes are common practice, no source
    x, p = np.linspace(0.03, 0.95, 10), np.linspace(1e3, 9e4, 10)
    return {
        "vacuum": fitted(0.06 * x, 2e4 * (1 - 0.35 * x - 0.65 * x**2), 30.0, 1e-4),
        "leaf blower": fitted(0.16 * x, 4e3 * (1 - x**2), 20.0, 4e-4),
        "leaf blower with a hump": fitted(0.16 * x, 4e3 * (1 + 0.2 * x - 1.2 * x**2), 20.0, 4e-4),
        "inflator": fitted(4e-4 * (1 - 0.02 * p / 9e4), p, 100.0, 4e-6),
        "inflator without leakage": fitted(np.full(10, 4e-4), p, 100.0, 4e-6),
        "compressor": fitted(8e-3 * (1 - 0.05 * p / 9e4), p / 3, 100.0, 2e-5),
    }


def figures(found):
    named = ("air_rate", "hole_velocity", "foam_rate", "air_to_solution")
    every = {name: getattr(found, name) for name in named}
    every |= (
        {}
        if isinstance(found.point, NoCrossing)
        else {name: getattr(found.point, name) for name in ("pressure", "flow", "margin")}
    )
    return {name: one for name, one in every.items() if one is not None}


@pytest.mark.parametrize("wet", [True, pytest.param(False, marks=pytest.mark.exhaustive)])
@pytest.mark.parametrize("change", CHANGES, ids=lambda change: ", ".join(change.values()))
def test_each_build_has_finite_intervals_or_a_reason_on_each_source(sources, change, wet):
    build = parse_sheet(edit_sheet(starting_sheet(), change), "sheet").build
    assert build is not None
    for name, source in sources.items():
        found = predict(PressureModel(build, OperatingConditions.usual(wet=wet)), source)
        for figure, one in figures(found).items():
            text = full_text(one, Unit(one.unit, 1.0))
            assert "nan" not in text, (name, figure)
            assert "inf" not in text, (name, figure)
            if one.known:
                assert np.isfinite([one.lower, one.upper]).all(), (name, figure, one)
            else:
                assert one.assumptions, (name, figure)
                assert one.assumptions[0] in text
        assert all("nan" not in words for words in found.words)
        if isinstance(found.point, NoCrossing):
            assert found.words, name


def test_a_pump_s_build_that_needs_more_than_the_model_holds_for_is_answered_in_words(sources):
    build = parse_sheet(edit_sheet(starting_sheet(), {"outlet.bore": "2 mm"}), "sheet").build
    found = predict(PressureModel(build, OperatingConditions.usual()), sources["compressor"])
    assert isinstance(found.point, NoCrossing)
    assert "no operating point can be calculated" in found.words[0]
    assert "200 kPa" in found.words[0]


@pytest.fixture(scope="module")
def sweeps_read_once():
    """The curve of a recorded sweep is read once for all outlets: 1 to 3 s each."""
    known, plain = {}, evaluation_input._read_source

    def once(paths, how, *more):
        name = (*map(str, paths), *map(str, how.values()))
        if name not in known:
            known[name] = plain(paths, how, *more)
        return known[name]

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(evaluation_input, "_read_source", once)
        yield known
    assert 1 <= len(known) <= len(SWEEPS)  # a selection of the cases may need one of them


@pytest.mark.slow
@pytest.mark.usefixtures("sweeps_read_once")
@pytest.mark.parametrize("source", SWEEPS)
@pytest.mark.parametrize(
    "bore",
    [
        bore if bore in {"2 mm", "50x3", "100 mm"} else pytest.param(bore, marks=pytest.mark.exhaustive)
        for bore in BORES
    ],
)
def test_the_prompt_never_prints_nan_and_has_no_traceback(capsys, source, bore):
    sweep = str(SEASON / SWEEPS[source])
    code = cli.main(["whatif", str(FIRST), "--sweep", sweep, "--set", f"outlet.bore={bore}"])
    said = capsys.readouterr()
    assert code == 0, said.err
    assert "nan" not in said.out
    assert "inf " not in said.out
