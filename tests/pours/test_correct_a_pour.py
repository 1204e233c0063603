"""Each entry of a pour is corrected from the form, the prompt or Python by one function; the file keeps what was written."""

import pytest
from prompt_json import result_of

import frothline as fl
from frothline import cli
from frothline.bench.pour_record import ENTRIES, correct_pour, record_pour
from frothline.bench.record_entries import stamp, written_texts
from frothline.errors import InputError
from frothline.estimate import Estimate
from frothline.pours.outcome import judge_pour
from frothline.pours.record import parse_pour, read_pour
from frothline.web.components import Asked
from frothline.web.elements import words_of
from frothline.web.pages.batch import labels, record

BY_HAND = """# windy
trial = "04-12-a"
title = "Kerb"     # by the gate

[masses]
cement = 25
water = "10.5 kg"
foam_volume = "40 L"

[cup]              # a milk measure
container = "1 L"
empty = "112 g"
full = "752 g"

[cast]
sank = "2 mm"

[[specimen]]
edge = "100 mm"
age = "28 d"
mass = "587 g"
load = "7.4 kN"
"""
FOAM = Estimate.normal(75.0, 1.0, "kg/m3")
CHANGES = {
    "trial": "04-12-b", "title": "Slab", "poured": "2025-04-12 15:30", "wanted-density": "650", "wanted-volume": "60",
    "cement": "24", "sand": "2", "water": "11", "foam": "2.9", "foam-volume": "38", "slurry": "1850",
    "slurry-container": "0.5", "slurry-empty": "60", "slurry-full": "985", "cup": "645", "cup-container": "0.5",
    "cup-empty": "60", "cup-full": "382.5", "cone-time": "22", "spread": "210", "slurry-temperature": "19",
    "air-temperature": "14", "cast": "41", "lift": "150", "note": "warm",
}  # fmt: skip


@pytest.fixture
def file(tmp_path):
    (tmp_path / "pours").mkdir()
    path = tmp_path / "pours" / "kerb.toml"
    path.write_bytes(BY_HAND.encode())
    return path


def correct(file, **texts):
    return correct_pour(file.parent.parent, file.stem, {key.replace("_", "-"): one for key, one in texts.items()})


def test_a_corrected_cup_changes_the_survival_as_by_hand(file):
    """25 kg of cement at 3150 kg/m³ and 10.5 kg of water at 1000: 18.44 L. 40 L of foam hold 3 kg of water, so that 37 L
    are air. 38.5 kg at 640 kg/m³ are 60.16 L, 38.72 L of them air: more than was added within its uncertainty; at
    700 kg/m³ they are 55 L, and 33.56 L of 37 L are left, 90.7 %.
    """
    assert correct(file, cup_full="812 g").startswith("Pour corrected in pours/kerb.toml: Cup with the foam, full; ")
    found = read_pour(file)
    assert found.cup_density == pytest.approx(700.0)
    assert judge_pour(found, FOAM).survival.value == pytest.approx(0.907, abs=0.004)
    text = file.read_text("utf-8")
    assert '# full = "752 g"\nfull = "812 g"\n' in text
    assert text.replace('# full = "752 g"\nfull = "812 g"\n', 'full = "752 g"\n') == BY_HAND


def test_a_correction_that_contradicts_the_rest_is_told(file):
    """A cup of 2000 kg/m³ is heavier than the slurry of 35.5 kg in 18.44 L, 1925 kg/m³."""
    correct(file, foam="3 kg")
    said = correct(file, cup_full="2112 g")
    assert "But " in said
    assert "heavier than the slurry" in said
    found = judge_pour(read_pour(file), FOAM)
    assert found.made is None
    assert found.air is None
    assert found.dry_density is None


def test_the_mass_of_the_foam_is_enough_for_volume_and_air(file):
    """38.5 kg at 640 kg/m³ are 60.2 L; only the survival needs the volume of the foam."""
    correct(file, foam="3 kg", foam_volume="")
    found = judge_pour(read_pour(file))
    assert found.survival is None
    assert found.made.value == pytest.approx(38.5 / 640.0)
    assert found.dry_density.value == pytest.approx(1.2 * 25 / (38.5 / 640.0), rel=1e-6)
    assert found.air is not None


def prompt(folder, *options):
    return cli.main(["pours", str(folder), *options, "--json"])


def test_no_option_of_the_prompt_is_forgotten(file, tmp_path, capsys):
    cube = ["edge=100 mm", "age=28 d", "mass=600 g"]
    two = ["--add-cube", *cube, "load=6 kN", "--add-cube", *cube, "load=7 kN"]
    assert prompt(tmp_path, "--pour", "kerb", *two) == 0
    assert len(read_pour(file).specimens) == 3
    assert prompt(tmp_path, "--pour", "kerb", "--correct", "water=11 kg", "--correct", "cement=24 kg") == 0
    assert (read_pour(file).masses.water, read_pour(file).masses.cement) == (11.0, 24.0)
    before = file.read_bytes()
    for options in (
        ["--correct", "water=12 kg", "--sank", "4 mm"],
        ["--sank", "2 mm", "--rose", "3 mm"],
        ["--add-cube", *cube, "--sank", "7 mm"],
        ["--entry", "cement=3 kg"],
        ["--report", str(tmp_path / "r.html")],
    ):
        assert prompt(tmp_path, "--pour", "kerb", *options) == 2
    assert file.read_bytes() == before
    assert not (tmp_path / "r.html").exists()
    assert prompt(tmp_path, "--new", "x", "--entry", "trial=nobody", "cement=25 kg") == 2
    assert not (tmp_path / "pours" / "x.toml").exists()
    assert cli.main(["jar", str(tmp_path), "--settled", "j", "1 mm", "2 h", "--correct", "j", "cement=3 g"]) == 2
    assert cli.main(["jar", str(tmp_path), "--entry", "cement=3 g"]) == 2
    capsys.readouterr()


def test_each_entry_but_the_name_can_be_corrected_and_no_written_line_is_lost(file):
    assert {one.name for one in ENTRIES} == {"name", *CHANGES}
    correct_pour(file.parent.parent, "kerb", CHANGES)
    found = read_pour(file)
    assert found.problems == ()
    assert (found.trial, found.title, found.note) == ("04-12-b", "Slab", "warm")
    assert found.poured.isoformat() == "2025-04-12T15:30:00"
    assert (found.masses.cement, found.masses.sand, found.masses.foam) == (24.0, 2.0, 2.9)
    assert (found.slurry_density, found.cup_density) == (1850.0, 645.0)
    assert (found.cone_time, found.spread) == (22.0, pytest.approx(0.21))
    assert found.temperatures == pytest.approx({"slurry": 292.15, "air": 287.15})
    assert (found.cast_volume, found.lift, found.sank) == (pytest.approx(0.041), pytest.approx(0.15), 0.002)
    assert len(found.specimens) == 1
    left = [line.removeprefix("# ") for line in file.read_text("utf-8").splitlines()]
    assert [one for one in BY_HAND.splitlines() if one.removeprefix("# ") not in left] == []


def test_the_texts_that_are_shown_change_nothing(file):
    before = file.read_bytes()
    shown = written_texts(ENTRIES, read_pour(file).written)
    assert (shown["cement"], shown["cup-full"], shown["lift"]) == ("25 kg", "752 g", "")
    assert correct_pour(file.parent.parent, "kerb", shown) == "Nothing was changed"
    assert file.read_bytes() == before


@pytest.mark.parametrize(
    ("texts", "words"),
    [
        ({"cement": "much"}, "masses: cement"),
        ({"cup": "100 kg/m3"}, "the weighings give 640 kg/m³"),
        ({"cup-full": "100 g"}, "not heavier than the empty one"),
        ({"air-temperature": "300 °C"}, "temperatures: air"),
        ({"name": "wall"}, "the name of a file cannot be corrected"),
        ({"colour": "grey"}, "is not an entry of a pour"),
    ],
)
def test_a_wrong_correction_is_refused_and_nothing_is_written(file, texts, words):
    with pytest.raises(InputError, match=words):
        correct_pour(file.parent.parent, "kerb", texts)
    assert file.read_bytes() == BY_HAND.encode()


def test_a_density_next_to_its_weighings_must_be_theirs(file):
    """640 kg/m³ by the weighings; 2 % are rounding."""
    correct(file, cup="650 kg/m3")
    assert read_pour(file).cup_density == 650.0
    found = parse_pour(BY_HAND.replace('full = "752 g"', 'full = "752 g"\ndensity = "660 kg/m3"'), "kerb")
    assert found.cup_density != found.cup_density
    assert "written as 660 kg/m³, and the weighings give 640 kg/m³" in " ".join(found.problems)


def test_another_window_that_was_faster_is_told(file):
    seen = stamp(read_pour(file).written)
    correct(file, cement="24")
    with pytest.raises(InputError, match="the pour was changed meanwhile"):
        correct_pour(file.parent.parent, "kerb", {"water": "11"}, seen=seen)
    with pytest.raises(InputError, match="no pour in this folder"):
        correct_pour(file.parent.parent, "../kerb", {"water": "11"})


def test_page_prompt_and_python_write_the_same_file(file, tmp_path, capsys):
    others = [tmp_path / name / "pours" / "kerb.toml" for name in ("form", "python")]
    for one in others:
        one.parent.mkdir(parents=True)
        one.write_bytes(file.read_bytes())
    given = ["cup=", "cup-full=760", "cone-time=22"]
    assert cli.main(["pours", str(tmp_path), "--pour", "kerb", "--correct", *given, "--json"]) == 0
    assert "Cup with the foam, full, Cone time" in result_of(capsys.readouterr().out)["said"]
    found = read_pour(others[0])
    shown = written_texts(ENTRIES, found.written)
    asked = Asked(record.CORRECT, f"kerb/{stamp(found.written)}", shown | {"cup-full": "760", "cone-time": "22"})
    record.answer(asked, tmp_path / "form")
    fl.correct_pour("kerb", tmp_path / "python", cup_full=0.76, cone_time=22.0)
    assert others[0].read_bytes() == others[1].read_bytes() == file.read_bytes()
    assert cli.main(["pours", str(tmp_path), "--correct", "cup=640"]) == 2
    assert cli.main(["pours", str(tmp_path), "--pour", "kerb", "--correct", "cup"]) == 2
    with pytest.raises(InputError, match="names no pour"):
        record.answer(Asked(record.CORRECT, "", {}), tmp_path)


def fields(body):
    """Value, look and note of the fields of a form, by name."""
    found = {}

    def walk(item):
        if isinstance(item, list):
            if item[1].get("class") == "entry":
                found[item[3][1]["name"]] = (item[3][1].get("value"), item[1].get("data-is"), words_of(item[-1]))
            for child in item[2:]:
                walk(child)

    walk(body)
    return found


def test_the_page_shows_a_chosen_pour_as_it_is_written_and_marks_what_is_changed(file):
    pour = read_pour(file)
    assert record.block({}, None, "metric")[-1] is None
    assert list(fields(record.block({}, None, "metric", pours=[pour])[-1])) == ["pour"]
    form = f"pour-correct-kerb-{stamp(pour.written)}"
    wish = {"pour-open": ("kerb",), f"{form}-cement": ("24",), f"{form}-spread": ("much",)}
    body = record.block(wish, None, "metric", pours=[pour])[-1]
    found = fields(body)
    assert found["cup-container"] == ("1 L", "", "")
    assert found["cement"] == ("24", "changed", "was: 25 kg")
    assert found["spread"][:2] == ("much", "wrong")
    assert "pours/kerb.toml" in words_of(body)
    assert labels.CORRECT_POUR in words_of(body)
    assert set(found) == {"pour", *CHANGES}


def test_a_new_pour_has_its_weighings_flow_and_temperatures(tmp_path):
    new = {"name": "wall", **CHANGES}
    found = read_pour(record_pour(tmp_path, new))
    assert found.problems == ()
    assert (found.cone_time, found.cup_density, found.masses.foam) == (22.0, 645.0, 2.9)
    assert found.poured.isoformat() == "2025-04-12T15:30:00"
    imperial = read_pour(record_pour(tmp_path, {"name": "us", "air-temperature": "59", "spread": "8"}, "inch-pound"))
    assert imperial.temperatures["air"] == pytest.approx(288.15)
    assert imperial.spread == pytest.approx(0.2032)
