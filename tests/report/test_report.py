"""Reports: one file that asks nothing of any network, with the figures of ``--json`` in words and the right hashes."""

import hashlib
import json
import math
import re
from html.parser import HTMLParser

import pytest
from seasons import SEASON

import frothline as fl
from frothline.estimate import Estimate
from frothline.foam.batch_order import BatchOrder, MeasuredFoam
from frothline.foam.concrete_batch import mix_batch
from frothline.formatting import interval_text, value_text
from frothline.label_case import label_case
from frothline.report.batch import batch_card, batch_report
from frothline.report.html_page import COLOURS, page
from frothline.report.pour_plan import plan_card
from frothline.report.run import run_report
from frothline.report.svg_chart import Chart, thinned, ticks
from frothline.report.sweep import sweep_report
from frothline.report.trials import series_report
from frothline.trials.figures import shown_figures, unit_of
from frothline.trials.notebook import open_notebook
from frothline.units import SYSTEMS
from frothline.web.charts.palette import PALETTES

RUN = "05-03-strong-long-narrow"
VOID = {"meta", "br", "img", "link", "hr", "input", "circle", "path", "rect"}


@pytest.fixture(scope="module")
def notebook(tmp_path_factory):
    return open_notebook(SEASON)


@pytest.fixture(scope="module")
def made(notebook):
    trial = notebook.trial(RUN)
    foam = MeasuredFoam(trial.density, trial.output, agent_parts=20.0)
    batch = mix_batch(BatchOrder(600.0, 0.12, dry=True), foam)
    return {
        "sweep": sweep_report([SEASON / "03-29-sweep-shop-motor.froth"]),
        "run": run_report(notebook, RUN),
        "series": series_report(notebook),
        "batch": batch_report(batch, foam, trial=trial),
        "card": batch_card(batch, foam, trial=trial),
        "card of a pour": plan_card(fl.pour_plan(**LONG_POUR)),
    }


# twelve mixes with sand in each of two lifts, refills in every mix, and everything to warn of
LONG_POUR = {"length": "3 m", "width": "0.4 m", "height": "1 m", "foam_density": "75 kg/m3 (70 to 80)"}
LONG_POUR |= {"output": "12 L/min (10 to 14)", "reservoir": "3 L", "source": "leaf blower: 14 L/min; inflator: 6 L/min"}
LONG_POUR |= {
    "sand_cement": "0.5",
    "dilution": "1+20",
    "helpers": "1",
    "dose": "time",
    "title": "Garden wall, south side",
}
KINDS = ("sweep", "run", "series", "batch", "card")


class Reader(HTMLParser):
    """Elements with their attributes, the words outside style and script, and whether all was closed in order."""

    def __init__(self, html):
        super().__init__()
        self.elements, self.words, self.open, self.wrong = [], [], [], []
        self.feed(html)
        self.close()

    def handle_starttag(self, tag, attrs):
        self.elements.append((tag, dict(attrs)))
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag, attrs):
        self.elements.append((tag, dict(attrs)))

    def handle_endtag(self, tag):
        if tag in VOID:
            return
        if not self.open or self.open.pop() != tag:
            self.wrong.append(tag)

    def handle_data(self, data):
        if not self.open or self.open[-1] not in ("style", "script"):
            self.words.append(data)

    @property
    def text(self):
        return " ".join(" ".join(self.words).split())


@pytest.mark.parametrize("kind", KINDS)
def test_a_report_is_one_small_file_whose_elements_are_closed_in_order(made, kind):
    report = made[kind]
    reader = Reader(report.html)
    assert not reader.wrong
    assert not reader.open
    assert len(report.html.encode()) < 1_000_000


@pytest.mark.parametrize("kind", KINDS)
def test_a_report_names_nothing_that_would_have_to_be_fetched(made, kind):
    html = made[kind].html
    for tag, attributes in Reader(html).elements:
        assert tag not in {"link", "iframe", "object", "embed", "base", "audio", "video"}
        assert not {"src", "href", "xlink:href", "srcset", "background", "action"} & set(attributes), tag
        if tag == "script":
            assert attributes["type"] == "application/json"
    style = "".join(re.findall(r"<style>(.*?)</style>", html, re.DOTALL))
    assert "url(" not in style
    assert "@import" not in style
    assert "default-src 'none'" in html


@pytest.mark.parametrize("kind", KINDS)
def test_the_figures_stand_in_the_file_as_json_too(made, kind):
    report = made[kind]
    inside = re.search(r'<script type="application/json" id="figures">(.*?)</script>', report.html, re.DOTALL)[1]
    assert json.loads(inside) == json.loads(json.dumps(report.data))


@pytest.mark.parametrize("kind", KINDS)
def test_simulated_is_said_at_the_head(made, kind):
    assert made[kind].data["simulated"] is True
    assert "Simulated" in Reader(made[kind].html).text[:400]


@pytest.mark.parametrize("kind", ["sweep", "run", "series", "batch"])
def test_every_recording_is_named_with_the_hash_of_its_bytes_and_the_versions(made, kind):
    report = made[kind]
    assert report.data["recordings"]
    for one in report.data["recordings"]:
        right = hashlib.sha256((SEASON / f"{one['name']}.froth").read_bytes()).hexdigest()
        assert one["sha256"] == right
        assert right in report.html
        assert one["software"].startswith("frothline ")
        assert re.fullmatch(r"\d+\.\d+\.\d+", one["firmware"])


def test_every_figure_of_a_run_is_told_with_its_interval_or_its_reason(made, notebook):
    trial = notebook.trial(RUN)
    text = Reader(made["run"].html).text
    for figure in shown_figures([trial]):  # those of concrete and photo only with a pour and a photo
        estimate, unit = trial.figure(figure.name), unit_of(figure)
        assert label_case(figure.label) in text
        assert value_text(estimate, unit) in text
        assert interval_text(estimate, unit) in text
        assert made["run"].data[figure.name]["value"] == estimate.value
    assert f"from {trial.used.start:.1f} to {trial.used.end:.1f} s" in text
    assert "judgement, no source" in text  # windows say who says so
    assert "the plan of this folder" in text


def test_a_sweep_shows_its_windows_its_refusals_and_its_budget(made):
    report, text = made["sweep"], Reader(made["sweep"].html).text
    for one in report.data["points"]:
        assert f"{one['start']:.1f} s {one['end']:.1f} s" in text
    for one in report.data["refused"]:
        assert one["reason"] in text
    for budget in report.data["budgets"]:
        # JCGM 100:2008, 5.1.2: variances add up, so the shares make one
        assert sum(row["share"] for row in budget["rows"]) == pytest.approx(1.0)
    assert {b["name"] for b in report.data["budgets"]} == {"line_pressure", "standard_flow"}
    assert "Cautions" in text


def test_a_sweep_tells_what_was_found_from_what_it_is_in_standard_air(made):
    report, text = made["sweep"], Reader(made["sweep"].html).text
    before, after = text.split("Figures in standard air, 1.2 kg/m³")
    as_found = before[before.index("Figures as measured") :]
    assert "in the air of that day" in as_found
    found, standard = report.data, report.data["standard"]
    for where, figures in ((as_found, found), (after, standard)):
        for key, quantity in (("shut_off", "pressure"), ("free_delivery", "flow"), ("air_power", "power")):
            assert value_text(Estimate(**figures[key]), SYSTEMS["metric"][quantity]) in where
    # ASTM F558, as recalled: a series motor's pressure in standard air is that found times 1 + 0.667 (1 - ratio), the
    # ratio that of the densities. 1 %: the curve is fitted anew to the corrected points.
    ratio = standard["found_in"] / 1.2
    assert abs(ratio - 1) > 0.005  # else the two could not be told apart
    right = found["shut_off"]["value"] * (1 + 0.667 * (1 - ratio))
    assert standard["shut_off"]["value"] == pytest.approx(right, rel=0.01)


def test_a_series_draws_each_changed_build_and_says_what_cannot_be_parted(made):
    report = made["series"]
    assert report.html.count('class="drawing"') >= 5
    assert "solution was changed between batches" in Reader(report.html).text
    assert {one["response"] for one in report.data["effects"]} == {"density", "drainage", "output"}
    assert report.data["next"]["reason"] in Reader(report.html).text


def test_the_masses_of_a_batch_sheet_add_up_to_its_density(made):
    # ASTM C796-type absolute volumes: all that goes in, over the volume it fills, is the cast density
    data = made["batch"].data
    mass = data["cement"] + data["sand"] + data["mixer_water"] + data["foam_water"]
    assert mass / data["order"]["volume"] == pytest.approx(data["cast_density"]["value"], rel=1e-6)
    text = Reader(made["batch"].html).text
    assert "Not structural without the approval of a licensed engineer" in text
    assert f"{data['cement']:.1f} kg ({data['bags']:.2f} bags)" in text


def test_a_card_without_a_timed_sample_gives_no_run_time():
    foam = MeasuredFoam(Estimate.normal(75.0, 1.0, "kg/m3"))
    text = Reader(batch_card(mix_batch(BatchOrder(600.0, 0.1), foam), foam).html).text
    assert "not known: time a sample" in text


def test_what_people_wrote_cannot_become_markup():
    nasty = "</script><script>alert(1)</script>"
    html = page(nasty, nasty, [], {"note": nasty}, simulated=False).html
    reader = Reader(html)
    assert [tag for tag, _ in reader.elements].count("script") == 1
    assert json.loads(re.search(r'id="figures">(.*?)</script>', html, re.DOTALL)[1])["note"] == nasty


def test_other_units_change_words_and_not_figures(notebook, made):
    inch = run_report(notebook, RUN, system=SYSTEMS["inch-pound"])
    assert inch.data == made["run"].data
    # NIST SP 811: 1 lb/ft3 = 16.01846 kg/m3
    low, high = (inch.data["density"][end] / 16.01846 for end in ("lower", "upper"))
    shown = re.search(r"([\d.]+) to ([\d.]+)[^\d]*lb/ft³|lb/ft³[^\d]*([\d.]+) to ([\d.]+)", Reader(inch.html).text)
    ends = [float(one) for one in shown.groups() if one]
    assert ends == pytest.approx([low, high], abs=0.02)


def test_paper_has_the_colours_of_the_screen():
    light = PALETTES["light"]
    assert {name: getattr(light, name) for name in COLOURS} == COLOURS


# --- charts -----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("low_high", [(0, 1), (0, 14.2), (-3e-5, 7e-5), (98.3, 98.9), (0, 123456)])
def test_ticks_are_round_numbers_inside(low_high):
    low, high = low_high
    found = ticks(low, high)
    assert 3 <= len(found) <= 11
    assert low - 1e-9 <= found[0]
    assert found[-1] <= high * (1 + 1e-9) + 1e-12
    first_digits = f"{found[1] - found[0]:.6e}"
    assert first_digits[:8] in {"1.000000", "2.000000", "5.000000"}


def test_a_point_stands_where_the_axes_say():
    chart = Chart((0.0, 10.0), (0.0, 100.0), x_label="x", y_label="y", title="t")
    chart.points([5.0], [50.0])
    svg = chart.svg()
    number = r"([\d.]+)"
    x, y = map(float, re.search(f'<circle class="dot" cx="{number}" cy="{number}"', svg).groups())
    grid_x = [float(v) for v in re.findall(rf'class="grid" d="M{number} [\d.]+V', svg)]
    grid_y = [float(v) for v in re.findall(rf'class="grid" d="M[\d.]+ {number}H', svg)]
    assert x == pytest.approx((grid_x[0] + grid_x[-1]) / 2, abs=0.1)
    assert y == pytest.approx((grid_y[0] + grid_y[-1]) / 2, abs=0.1)


def test_what_is_not_known_breaks_a_line():
    chart = Chart((0.0, 4.0), (0.0, 4.0), x_label="x", y_label="y", title="t")
    chart.line([0, 1, 2, 3, 4], [0, 1, math.nan, 3, 4])
    assert re.search(r'class="measured" d="([^"]*)"', chart.svg())[1].count("M") == 2


def test_thinning_hides_no_extreme():
    value = [0.0] * 10_000
    value[3333], value[7777] = 9.0, -9.0
    time, kept = thinned(range(10_000), value)
    assert max(kept) == 9.0
    assert min(kept) == -9.0
    assert len(time) <= 800
    assert list(time) == sorted(time)


# --- on paper ---------------------------------------------------------------------------------------------------------


@pytest.mark.browser
def test_a_report_opens_offline_and_prints_and_the_card_is_one_page(made, chromium, tmp_path):
    context = chromium.new_context(offline=True, viewport={"width": 390, "height": 800})
    asked, complaints = [], []
    try:
        context.on("request", lambda request: asked.append(request.url))
        for kind, report in made.items():
            where = report.write(tmp_path / f"{kind}.html").as_uri()
            view = context.new_page()
            view.on("console", lambda message: complaints.append(message.text))
            view.on("pageerror", lambda error: complaints.append(str(error)))
            view.goto(where)
            wide = view.evaluate("document.documentElement.scrollWidth")
            assert wide <= 390, f"{kind} is wider than a telephone: {wide} px"
            pdf = view.pdf(prefer_css_page_size=True, print_background=True)
            pages = len(re.findall(rb"/Type\s*/Page\b", pdf))
            assert pages == 1 if "card" in kind else 1 < pages < 12, f"{kind}: {pages} pages"
            view.close()
    finally:
        context.close()
    assert all(url.startswith("file:") for url in asked), asked
    assert not complaints


def test_trials_that_lack_a_figure_for_one_reason_share_a_row(notebook):
    words = Reader(series_report(notebook).html).text
    count = len(notebook.trials)
    assert f"all {count} trials" in words
    reasons = [why for one in notebook.trials for why in one.why.values()]
    for why in {one for one in reasons if reasons.count(one) >= count}:
        assert words.count(why) < count
