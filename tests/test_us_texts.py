"""US units away from the pages: reports, tables of a notebook, and the prompt. No figure is left in metric units."""

import re
from html.parser import HTMLParser
from pathlib import Path

import pytest
import scipy.constants as published

import frothline as fl
from frothline import cli
from frothline.foam.batch_order import BatchOrder
from frothline.foam.concrete_batch import MeasuredFoam, mix_batch
from frothline.generator.cautions import cautions
from frothline.generator.sheet import read_sheet
from frothline.report.batch import batch_card, batch_report
from frothline.report.html_page import page, section, table
from frothline.report.pour_plan import plan_card
from frothline.report.run import run_report
from frothline.report.sweep import sweep_report
from frothline.report.trials import series_report
from frothline.sentence_units import in_units, in_units_html
from frothline.trials.notebook import open_notebook
from frothline.units import INCH_POUND

US = "inch-pound"
SEASON = Path(__file__).parents[1] / "recordings" / "season"
FIRST = SEASON / "builds" / "first-tube.toml"
SWEEP = SEASON / "03-29-sweep-shop-motor.froth"
RUN = "05-03-strong-long-narrow"
METRIC = re.compile(
    r"\d[ \u00a0](?:mm|cm|m|g|kg|L|mL|Pa|kPa|mbar|hPa|bar|L/s|L/min|kg/m³|kg/m3|m/s|g/s|°C|K|N)(?![\w/²³·])"
    r"|\((?:mm|g|L|L/min|°C)\)"
)
SOLD_IN = re.compile(r"“[^”]*”|\b(?:wire|pipe) \d+ mm")


class Texts(HTMLParser):
    """The texts of an HTML file, without scripts, style and build sheets as written."""

    def __init__(self, html):
        super().__init__()
        self.found, self._inside = [], []
        self.feed(html)

    def handle_starttag(self, tag, attrs):
        if tag in {"script", "style", "pre"}:
            self._inside.append(tag)

    def handle_endtag(self, tag):
        if self._inside and self._inside[-1] == tag:
            self._inside.pop()

    def handle_data(self, data):
        if not self._inside:
            self.found.append(data)

    @property
    def metric(self):
        return [text for text in self.found if METRIC.search(SOLD_IN.sub("", text))]


@pytest.fixture(scope="module")
def notebook():
    return open_notebook(SEASON)


def batch(foam):
    return mix_batch(BatchOrder(600.0, 0.1), foam)


MAKERS = {
    "run": lambda notebook, **how: run_report(notebook, RUN, **how),
    "series": series_report,
    "sweep": lambda _, **how: sweep_report([SWEEP], **how),
    "batch": lambda _, **how: batch_report(batch(FOAM), FOAM, **how),
    "card": lambda _, **how: batch_card(batch(FOAM), FOAM, **how),
    "pour plan": lambda _, **how: plan_card(POUR, **how),
}
FOAM = MeasuredFoam(fl.Estimate.normal(75.0, 1.0, "kg/m3"))
POUR = fl.pour_plan(
    volume="400 L", height="1 m", foam_density="75 kg/m3", output="60 L/min (55 to 65)", reservoir="5 L"
)


@pytest.mark.parametrize(
    "name", [name if name != "series" else pytest.param(name, marks=pytest.mark.exhaustive) for name in MAKERS]
)
def test_a_report_in_us_units_has_no_figure_in_metric_ones(notebook, name):
    assert Texts(MAKERS[name](notebook).html).metric  # the search finds them
    assert not Texts(MAKERS[name](notebook, system=INCH_POUND).html).metric


def test_a_name_with_a_figure_stays_in_a_report_and_the_sentence_about_it_does_not():
    body = section("Runs", "<p>outlet 30 mm at 5.0 kPa</p>", table(["", ""], [["5.0 kPa", fl_name("hose of 30 mm")]]))
    texts = Texts(page("a", "b", [body], {}, simulated=False, system=INCH_POUND, names=["outlet 30 mm"]).html).found
    assert "outlet 30 mm at 20 inH₂O" in texts
    assert "20 inH₂O" in texts
    assert "hose of 30 mm" in texts


def fl_name(text):
    from frothline.label_case import Name

    return Name(text)


def test_the_interval_after_a_figure_changes_with_it():
    # NIST SP 811: 1 inch of water = 249.0889 Pa
    assert in_units("8.37 kPa (8.06 to 8.69, 95 %)", US) == "33.6 inH₂O (32.4 to 34.9, 95 %)"
    assert in_units("−2.8 L/s (−4.7 to −0.9, 95 %)", US) == "−5.9 cfm (−10.0 to −1.9, 95 %)"
    assert in_units("12.0 L/s (11.0 or more)", US) == "25.4 cfm (23.3 or more)"
    assert in_units("12 s (11 to 13, 95 %)", US) == "12 s (11 to 13, 95 %)"
    assert in_units("5.0 kPa (3 to 4 people)", US) == "20 inH₂O (3 to 4 people)"


def test_the_levels_of_a_factor_change_with_the_unit_in_its_name():
    assert in_units("Packing length (mm) from 250 to 400: foam", US) == "Packing length (in) from 9.84 to 15.7: foam"
    assert in_units("Tube rows from 4 to 6", US) == "Tube rows from 4 to 6"
    assert in_units("“hose (mm) from 1 to 2”", US) == "“hose (mm) from 1 to 2”"


def test_texts_of_html_change_and_its_attributes_and_marked_names_do_not():
    html = '<p title="5.0 kPa">5.0 kPa<b translate="no">5.0 kPa <b>5.0 kPa</b></b> 5.0 kPa</p><pre>5.0 kPa</pre>'
    assert in_units_html(html, US) == html.replace(">5.0 kPa<b t", ">20 inH₂O<b t").replace("> 5.0 kPa", "> 20 inH₂O")
    assert in_units_html("<p>a&lt;b 5.0 kPa</p>", US, ["a<b 5.0 kPa"]) == "<p>a&lt;b 5.0 kPa</p>"


def test_a_force_is_in_pounds_force():
    newtons = float(in_units("1000.0 N", US).split()[0])
    assert newtons == pytest.approx(1000.0 / published.pound_force, rel=1e-4)  # CODATA, through SciPy
    said = [in_units(one.words, US) for pressure in (None, 9e3) for one in cautions(read_sheet(FIRST), pressure)]
    assert "lbf" in " ".join(said)
    assert not [text for text in said if METRIC.search(text) or "kPa" in text]


@pytest.mark.parametrize(
    "command",
    [
        ("effects", SEASON),
        ("effects", SEASON, "--response", "output"),
        ("plan", SEASON / "plan.toml"),
        ("build", FIRST, "--against", SEASON / "builds" / "long-packing.toml"),
    ],
)
def test_a_command_in_us_units_prints_no_figure_in_metric_ones(capsys, command):
    said = {}
    for units in ("metric", "us"):
        assert cli.main([*map(str, command), "--units", units]) == 0
        said[units] = capsys.readouterr().out
    assert METRIC.search(said["metric"])
    assert not METRIC.search(said["us"]), said["us"]


def test_the_drawing_that_build_writes_is_in_the_chosen_units(capsys, tmp_path):
    for units, left in (("metric", True), ("us", False)):
        file = tmp_path / f"{units}.svg"
        assert cli.main(["build", str(FIRST), "--svg", str(file), "--units", units]) == 0
        assert bool(Texts(file.read_text("utf-8")).metric) == left


RESULTS = {
    "source": lambda _: fl.fit_source(SWEEP),
    "prediction": lambda _: fl.what_if(FIRST, fl.fit_source(SWEEP), {"outlet.bore": "26 mm"}),
    "notebook": lambda notebook: notebook,
    "trial": lambda notebook: notebook.trial(RUN),
    "comparison": lambda notebook: notebook.compare(notebook.trials[0].name, RUN),
    "effects": lambda notebook: notebook.which_helped(),
    "next": lambda notebook: notebook.next_run(),
    "build": lambda _: fl.build(FIRST),
    "batch": lambda _: batch(FOAM),
    "pour plan": lambda _: POUR,
}


@pytest.mark.parametrize("name", RESULTS)
def test_a_result_in_a_notebook_is_in_the_units_of_the_environment(notebook, monkeypatch, name):
    result = RESULTS[name](notebook)
    assert Texts(result._repr_html_()).metric
    monkeypatch.setenv("FROTHLINE_UNITS", "us")
    assert not Texts(result._repr_html_()).metric
    monkeypatch.setenv("FROTHLINE_UNITS", "furlongs")
    assert Texts(result._repr_html_()).metric


def test_intervals_in_a_notebook_are_those_of_the_figure(monkeypatch):
    found = fl.fit_source(SWEEP)
    monkeypatch.setenv("FROTHLINE_UNITS", "us")
    row = re.search(
        r"Shut-off pressure</td><td>([\d.]+) inH₂O</td><td><small>([\d.]+) to ([\d.]+)", found._repr_html_()
    )
    fit = found.fit.shut_off
    # NIST SP 811: 1 inch of water = 249.0889 Pa
    shown = [one / 249.0889 for one in (fit.value, fit.lower, fit.upper)]
    assert [float(one) for one in row.groups()] == pytest.approx(shown, abs=1.0)  # ends are rounded outwards
