"""Each entry of a jar is corrected from the form or the prompt by one function; the file keeps what was written."""

import pytest
from prompt_json import result_of

from frothline import cli
from frothline.bench.jar_record import ENTRIES, correct_jar, jar_texts, record_jar, settle_jar
from frothline.bench.record_entries import stamp
from frothline.errors import InputError
from frothline.pours.jar import read_jar
from frothline.pours.new_jar import correct_entries
from frothline.toml_text import read_toml
from frothline.trials.jars import jar_of
from frothline.web.components import Asked
from frothline.web.elements import words_of
from frothline.web.pages.batch import jars, labels

BY_HAND = """# weighed on the kitchen scale
title = "Soap A"   # second bottle
foam_density = 75

[masses]           # put into the jar
cement = "300 g"
water = 150
foam_volume = "0.3 L"

[jar]
volume = "517.49 mL"
after = 2
"""


@pytest.fixture
def file(tmp_path):
    (tmp_path / "jars").mkdir()
    path = tmp_path / "jars" / "a.toml"
    path.write_bytes(BY_HAND.encode())
    return path


def correct(file, **texts):
    return correct_jar(file.parent.parent, file.stem, {key.replace("_", "-"): one for key, one in texts.items()})


def test_a_corrected_mass_changes_the_survival_as_by_hand(file):
    """With 330 g of cement, 104.76 mL: 517.49 mL leave 240.23 mL of the 277.5 mL of air, 86.57 %."""
    assert jar_of(file).outcome.survival.value == pytest.approx(0.90, abs=0.002)
    assert correct(file, cement="330") == (
        "Jar corrected in jars/a.toml: Cement put in; what was written stays there as a comment"
    )
    assert jar_of(file).outcome.survival.value == pytest.approx(240.23 / 277.5, abs=0.002)
    text = file.read_text("utf-8")
    assert '# cement = "300 g"\ncement = "330 g"\n' in text
    assert text.replace('# cement = "300 g"\ncement = "330 g"\n', 'cement = "300 g"\n') == BY_HAND


CHANGES = {
    "trial": "04-12", "title": "Soap B", "foam-density": "80", "cement": "310", "sand": "20", "water": "160",
    "foam": "22.5", "foam-volume": "310", "diameter": "92", "height": "78", "volume": "520", "settled": "75",
    "after": "3", "note": "warm",
}  # fmt: skip


def test_each_entry_but_the_name_can_be_corrected_and_no_written_line_is_lost(file):
    assert {one.name for one in ENTRIES} == {"name", *CHANGES}
    for name, text in CHANGES.items():
        correct_jar(file.parent.parent, "a", {name: text})
    found = read_jar(file)
    assert found.problems == ()
    assert (found.trial, found.title, found.foam_density) == ("04-12", "Soap B", 80.0)
    assert found.masses.cement == pytest.approx(0.31)
    assert found.masses.foam_volume == pytest.approx(0.31e-3)
    assert (found.height, found.after) == (pytest.approx(0.078), 3 * 3600.0)
    assert found.written["note"] == "warm"
    left = [line.removeprefix("# ") for line in file.read_text("utf-8").splitlines()]
    assert [one for one in BY_HAND.splitlines() if one.removeprefix("# ") not in left] == []
    assert read_toml(file.read_text("utf-8"))["masses"]["sand"] == "20 g"


def test_the_texts_that_are_shown_change_nothing(file):
    before = file.read_bytes()
    shown = jar_texts(read_jar(file))
    assert (shown["water"], shown["after"], shown["foam-density"]) == ("150 g", "2 d", "75 kg/m³")
    for system in ("metric", "inch-pound"):
        assert correct_jar(file.parent.parent, "a", shown, system) == "Nothing was changed"
    assert file.read_bytes() == before


def test_an_empty_text_takes_an_entry_out_and_a_number_has_the_unit_of_the_reader(file):
    correct(file, title="", foam_density="")
    assert read_jar(file).title == "a"
    assert '# title = "Soap A"   # second bottle' in file.read_text("utf-8")
    correct_jar(file.parent.parent, "a", {"cement": "10"}, "inch-pound")
    assert read_jar(file).masses.cement == pytest.approx(0.28349523, rel=1e-6)


def test_an_entry_that_could_not_be_read_can_be_corrected(file):
    file.write_text(BY_HAND.replace('"300 g"', '"300 L"'), "utf-8")
    assert jar_texts(read_jar(file))["cement"] == "300 L"
    with pytest.raises(InputError, match="masses: cement"):
        correct(file, cement="310 L")
    correct(file, cement="300")
    assert read_jar(file).problems == ()


def test_what_is_wrong_is_named_and_the_file_stays(file):
    before = file.read_bytes()
    for texts, said in [({"cement": "much"}, "masses: cement"), ({"volume": "2 kg"}, "jar: volume"),
                        ({"colour": "grey"}, "is not an entry of a jar"), ({"name": "b"}, "name of a file"),
                        ({"cement": "", "water": "", "foam_volume": ""}, "nothing put into the jar")]:  # fmt: skip
        with pytest.raises(InputError, match=said):
            correct(file, **texts)
    with pytest.raises(InputError, match="no jar in this folder"):
        correct_jar(file.parent.parent, "../a", {"cement": "310"})
    with pytest.raises(InputError, match="changed meanwhile"):
        correct_jar(file.parent.parent, "a", {"cement": "310"}, seen="00000000")
    assert file.read_bytes() == before


@pytest.mark.parametrize(
    "text",
    [
        'masses.cement = "300 g"\n',
        'masses = { cement = "300 g" }\n',
        'title = """a\nb"""\n[masses]\ncement = "300 g"\n',
    ],
)
def test_a_file_in_another_form_is_refused_and_unchanged(file, text):
    file.write_text(text, "utf-8")
    with pytest.raises(InputError, match="Write it in by hand"):
        correct(file, cement="310", title="c")
    assert file.read_text("utf-8") == text


@pytest.mark.parametrize(
    ("text", "wanted"),
    [
        ('[masses]\ncement = "300 g"\n', 'title = "B"\n[masses]\ncement = "300 g"\n'),
        ("# a\r\n\r\n# b\r\n[masses]\r\ncement = 300", 'title = "B"\r\n# a\r\n\r\n# b\r\n[masses]\r\ncement = 300'),
        ('trial = "x"\n\n# of the jar\n[masses]\ncement = 300\n',
         'trial = "x"\ntitle = "B"\n\n# of the jar\n[masses]\ncement = 300\n'),
    ],
)  # fmt: skip
def test_an_entry_above_the_tables_keeps_comments_and_line_ends(file, text, wanted):
    file.write_bytes(text.encode())
    correct_entries(file, {"title": "B"})
    assert file.read_bytes().decode() == wanted


def test_the_first_entry_of_a_table_makes_the_table(file):
    file.write_text('[masses]\ncement = "300 g"\n', "utf-8")
    settle_jar(file.parent.parent, "a", "75", "2")
    correct(file, height="78")
    assert read_jar(file).settled == pytest.approx(0.075)
    file.write_text('[masses]\ncement = "300 g"\n', "utf-8")
    correct_entries(file, {"jar.height": ""})
    assert file.read_text("utf-8") == '[masses]\ncement = "300 g"\n'
    file.write_text('jar = 3\n[masses]\ncement = "300 g"\n', "utf-8")
    with pytest.raises(InputError, match="is not a table"):
        correct(file, height="78")


def test_the_prompt_corrects_as_the_form_does(file, tmp_path, capsys):
    other = tmp_path / "form" / "jars" / "a.toml"
    other.parent.mkdir(parents=True)
    other.write_bytes(file.read_bytes())
    assert cli.main(["jar", str(tmp_path), "--correct", "a", "cement=310", "after=3", "--json"]) == 0
    assert "Cement put in, Read after" in result_of(capsys.readouterr().out)["said"]
    record = read_jar(other)
    asked = Asked(
        jars.CORRECT, f"a/{stamp(record.written)}", jar_texts(record) | {"jar": "a", "cement": "310", "after": "3"}
    )
    jars.answer(asked, tmp_path / "form")
    assert other.read_bytes() == file.read_bytes()
    assert cli.main(["jar", str(tmp_path), "--correct", "a"]) == 2
    assert cli.main(["jar", str(tmp_path), "--correct", "b", "cement=310"]) == 2


def shown(body):
    """Value, look and note of the fields of the last form, by name."""
    found = {}

    def walk(item):
        if isinstance(item, list):
            if item[1].get("class") == "entry":
                found[item[3][1]["name"]] = (item[3][1].get("value"), item[1].get("data-is"), words_of(item[-1]))
            for child in item[2:]:
                walk(child)

    walk(body[-1])
    return found


def test_the_page_shows_a_chosen_jar_as_it_is_written_and_marks_what_is_changed(file):
    record = read_jar(file)
    assert jars.block({}, ())[-1] is None
    closed = jars.block({}, [record])
    assert labels.CORRECT_JAR in words_of(closed[-1])
    assert list(shown(closed)) == ["jar"]
    form = f"jar-correct-a-{stamp(record.written)}"
    body = jars.block({"jar-open": ("a",), f"{form}-cement": ("310",), f"{form}-water": ("1 kN",)}, [record])
    found = shown(body)
    assert found["foam-volume"] == ("0.3 L", "", "")
    assert found["cement"] == ("310", "changed", "was: 300 g")
    assert found["water"][:2] == ("1 kN", "wrong")
    assert "jars/a.toml" in words_of(body[-1])
    with pytest.raises(InputError, match="names no jar"):
        jars.answer(Asked(jars.CORRECT, "", {}), file.parent.parent)


def test_a_trial_that_is_not_in_the_folder_stays_chosen(file):
    record_jar(file.parent.parent, {"name": "b", "trial": "gone", "cement": "300"})
    body = jars.block({"jar-open": ("b",)}, [read_jar(file.with_name("b.toml"))], [("t", "T")])
    assert shown(body)["trial"][1:] == ("", "")
    assert "gone" in words_of(body[-1])
    assert correct_jar(file.parent.parent, "b", jar_texts(read_jar(file.with_name("b.toml")))) == "Nothing was changed"
