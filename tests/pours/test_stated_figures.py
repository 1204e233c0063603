"""A figure of the foam with its 95 % interval is read the same at page, prompt and in Python, for batch, plan and jar.

By hand: (77 - 73)/2 over 1.95996 is the standard uncertainty of 75 kg/m³ (73 to 77), 1.0204 kg/m³.
"""

import pytest
from prompt_json import result_of

import frothline as fl
from frothline import cli
from frothline.bench import batch_form
from frothline.bench.jar_record import correct_jar, jar_texts, record_jar, wrong_entries
from frothline.errors import InputError
from frothline.estimate import Estimate
from frothline.foam.dilution import Dilution
from frothline.foam.typed_figures import U_TYPED_DENSITY, U_TYPED_OUTPUT
from frothline.pours.jar import read_jar
from frothline.pours.plan_entries import read_entries, read_foam_figure
from frothline.pours.stated import with_stated_unit

DENSITY, OUTPUT, SURVIVAL = "75 kg/m³ (73 to 77)", "60 L/min (55 to 65, 95 %)", "90 % (85 to 95)"
U = 2.0 / 1.959964


def by_page(density=DENSITY, output=OUTPUT, survival=SURVIVAL, system="metric"):
    typed = {"foam": density, "output": output, "survival": survival}
    found = batch_form.worked(batch_form.START | typed, None, Dilution(40, "1+N"), system=system)
    assert not found.wrong
    return found.foam


def by_prompt(capsys, density=DENSITY, output=OUTPUT, survival=SURVIVAL, *more):
    given = ("--foam-density", density, "--foam-output", output, "--survival", survival)
    code = cli.main(["batch", "--density", "600 kg/m3", "--volume", "200 L", *given, *more, "--json"])
    out = capsys.readouterr().out
    return result_of(out)["foam"] if code == 0 else code


def test_page_prompt_and_python_read_the_same_interval_for_batch_and_plan(capsys):
    page, prompt = by_page(), by_prompt(capsys)
    python = fl.batch("600 kg/m3", "200 L", DENSITY, output=OUTPUT, survival=SURVIVAL).foam
    plan = fl.pour_plan(volume="200 L", density="600", foam_density=DENSITY, output=OUTPUT, survival=SURVIVAL).foam
    for foam in (page, python, plan):
        assert (foam.density.value, foam.density.lower, foam.density.upper) == pytest.approx((75.0, 73.0, 77.0))
        assert foam.density.standard_uncertainty == pytest.approx(U, rel=1e-6)
        assert foam.output.lower * 6e4 == pytest.approx(55.0)
        assert (foam.survival.lower, foam.survival.upper) == pytest.approx((0.85, 0.95))
    assert prompt["density"]["lower"] == pytest.approx(73.0)
    assert prompt["output"]["upper"] * 6e4 == pytest.approx(65.0)
    assert prompt["survival"]["lower"] == pytest.approx(0.85)


def test_a_figure_without_its_interval_has_the_same_uncertainty_everywhere(capsys):
    page, prompt = by_page("75", "60", "0.9"), by_prompt(capsys, "75", "60", "0.9")
    python = fl.batch("600 kg/m3", "200 L", 75.0, output=1e-3, survival=0.9).foam
    plan = fl.pour_plan(volume=0.2, density=600, foam_density=75, output=1e-3, survival=0.9).foam
    for foam in (page, python, plan):
        assert foam.density.standard_uncertainty == pytest.approx(U_TYPED_DENSITY * 75)
        assert foam.output.standard_uncertainty == pytest.approx(U_TYPED_OUTPUT * 1e-3)
        assert foam.survival.standard_uncertainty == pytest.approx(0.018)
    assert prompt["density"]["standard_uncertainty"] == pytest.approx(U_TYPED_DENSITY * 75)
    assert prompt["output"]["standard_uncertainty"] == pytest.approx(U_TYPED_OUTPUT * 1e-3)


def test_numbers_of_a_plan_in_python_are_si_and_those_of_a_file_are_of_the_workshop():
    by_number = fl.pour_plan(volume=0.4, foam_density=75, output=1e-3, mixer=0.12, lift=0.5, fold=120, bag=25)
    by_text = fl.pour_plan(
        volume="400 L", foam_density="75", output="60 L/min", mixer="120 L", lift="500 mm", fold="2 min", bag="25 kg"
    )
    assert by_number.order == by_text.order
    assert read_entries({"mixer": 120})[0]["mixer"] == pytest.approx(0.12)


def test_an_interval_without_a_unit_is_in_the_units_of_the_reader(capsys):
    """4.7 lb/ft³ are 75.287 kg/m³, and 4.6 are 73.685 (16.01846 kg/m³ by SP 811, B.8)."""
    page = by_page("4.7 (4.6 to 4.8)", "16 (15 to 17)", "90 % (85 to 95)", "inch-pound")
    prompt = by_prompt(capsys, "4.7 (4.6 to 4.8)", "16 (15 to 17)", "90 % (85 to 95)", "--units", "us")
    for value, lower in (
        (page.density.value, page.density.lower),
        (prompt["density"]["value"], prompt["density"]["lower"]),
    ):
        assert (value, lower) == pytest.approx((75.287, 73.685), abs=1e-3)
    assert page.output.lower == pytest.approx(15 * 3.785412e-3 / 60, rel=1e-6)
    assert prompt["output"]["lower"] == pytest.approx(15 * 3.785412e-3 / 60, rel=1e-6)
    assert with_stated_unit("4.7 (4.6 to 4.8)", "density", "inch-pound") == "4.7 lb/ft³ (4.6 to 4.8)"
    assert with_stated_unit("75 g/L (73 to 77)", "density", "inch-pound") == "75 g/L (73 to 77)"


def test_a_jar_takes_the_density_of_its_foam_with_its_interval_and_keeps_its_unit(tmp_path):
    record_jar(tmp_path, {"name": "a", "foam-density": "4.7 (4.6 to 4.8)", "cement": "10"}, "inch-pound")
    path = tmp_path / "jars" / "a.toml"
    assert 'foam_density = "4.7 lb/ft³ (4.6 to 4.8)"' in path.read_text("utf-8")
    jar = read_jar(path)
    assert jar.foam_density == pytest.approx(75.287, abs=1e-3)
    assert jar.foam.lower == pytest.approx(73.685, abs=1e-3)
    assert jar_texts(jar)["foam-density"] == "4.7 lb/ft³ (4.6 to 4.8)"
    assert "Nothing" in correct_jar(tmp_path, "a", {"foam-density": "4.7 lb/ft³ (4.6 to 4.8)"}, "inch-pound")
    correct_jar(tmp_path, "a", {"foam-density": "75"})
    assert read_jar(path).foam.standard_uncertainty == pytest.approx(U_TYPED_DENSITY * 75)
    correct_jar(tmp_path, "a", {"foam-density": DENSITY})
    assert read_jar(path).foam.standard_uncertainty == pytest.approx(U, rel=1e-6)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("75 ± 2 kg/m³", "can be read two ways: write the 95 % interval, like 75 .73 to 77."),
        ("75 +/- 2", "can be read two ways"),
        ("75 kg/m³ (77 to 73)", "the interval is empty"),
        ("75 kg/m³ (76 to 77)", "not inside its interval"),
        ("75 kg/m³ (73)", "density"),
        ("75 kg/m³ (73 to 77 kPa)", "not a unit of density"),
        ("75 kg", "not a unit of density"),
        ("-75 kg/m³", "below zero"),
    ],
)
def test_what_cannot_be_read_is_refused_alike_by_page_prompt_python_and_jar(capsys, tmp_path, text, said):
    typed = batch_form.START | {"foam": text}
    page = batch_form.worked(typed, None, Dilution(40, "1+N")).wrong["foam"]
    with pytest.raises(InputError, match=said) as python:
        fl.batch("600 kg/m3", "200 L", text)
    jar = wrong_entries({"foam-density": text})["foam-density"]
    _, plan = read_entries({"foam-density": text})
    assert page == jar == python.value.what == plan["foam-density"]
    with pytest.raises(SystemExit):
        cli.main(["batch", "--density", "600", "--volume", "200 L", f"--foam-density={text}"])
    assert " ".join(page.split()[:4]) in " ".join(capsys.readouterr().err.split())


def test_what_no_foam_has_is_asked_back_by_batch_plan_and_jar(capsys):
    typed = batch_form.START | {"foam": "650 kg/m³"}
    page = batch_form.worked(typed, None, Dilution(40, "1+N"))
    assert page.batch is None
    with pytest.raises(InputError, match="650 kg/m³") as python:
        fl.batch("600 kg/m3", "200 L", "650 kg/m³")
    assert python.value.what in page.wrong["foam"]
    assert by_prompt(capsys, "650 kg/m³") == 2
    assert "not plausible" in read_entries({"foam-density": "650 kg/m³"})[1]["foam-density"]
    assert "not plausible" in wrong_entries({"foam-density": "650 kg/m³"})["foam-density"]


def test_an_interval_and_a_standard_uncertainty_of_one_figure_are_refused(capsys):
    assert by_prompt(capsys, DENSITY, OUTPUT, SURVIVAL, "--u-foam-density", "2") == 2
    found = by_prompt(capsys, "75", "60", SURVIVAL, "--u-foam-density", "2", "--u-foam-output", "3")
    assert found["density"]["standard_uncertainty"] == pytest.approx(2.0)
    assert found["output"]["standard_uncertainty"] * 6e4 == pytest.approx(3.0)


def test_figures_with_exponents_may_have_an_interval():
    found = read_foam_figure("survival", "9e1 % (8.5e1 to 9.5e1)")
    assert (found.value, found.lower, found.upper) == pytest.approx((0.9, 0.85, 0.95))
    found = read_foam_figure("foam-density", "4.7e0 lb/ft3 (4.6e0 to 48e-1)")
    assert found.lower == pytest.approx(4.6 * 16.01846, rel=1e-6)
    assert read_foam_figure("output", Estimate.normal(1e-3, 1e-5, "m3/s")).value == 1e-3


def test_an_estimate_of_python_is_taken_as_it_is():
    density = Estimate.normal(75.0, 0.5, "kg/m3")
    assert fl.batch("600 kg/m3", "200 L", density).foam.density == density
    assert fl.pour_plan(volume=0.2, foam_density=density).foam.density == density
