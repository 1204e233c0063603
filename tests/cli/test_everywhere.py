"""The prompt in other terminals, encodings, shells and with preferences of one's own."""

import os
import subprocess
import sys
from pathlib import Path

import pytest
from prompt_json import result_of

from frothline import cli
from frothline.bench.folders import default_folder
from frothline.cli import output
from frothline.cli.output import Say, fitted_columns, shortened
from frothline.cli.plain_text import plain_characters
from frothline.errors import InputError
from frothline.preferences import preferences_path, read_preferences, use_preferences
from frothline.units import chosen_system

SEASON = Path(__file__).parents[2] / "recordings" / "season"


@pytest.mark.parametrize(
    "encoding", ["ascii", "cp1252", *(pytest.param(one, marks=pytest.mark.exhaustive) for one in ("cp437", "utf-8"))]
)
def test_a_pipe_of_any_encoding_gets_every_line(encoding):
    """LANG=C and the code pages of Windows lack some of ³, –, “ and ≥."""
    command = [sys.executable, "-m", "frothline", "trials", SEASON, "--trial", "04-05-first-tube"]
    said = subprocess.run(command, capture_output=True, check=True, env={**os.environ, "PYTHONIOENCODING": encoding})
    text = said.stdout.decode(encoding)
    assert ("kg/m3" if encoding in {"ascii", "cp437"} else "kg/m³") in text
    assert "(simulated)" in text
    assert not said.stderr


def test_json_in_an_ascii_pipe_has_the_same_values(capsys):
    command = [sys.executable, "-m", "frothline", "verify", SEASON / "04-26-strong.froth", "--json"]
    said = subprocess.run(command, capture_output=True, check=True, env={**os.environ, "PYTHONIOENCODING": "ascii"})
    cli.main([str(one) for one in command[3:]])
    assert result_of(said.stdout.decode("ascii")) == result_of(capsys.readouterr().out)


def test_one_file_and_many_have_one_shape(capsys):
    files = [str(SEASON / f"{name}.froth") for name in ("04-26-strong", "04-05-first-tube")]
    cli.main(["verify", files[0], "--json"])
    one = result_of(capsys.readouterr().out)
    cli.main(["verify", *files, "--json"])
    assert result_of(capsys.readouterr().out)[:1] == one


def test_characters_have_a_plain_spelling():
    assert plain_characters("12 kg/m³ – “é” ≥ 5 °C ☃") == '12 kg/m3 - "e" >= 5 deg C ?'


def test_progress_is_one_line_that_the_next_can_overwrite(capsys, monkeypatch):
    monkeypatch.setattr(sys.stderr, "isatty", lambda: True, raising=False)
    monkeypatch.setattr(output.shutil, "get_terminal_size", lambda *_: os.terminal_size((30, 24)))
    monkeypatch.setattr(output, "SHOW_AFTER", 0.0)
    say = Say(as_json=False, quiet=False)
    say.progress("reading /home/builder/Frothline/2025-04-12-a-very-long-name.froth")
    shown = capsys.readouterr().err.removeprefix("\r")
    assert len(shown) == 29
    assert shown.endswith("name.froth")


@pytest.mark.parametrize(("width", "text"), [(11, "first…third"), (40, "first second third"), (1, "…"), (0, "")])
def test_a_line_is_cut_in_its_middle(width, text):
    assert shortened("first second\nthird", width) == text


def test_a_table_that_is_too_wide_becomes_blocks():
    rows = [["Trial", "Density", "Output"], ["first tube", "75.3 kg/m³", "310 L/min"]]
    assert fitted_columns(rows, width=40) == ["Trial          Density     Output", "first tube  75.3 kg/m³  310 L/min"]
    assert fitted_columns(rows, width=30) == ["first tube", "  Density: 75.3 kg/m³", "  Output: 310 L/min"]


@pytest.mark.parametrize("shell", ["bash", "zsh"])
def test_a_shell_is_told_every_command(capsys, shell):
    assert cli.main(["completion", shell]) == 0
    script = capsys.readouterr().out
    assert all(command.name in script for command in cli.COMMANDS)
    assert "--foam-density" in script


def test_bash_accepts_the_script(capsys):
    cli.main(["completion", "bash"])
    subprocess.run(["bash", "-n"], input=capsys.readouterr().out, text=True, check=True)


# --- preferences ------------------------------------------------------------------------------------------------------


@pytest.fixture
def preferences(tmp_path, monkeypatch):
    path = tmp_path / "preferences.toml"
    for name in ("FROTHLINE_UNITS", "FROTHLINE_FOLDER"):
        monkeypatch.setenv(name, "")  # so that it is put back
    monkeypatch.setenv("FROTHLINE_PREFERENCES", str(path))
    return path


def test_units_and_folder_of_the_file_are_used_by_prompt_and_notebook(preferences, tmp_path, capsys):
    preferences.write_text(f'units = "us"\nfolder = "{tmp_path}"\n', encoding="utf-8")
    assert cli.main(["trials", str(SEASON), "--trial", "04-05-first-tube"]) == 0
    assert "lb/ft³" in capsys.readouterr().out
    assert default_folder() == tmp_path
    assert chosen_system() == "inch-pound"


def test_an_option_comes_before_the_environment_and_the_environment_before_the_file(preferences, monkeypatch, capsys):
    preferences.write_text('units = "us"\n', encoding="utf-8")
    monkeypatch.setenv("FROTHLINE_UNITS", "metric")
    use_preferences()
    assert chosen_system() == "metric"
    cli.main(["trials", str(SEASON), "--trial", "04-05-first-tube", "--units", "us"])
    assert "lb/ft³" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ('unit = "us"', "Did you mean “units”?"),
        ('units = "imperial"', "not a system of units"),
        ("units = 3", "units is not a text"),
        ("units = ", "cannot be read"),
    ],
)
def test_a_wrong_entry_is_named_with_the_file(preferences, text, words, capsys):
    preferences.write_text(text, encoding="utf-8")
    with pytest.raises(InputError, match=r"preferences\.toml"):
        read_preferences()
    assert cli.main(["trials", str(SEASON)]) == 2
    assert words in capsys.readouterr().err


def test_without_a_file_nothing_changes(preferences):
    assert preferences_path() == preferences
    assert read_preferences() == {}
    use_preferences()
    assert chosen_system() == "metric"
