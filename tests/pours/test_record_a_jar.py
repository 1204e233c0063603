"""A jar is recorded from a form or the prompt by one function; its settled height is added hours later.

By hand: 300 g cement of 3.15 is 95.24 mL; with 150 mL water and 300 mL foam of 75 kg/m3 (22.5 mL water, 277.5 mL air),
of whose air 90 % is left, the mix has 95.24 + 150 + 22.5 + 249.75 = 517.49 mL.
"""

import pytest
from prompt_json import result_of

from frothline import cli
from frothline.bench.jar_record import ENTRIES, record_jar, settle_jar, wrong_entries
from frothline.errors import InputError
from frothline.pours.jar import EXAMPLE, parse_jar, read_jar
from frothline.toml_text import read_toml
from frothline.trials.jars import jar_of
from frothline.web.components import Asked
from frothline.web.elements import words_of
from frothline.web.pages.batch import jars, labels

TEXTS = {
    "name": "soap-a-1", "title": "Soap A", "foam-density": "75", "cement": "300", "water": "150", "foam-volume": "300",
    "volume": "517,49",
}  # fmt: skip


def file_of(folder):
    return folder / "jars" / "soap-a-1.toml"


def test_what_is_typed_gives_the_survival_worked_by_hand(tmp_path):
    assert record_jar(tmp_path, TEXTS) == "Jar saved in jars/soap-a-1.toml"
    found = jar_of(file_of(tmp_path))
    assert found.problems == ()
    assert found.outcome.survival.value == pytest.approx(0.90, abs=0.005)
    assert 'cement = "300 g"' in file_of(tmp_path).read_text("utf-8")


def test_numbers_without_a_unit_are_those_of_the_reader(tmp_path):
    record_jar(tmp_path, {"name": "soap-a-1", "cement": "10", "height": "3", "after": "2"}, "inch-pound")
    found = read_jar(file_of(tmp_path))
    assert found.masses.cement == pytest.approx(0.28349523, rel=1e-6)
    assert found.height == pytest.approx(0.0762)
    assert found.after == 7200.0


def test_the_form_has_an_entry_for_each_entry_of_the_example():
    paths = {one.path for one in ENTRIES}
    document = read_toml(EXAMPLE)
    flat = {key for key, one in document.items() if not isinstance(one, dict)}
    flat |= {f"{table}.{key}" for table in ("masses", "jar") for key in document[table]}
    assert flat <= paths
    assert parse_jar(EXAMPLE, "x").problems == ()


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"cement": "much"}, "masses: cement"),
        ({"volume": "517 g"}, "jar: volume"),
        ({"name": "../x"}, "cannot be the name"),
        ({"name": ""}, "cannot be the name"),
        ({"cement": "", "water": "", "foam-volume": ""}, "what was put into the jar is missing"),
        ({"colour": "grey"}, "is not an entry of a jar"),
        ({"after": "soon"}, "jar: after"),
    ],
)
def test_a_wrong_entry_is_named_and_nothing_is_written(tmp_path, changed, said):
    with pytest.raises(InputError, match=said):
        record_jar(tmp_path, TEXTS | changed)
    assert not (tmp_path / "jars").exists()


def test_a_jar_is_not_written_over(tmp_path):
    record_jar(tmp_path, TEXTS)
    with pytest.raises(InputError, match="already"):
        record_jar(tmp_path, TEXTS | {"cement": "200"})
    assert read_jar(file_of(tmp_path)).masses.cement == pytest.approx(0.3)


def test_the_settled_height_is_added_later_and_an_earlier_one_stays_as_a_comment(tmp_path):
    record_jar(tmp_path, TEXTS | {"volume": "", "diameter": "92", "height": "80"})
    before = file_of(tmp_path).read_text("utf-8")
    settle_jar(tmp_path, "soap-a-1", "76", "2")
    found = jar_of(file_of(tmp_path))
    assert found.outcome.settlement.value == pytest.approx(0.05)
    assert found.record.after == 7200.0
    settle_jar(tmp_path, "soap-a-1", "74 mm", "1 d")
    assert jar_of(file_of(tmp_path)).record.after == 86400.0
    text = file_of(tmp_path).read_text("utf-8")
    assert '# settled = "76 mm"' in text
    assert [one for one in before.splitlines() if one not in text.splitlines()] == []
    for given, said in [(("soap-a-1", "", "2"), "settled height"), (("soap-a-1", "75", ""), "time"),
                        (("soap-a-1", "75 g", "2"), "settled"), (("other", "75", "2"), "no jar in this folder")]:  # fmt: skip
        with pytest.raises(InputError, match=said):
            settle_jar(tmp_path, *given)
    assert file_of(tmp_path).read_text("utf-8") == text


def test_the_prompt_writes_the_same_file_as_the_form(tmp_path, capsys):
    record_jar(tmp_path / "form", TEXTS)
    given = [f"--entry={name}={text}" for name, text in TEXTS.items() if name != "name"]
    (tmp_path / "prompt").mkdir()
    assert cli.main(["jar", str(tmp_path / "prompt"), "--new", "soap-a-1", *given, "--json"]) == 0
    assert result_of(capsys.readouterr().out)["said"] == "Jar saved in jars/soap-a-1.toml"
    assert file_of(tmp_path / "prompt").read_text("utf-8") == file_of(tmp_path / "form").read_text("utf-8")
    assert cli.main(["jar", str(tmp_path / "prompt"), "--settled", "soap-a-1", "75 mm", "2 h"]) == 0
    assert read_jar(file_of(tmp_path / "prompt")).settled == pytest.approx(0.075)
    assert cli.main(["jar", str(tmp_path / "prompt"), "--new", "x", "--entry", "cement"]) == 2
    assert cli.main(["jar", str(tmp_path / "prompt"), "--settled", "y", "75 mm", "2 h"]) == 2


def looks(body):
    found = {}

    def walk(item):
        if isinstance(item, list):
            if item[1].get("class") == "entry":
                found[item[3][1]["name"]] = item[1].get("data-is")
            for child in item[2:]:
                walk(child)

    for part in body:
        walk(part)
    return found


def test_the_form_is_empty_without_red_and_a_wrong_text_is_red(tmp_path):
    body = jars.block({}, ())
    assert looks(body) == dict.fromkeys([one.name for one in ENTRIES], "")
    body = jars.block({"jar-0-cement": ("300 L",), "jar-0-after": ("soon",)}, ())
    assert [name for name, look in looks(body).items() if look] == ["cement", "after"]
    assert wrong_entries({"cement": "300"}) == {}


def test_the_buttons_save_a_jar_and_its_settled_height(tmp_path):
    assert "jars/soap-a-1.toml" in jars.answer(Asked(jars.NEW, "", TEXTS), tmp_path)
    body = jars.block({}, [read_jar(file_of(tmp_path))])
    assert labels.SETTLED_JAR in words_of(body[2])
    said = jars.answer(Asked(jars.SETTLE, "", {"jar": "soap-a-1", "settled": "70", "after": "2"}), tmp_path)
    assert "Settled height saved" in said
    assert jars.block({}, [read_jar(file_of(tmp_path))])[2] is None
