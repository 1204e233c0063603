"""Entries of pours, jars and cubes as they are slipped or copied in: read as what they are, or asked back."""

import pytest

import frothline as fl
from frothline import cli
from frothline.bench.cube_record import add_cube, add_settlement, correct_cube
from frothline.bench.cube_rows import add_cubes
from frothline.bench.jar_record import wrong_entries as wrong_jar
from frothline.bench.pour_record import record_pour
from frothline.bench.pour_record import wrong_entries as wrong_pour
from frothline.cli.entry_texts import entry_texts
from frothline.errors import InputError
from frothline.estimate import Estimate
from frothline.pours.entries import read_age, read_seconds
from frothline.pours.outcome import judge_pour
from frothline.pours.plan_entries import read_span
from frothline.pours.record import read_pour
from frothline.quantities import is_number, read_number, read_quantity
from frothline.trials.sample_sidecar import read_time
from frothline.web.components import Asked
from frothline.web.pages.batch import record

FOAM = Estimate.normal(75.0, 1.0, "kg/m3")
# 25 kg of cement (3150 kg/m³) and 9.4 kg of water are 17.34 L; with 42 L of foam they are 37.55 kg, 57.6 L by the cup.
GOOD = {
    "cement": "25", "water": "9.4", "foam-volume": "42", "slurry": "1984", "cup": "652", "cast": "56", "lift": "150",
    "cone-time": "22", "wanted-density": "600", "wanted-volume": "55", "slurry-temperature": "19", "spread": "210",
}  # fmt: skip


@pytest.mark.parametrize("minus", ["-", "−", "–", "‑", "－"])
def test_a_minus_sign_of_typography_is_a_minus_sign(minus):
    assert read_quantity(f"{minus}5 °C", "temperature") == pytest.approx(268.15)
    assert read_number(f"{minus}5e{minus}1") == -0.5
    assert is_number(f"{minus}5")
    assert "below zero" in wrong_pour({"cement": f"{minus}25 kg"})["cement"]
    assert read_quantity(f"1{minus}1/2 in", "length") == pytest.approx(0.0381)


@pytest.mark.parametrize("space", [" ", "", "\u00a0", "\u202f", "\u2009"])
def test_any_space_or_none_may_stand_before_the_unit(space):
    assert read_quantity(f"25{space}kg", "bag") == 25.0
    assert read_age(f"28{space}d") == 28 * 86400
    assert read_time(f"75{space}s") == 75.0


def test_times_may_be_in_capital_letters_and_a_jar_is_read_after_minutes():
    assert (read_age("36 H"), read_age("4 Weeks"), read_age("45 min")) == (129600.0, 28 * 86400, 2700.0)
    assert (read_seconds("2 MIN"), read_span("1.5 H"), read_time("1 Min 15 S")) == (120.0, 5400.0, 75.0)
    assert wrong_jar({"after": "45 min"}) == {}
    assert "not plausible" in wrong_jar({"after": "2000 h"})["after"]


@pytest.mark.parametrize(
    ("name", "slip"),
    [
        ("wanted-density", "60"),
        ("wanted-density", "6000"),
        ("wanted-density", "1.5"),
        ("slurry-temperature", "140"),
        ("slurry-temperature", "-30"),
        ("air-temperature", "66"),  # °F without its unit
        ("cone-time", "0.2"),
        ("cone-time", "90 min"),
        ("spread", "21 m"),
        ("lift", "150 m"),
        ("lift", "0.15"),
        ("cement", "25 %"),
        ("cement", "25 L"),
        ("cement", "0"),
        ("water", "nine"),
    ],
)
def test_what_no_pour_has_is_refused_at_its_entry(name, slip):
    assert wrong_pour(GOOD) == {}
    assert list(wrong_pour(GOOD | {name: slip})) == [name]


@pytest.mark.parametrize(
    ("name", "slip", "asked"),
    [
        ("cement", "25 g", "check [masses]"),
        ("cement", "25000", "check [masses]"),
        ("water", "9400", "check [masses]"),
        ("foam-volume", "42 mL", "more than 100 %"),
        ("foam-volume", "42000", "only 4 %"),
        ("slurry", "1.984", "check [masses]"),
        ("cup", "65.2", "lighter than the foam"),
        ("cup", "6520", "heavier than the slurry"),
        ("cast", "56 m3", "the volume of the mould"),
        ("cast", "0.056", "check [masses] and the cup"),
        ("wanted-volume", "55 m3", "55000 L were wanted: check the wanted volume and its unit"),
        ("wanted-volume", "0.055", "check the wanted volume and its unit"),
    ],
)
def test_a_slip_by_a_thousand_that_could_be_is_a_question_of_the_pour(tmp_path, name, slip, asked):
    assert judge_pour(read_pour(record_pour(tmp_path, {**GOOD, "name": "good"})), FOAM).questions == ()
    outcome = judge_pour(read_pour(record_pour(tmp_path, {**GOOD, name: slip, "name": "slip"})), FOAM)
    assert any(asked in one for one in outcome.questions)
    if name == "wanted-volume":
        assert outcome.yield_ratio is None
        assert outcome.why["yield_ratio"] == "masses and wanted volume contradict each other"


def test_half_or_twice_the_wanted_volume_is_a_yield(tmp_path):
    for k, wanted in enumerate(("110", "29")):
        outcome = judge_pour(read_pour(record_pour(tmp_path, {**GOOD, "wanted-volume": wanted, "name": str(k)})), FOAM)
        assert outcome.questions == ()
        assert outcome.yield_ratio.value == pytest.approx(57.6 / float(wanted), rel=1e-3)


def test_an_entry_that_is_given_twice_is_asked_back(tmp_path, capsys):
    with pytest.raises(InputError, match="“cement” is given twice"):
        entry_texts(["cement=25 kg", "water=9 kg", " cement =26 kg"])
    for options in (("--entry", "cement=25 kg", "cement=26 kg"), ("--trial", "a", "--entry", "trial=b")):
        assert cli.main(["pours", str(tmp_path), "--new", "kerb", *options]) == 2
        assert "given twice" in capsys.readouterr().err
    assert not (tmp_path / "pours").exists()


CUBE = {"edge": "100", "age": "28", "mass": "587", "load": "7.4", "dry-mass": "489"}


@pytest.mark.parametrize(
    ("name", "slip", "said"),
    [
        ("mass", "5870", "a density of 5.87e"),
        ("mass", "58.7", "a density of 58.7 kg/m³"),
        ("dry-mass", "700", "more than the mass when crushed"),
        ("age", "28 min", "“28 min” is not plausible"),
        ("load", "7400", "a strength of 740 MPa"),
        ("edge", "100 cm", "a density of 0.587 kg/m³"),
    ],
)
def test_what_no_cube_has_is_asked_back(tmp_path, name, slip, said):
    record_pour(tmp_path, {"name": "kerb", "poured": "2025-04-12"})
    with pytest.raises(InputError) as refused:
        add_cube(tmp_path, "kerb", CUBE | {name: slip})
    assert said in refused.value.what
    assert add_cube(tmp_path, "kerb", CUBE).startswith("Cube saved")
    assert add_cube(tmp_path, "kerb", CUBE | {"dry-mass": "600"}).startswith("Cube saved")  # of a like specimen


def test_what_contradicts_the_pour_is_asked_with_what_was_saved(tmp_path, capsys):
    """2 m of sink in a lift of 150 mm; a cube of 1200 kg/m³ of a pour whose cup weighed 652 kg/m³."""
    record_pour(tmp_path, {**GOOD, "name": "kerb", "poured": "2025-04-12"})
    heavy = CUBE | {"mass": "1200"}
    assert (
        add_settlement(tmp_path, "kerb", "sank", "2") == "Sank in 24 h saved in pours/kerb.toml, entry sank of [cast]"
    )
    said = add_settlement(tmp_path, "kerb", "sank", "2 m")
    assert said.endswith("of [cast]. But the top moved by 2000 mm in a lift of 150 mm: check both lengths")
    assert ". But " not in add_cube(tmp_path, "kerb", CUBE)  # what was asked before is not asked again
    assert "specimen" in add_cube(tmp_path, "kerb", heavy).partition(". But ")[2]
    record_pour(tmp_path, {**GOOD, "name": "wall", "poured": "2025-04-12"})
    said = add_cubes(tmp_path, [{"pour": "wall", **heavy}])
    assert said.startswith("Saved: 1 cube in pours/wall.toml. But wall: ")
    assert "But " not in correct_cube(tmp_path, "wall", 1, {"mass": "600"})
    assert "specimen" in correct_cube(tmp_path, "wall", 1, {"mass": "1210"}).partition(". But ")[2]
    slip = {"cement": "25 g", "foam": "3.15", "name": "x"}  # a foam of 75 kg/m³ by mass and volume
    entries = [f"{name}={text}" for name, text in (GOOD | slip).items() if name != "name"]
    assert cli.main(["pours", str(tmp_path), "--new", "x", "--entry", *entries]) == 0
    assert "But the slurry weighed 1984 kg/m³" in " ".join(capsys.readouterr().out.split())
    assert "But the slurry weighed" in record.answer(Asked(record.RECORD, "", GOOD | slip | {"name": "y"}), tmp_path)
    python = {name.replace("-", "_"): text for name, text in (GOOD | slip).items() if name != "name"}
    assert "But the slurry weighed" in fl.record_pour("z", tmp_path, **python).said
