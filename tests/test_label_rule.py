"""Labels away from the pages begin with a capital: axes of charts, tables of a notebook, tables of the prompt."""

import re
from pathlib import Path

import pytest

import frothline as fl
from frothline import cli
from frothline.label_case import label_case
from frothline.presentable import Plottable
from frothline.report.run import run_report
from frothline.report.svg_chart import Chart, intervals
from frothline.trials.notebook import open_notebook

SEASON = Path(__file__).parents[1] / "recordings" / "season"
SWEEP = SEASON / "03-29-sweep-shop-motor.froth"
BUILD = SEASON / "builds" / "first-tube.toml"
RUN = "05-03-strong-long-narrow"


@pytest.fixture(scope="module")
def notebook():
    return open_notebook(SEASON)


@pytest.fixture(scope="module")
def results(notebook):
    source = fl.fit_source(SWEEP)
    prediction = fl.what_if(SEASON / "builds" / "first-tube.toml", source, {"outlet.bore": "26 mm"})
    return {
        "source": source,
        "prediction": prediction,
        "notebook": notebook,
        "trial": notebook.trial(RUN),
        "effects": notebook.which_helped(),
        "comparison": notebook.compare(notebook.trials[0].name, RUN),
    }


@pytest.mark.parametrize("name", ["source", "prediction", "notebook", "trial", "effects", "comparison"])
def test_the_first_cell_of_each_row_and_each_head_of_a_notebook_is_a_label(results, name):
    html = results[name]._repr_html_()
    cells = re.findall(r"<tr><t[dh]>([^<]+)</t", html) + re.findall(r"<th>([^<]+)<", html)
    assert cells
    assert [label for label in cells if label_case(label) != label] == []


@pytest.mark.parametrize("name", ["source", "prediction", "notebook", "effects", "comparison"])
def test_the_axes_of_a_chart_in_a_notebook_have_labels(results, name):
    layout = results[name].plot().layout
    for title in (layout.xaxis.title.text, layout.yaxis.title.text):
        assert title == label_case(title)
    names = [trace.name for trace in results[name].plot().data]
    assert [one for one in names if label_case(one) != one] == []
    assert isinstance(results["source"], Plottable)


@pytest.mark.parametrize(("name", "factor"), [("source", 1 / 249.08891), ("comparison", 1 / 16.01846)])
def test_a_chart_in_a_notebook_has_the_units_that_its_reader_chose(results, name, factor, monkeypatch):
    """One inch of water (conventional) is 249.08891 Pa (NIST SP 811, B.8); a pound per cubic foot 16.01846 kg/m³."""
    metric = results[name].plot()
    monkeypatch.setenv("FROTHLINE_UNITS", "us")
    us = results[name].plot()
    assert {"source": "inH₂O", "comparison": "lb/ft³"}[name] in us.layout.yaxis.title.text
    known = {"source": 1000.0, "comparison": 1.0}[name]
    for before, after in zip(metric.data, us.data, strict=True):
        assert list(after.y) == pytest.approx([known * factor * y for y in before.y], rel=2e-6)
    if name == "source":
        assert "cfm" in us.layout.xaxis.title.text
        bars = us.data[-1].error_y.array, metric.data[-1].error_y.array
        assert list(bars[0]) == pytest.approx([known * factor * one for one in bars[1]], rel=2e-6)


def test_the_axes_and_figures_of_a_report_have_labels(notebook):
    chart = Chart((0.0, 1.0), (0.0, 1.0), x_label="flow, L/s", y_label="inH₂O, gauge", title="x").svg()
    assert ">Flow, L/s<" in chart
    assert ">inH₂O, gauge<" in chart  # a unit stays
    assert ">Change, kPa<" in intervals([("a", 1.0, 0.5, 1.5)], unit="change, kPa", title="x")
    assert ">Outlet bore (mm)<" in intervals([("outlet bore (mm)", 1.0, 0.5, 1.5)], unit="kPa", title="x")
    html = run_report(notebook, RUN).html
    axes = re.findall(r">([^<]*(?:kPa|L/s|since[^<]*, s))</text>", html)
    assert len(axes) > 2
    large = re.findall(r"<div><small>([^<]+)</small><b", html)
    rows = re.findall(r"<tr><td>([^<]+)</td><td class=.n.>[^<]*</td><td class=.n.>[^<]*</td><td>", html)
    assert large
    assert rows
    assert [label for label in (*axes, *large) if label_case(label) != label] == []


@pytest.mark.parametrize(
    "command",
    [
        ("trials", str(SEASON), "--trial", RUN),
        ("trials", str(SEASON), "--compare", "First foam", RUN),
        ("effects", str(SEASON)),
        ("curve", str(SWEEP)),
        ("whatif", str(BUILD), "--sweep", str(SWEEP), "--set", "outlet.bore=26mm"),
        ("batch", "--density", "600", "--volume", "1 m3", "--foam-density", "75", "--foam-output", "300 L/min"),
    ],
    ids=lambda command: " ".join(command[:1]),
)
def test_a_row_of_the_prompt_begins_with_a_capital(capsys, command):
    assert cli.main([*command]) == 0
    printed = [line.lstrip() for line in capsys.readouterr().out.splitlines()]
    figure = r"\S[^:]{3,40}\S  +[+−–\d]" if command[0] in {"curve", "whatif", "batch"} else r"\S.{22,31}\S* +[+−–\d]"
    rows = [line for line in printed if re.match(rf"{figure}|(?:now|then) ", line, re.IGNORECASE)]
    rows = [line for line in rows if not line.startswith(("-", "note:"))]
    assert len(rows) > 3
    assert [line for line in rows if label_case(line) != line] == []
