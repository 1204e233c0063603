"""Sources as files on the source page: points entered by hand, the measured curve, an unmeasured source, a loaded filter."""

from typing import ClassVar

import numpy as np
import pytest
from waiting import until

from frothline.bench.library import LibraryFolder
from frothline.bench.sheet_folder import SheetFolder
from frothline.bench.source_files import source_entries
from frothline.curve.blower import BlowerCurve
from frothline.curve.steady_points import SteadyPoint
from frothline.errors import InputError, TooFewPoints
from frothline.estimate import Estimate
from frothline.sensors.calibration import Calibration
from frothline.sweep.recorded_source import load_sweeps
from frothline.sweep.source_file import read_source
from frothline.web.components import Asked
from frothline.web.elements import words_of
from frothline.web.pages.source import source_forms
from frothline.web.pages.source.other_sweeps import Other, Overlay

FLOWS = np.linspace(0.002, 0.058, 10)
TABLE = "pressure (kPa);flow (L/s)\n" + "".join(f"{20 * (1 - (q / 0.06) ** 2):.4f};{q * 1e3:.3f}\n" for q in FLOWS)


class Now:
    """What a form needs of a session's state."""

    fit = None
    points = ()
    latest: ClassVar = {}


def asked(verb, **values):
    return Asked(verb, "", values)


@pytest.fixture
def own(tmp_path):
    return LibraryFolder("own", tmp_path)


@pytest.fixture(scope="module")
def clean():
    return fit_of(20e3)


def fit_of(top):
    points = [SteadyPoint.from_parts(top * (1 - (q / 0.06) ** 2), q, (30.0, 1e-4, 0.0)) for q in FLOWS]
    return BlowerCurve().fit(points)


def test_a_typed_table_is_saved_and_offered_like_a_recorded_sweep(own, tmp_path):
    said = source_forms.answer(asked("points", name="leaf blower", table=TABLE), Now(), own)
    assert "shut-off 20.0 kPa" in said
    (entry,) = source_entries(tmp_path)
    assert load_sweeps(entry.path).fit().shut_off.value == pytest.approx(20e3, rel=5e-3)
    folder = SheetFolder()
    folder.folder = tmp_path
    folder.refresh()
    assert [(one.path, one.of_source) for one in folder.found.recorded] == [(entry.path, True)]
    assert [one.path for one in own._look().sources] == [entry.path]


def test_a_saved_table_of_plates_says_what_was_assumed_in_the_units_of_the_page(own):
    plates = "hole (mm);U-tube (mm)\n8;1790\n12;1650\n16;1405\n20;1105\n28;635\n"
    said = source_forms.answer(asked("points", name="vacuum", table=plates), Now(), own)
    for part in (
        "shut-off 18",
        "The air of the room is taken as 99.0 kPa ± 2.0 kPa",
        "columns room pressure and room temperature",
    ):
        assert part in said
    us = Asked("points", "", {"name": "vacuum", "table": plates}, system="inch-pound")
    assert "99.0 kPa" not in source_forms.answer(us, Now(), own)


@pytest.mark.parametrize(
    ("values", "said"),
    [
        ({"name": "", "table": TABLE}, "no name"),
        ({"name": "a", "table": ""}, "no point"),
        ({"name": "a", "table": TABLE.replace("19.9778", "much")}, "line 2"),
        ({"name": "a", "table": "x" * 300_000}, "too long"),
    ],
)
def test_a_wrong_form_is_asked_back_and_writes_nothing(own, tmp_path, values, said):
    with pytest.raises(InputError, match=said):
        source_forms.answer(asked("points", **values), Now(), own)
    assert not list(tmp_path.rglob("*.csv"))


def test_the_measured_curve_is_saved_as_a_file_with_its_kind(own, tmp_path, clean):
    with pytest.raises(InputError, match="no curve"):
        source_forms.answer(asked("keep", name="mine", group="vacuum"), Now(), own)
    now = Now()
    now.fit = clean
    now.latest = {"ambient_pressure": Estimate.normal(99.1e3, 50.0, "Pa"), "line_temperature": None}
    calibration = Calibration().with_zero("pressure", 12.0)
    source_forms.answer(asked("keep", name="mine", group="vacuum"), now, own, calibration)
    (entry,) = source_entries(tmp_path)
    assert read_source(entry.path).air.ambient_pressure == 99.1e3
    assert read_source(entry.path).calibrated == "calibrated: pressure"
    assert (read_source(entry.path).name, read_source(entry.path).group) == ("mine", "vacuum")
    assert load_sweeps(entry.path).fit().shut_off.value == pytest.approx(clean.shut_off.value, rel=1e-12)


def test_an_unmeasured_source_is_offered_once_four_of_its_kind_are_there(own, tmp_path):
    now = Now()
    for name, top in (("one", 18e3), ("two", 20e3), ("three", 21e3), ("four", 23e3)):
        if name == "four":
            with pytest.raises(TooFewPoints, match="the minimum is 4"):
                source_forms.answer(asked("unmeasured", group="vacuum"), now, own)
        now.fit = fit_of(top)
        source_forms.answer(asked("keep", name=name, group="vacuum"), now, own)
    assert own._look().groups == {"vacuum": 4}
    shown = " ".join(words_of(one) for one in source_forms.form_pieces({"vacuum": 4}, has_curve=True) if one)
    assert "vacuum (4 measured)" in shown
    source_forms.answer(asked("unmeasured", group="vacuum"), now, own)
    (prior,) = [one for one in source_entries(tmp_path) if "unmeasured" in one.name]
    assert not read_source(prior.path).measured
    with pytest.raises(InputError, match="no kind"):
        source_forms.answer(asked("unmeasured"), now, own)


def test_the_newest_point_below_an_earlier_curve_shows_a_loaded_filter(clean):
    chosen = Overlay((Other("my vacuum", "mine", "x", 0, clean, "", working=False, simulated=False),), "k")

    def shown(taken):
        point = SteadyPoint.from_parts(20e3 * (1 - 0.25) - taken, 0.03, (30.0, 1e-4, 0.0))
        return " ".join(words_of(one) for one in source_forms.filter_pieces((point,), chosen, "metric") if one)

    assert "3 kPa below its curve" in shown(3000.0)
    assert "free delivery" in shown(3000.0)
    assert shown(0.0) == ""
    assert shown(-3000.0) == ""
    assert source_forms.filter_pieces((), chosen, "metric") == [None]


@pytest.mark.browser
def test_a_chosen_file_fills_the_table_and_is_saved_by_the_button(look, bench):
    page = look().open().page
    page.locator("details:has([data-block=source-files]) > summary").click()
    page.locator("#source-points-name").fill("typed")
    file = {"name": "a.csv", "mimeType": "text/csv", "buffer": TABLE.encode()}
    page.set_input_files("#source-points-table-file", file)
    page.wait_for_function("document.querySelector('#source-points-table').value.startsWith('pressure')")
    page.wait_for_selector("#requests", state="attached")
    page.locator("[data-do='source:points']").click()
    until(lambda: [one.name for one in source_entries(bench.folder)] == ["typed"], "the file")
