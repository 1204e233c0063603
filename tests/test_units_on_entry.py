"""Units as builders write them: every unit in every entry, in either system, and nothing taken for what it is not."""

import argparse
from importlib import import_module

import pytest
import scipy.constants as published

from frothline import cli, units
from frothline.bench import batch_form
from frothline.bench.calibration_session import read_answer
from frothline.bench.sample_timer import KINDS as TIMER_KINDS
from frothline.cli.numbers import TypedFigure
from frothline.errors import InputError
from frothline.foam.dilution import Dilution
from frothline.formatting import unit_of
from frothline.generator.build import PARTS, entries
from frothline.generator.drawing import draw
from frothline.generator.drawing_words import describe
from frothline.generator.entry_words import in_reader_unit
from frothline.generator.sheet import edit_sheet, parse_sheet, read_entry, starting_sheet
from frothline.generator.sheet_form import ENTRIES, as_typed, entry_kind
from frothline.quantities import EXAMPLES, also_in, read_quantity, with_unit
from frothline.sensors.procedures.base import Question
from frothline.sentence_units import in_units
from frothline.trials.plan_file import read_amount
from frothline.units import ENTRY_UNITS, SYSTEMS
from frothline.web import form_fields
from frothline.web.components import Asked
from frothline.web.pages.generator.handles import slid
from frothline.web.pages.generator.page import _value

US = "inch-pound"

# NIST Special Publication 811 (2008), appendix B.8: factors to SI with seven digits.
NIST = {
    "yd³": 7.645549e-01,
    "ft³": 2.831685e-02,
    "in³": 1.638706e-05,
    "gal": 3.785412e-03,
    "qt": 9.463529e-04,
    "pt": 4.731765e-04,
    "fl oz": 2.957353e-05,
    "psi": 6.894757e03,
    "inH₂O": 2.490889e02,
    "inHg": 3.386389e03,
    "mmH₂O": 9.80665,
    "lb/ft³": 1.601846e01,
    "lb/yd³": 5.932764e-01,
    "lb/gal": 1.198264e02,
    "cfm": 4.719474e-04,
    "ft³/s": 2.831685e-02,
    "gal/min": 6.309020e-05,
    "ft/min": 5.08e-03,
    "lb": 4.535924e-01,
    "oz": 2.834952e-02,
    "lb/min": 7.559873e-03,
    "lbf": 4.448222,
    "in": 2.54e-02,
    "ft": 3.048e-01,
    "yd": 9.144e-01,
}


@pytest.mark.parametrize("symbol", NIST)
def test_a_us_unit_has_the_factor_of_the_published_table(symbol):
    assert units.find_unit(symbol).unit.to_si(1.0) == pytest.approx(NIST[symbol], rel=5e-7)


def test_every_us_unit_is_in_that_table():
    """Those that are not are products of two that are: a quart a minute, a gallon an hour, an ounce a quart."""
    more = {unit.symbol for table in units.MORE["inch-pound"].values() for unit in table}
    own = {unit.symbol for key, unit in SYSTEMS[US].items() if unit != SYSTEMS["metric"][key]}
    assert (more | own) - set(NIST) == {"qt/min", "gal/h", "oz/qt", "°F", "in/h"}
    assert units.find_unit("qt/min").unit.to_si(1.0) == pytest.approx(NIST["qt"] / 60, rel=5e-7)
    assert units.find_unit("in/h").unit.to_si(1.0) == pytest.approx(0.0254 / 3600)
    assert units.find_unit("gal/h").unit.to_si(1.0) == pytest.approx(NIST["gal"] / 3600, rel=5e-7)
    assert units.find_unit("oz/qt").unit.to_si(1.0) == pytest.approx(NIST["oz"] / NIST["qt"], rel=4e-7)


def test_the_factors_are_those_of_scipy_to_all_digits():
    """scipy.constants has the definitions with all their digits (CODATA 2018 and exact values)."""
    for symbol, factor in {
        "in": published.inch,
        "ft": published.foot,
        "yd": published.yard,
        "lb": published.lb,
        "oz": published.oz,
        "gal": published.gallon,
        "fl oz": published.fluid_ounce,
        "psi": published.psi,
        "bar": published.bar,
    }.items():
        assert units.find_unit(symbol).unit.to_si(1.0) == pytest.approx(factor, rel=1e-14)
    assert units.find_unit("°F").unit.to_si(65.0) == pytest.approx(published.convert_temperature(65, "F", "K"))


# As builders write them: text, kind, SI. Factors of the table above.
WRITTEN = [
    ("2 qt", "volume", 2 * NIST["qt"]),
    ("2 quarts", "volume", 2 * NIST["qt"]),
    ("1/4 yd³", "concrete", NIST["yd³"] / 4),
    ("1/4 cu. yd", "concrete", NIST["yd³"] / 4),
    ("7 ft3", "concrete", 7 * NIST["ft³"]),
    ("7 cu ft", "concrete", 7 * NIST["ft³"]),
    ("7 ft^3", "concrete", 7 * NIST["ft³"]),
    ("½ gal", "volume", NIST["gal"] / 2),
    ("12 fl. oz.", "drained", 12 * NIST["fl oz"]),
    ("4 OZ", "mass", 4 * NIST["oz"]),
    ("94 lbs", "bag", 94 * NIST["lb"]),
    ("1 lb 4 oz", "mass", NIST["lb"] + 4 * NIST["oz"]),
    ("14 psi", "pressure", 14 * NIST["psi"]),
    ("14 psig", "pressure", 14 * NIST["psi"]),
    ("36 inH2O", "pressure", 36 * NIST["inH₂O"]),
    ("36 in. W.C.", "pressure", 36 * NIST["inH₂O"]),
    ('36" H2O', "pressure", 36 * NIST["inH₂O"]),
    ("-2 inH2O", "pressure", -2 * NIST["inH₂O"]),
    ("116 psi", "tank_pressure", 116 * NIST["psi"]),
    ("65 lb/ft3", "density", 65 * NIST["lb/ft³"]),
    ("65 pcf", "density", 65 * NIST["lb/ft³"]),
    ("65 lb/cu ft", "density", 65 * NIST["lb/ft³"]),
    ("25 CFM", "air_flow", 25 * NIST["cfm"]),
    ("30 m3/h", "air_flow", 30 / 3600),
    ("1 gpm", "flow", NIST["gal/min"]),
    ("½ in", "length", 0.0127),
    ("1/2 in", "length", 0.0127),
    ("1 1/2 in", "length", 0.0381),
    ('1 1/2"', "length", 0.0381),
    ("2'", "length", 0.6096),
    ("5 ft 3 1/2 in", "length", 63.5 * 0.0254),
    ("65 °F", "temperature", (65 + 459.67) / 1.8),
    ("65F", "temperature", (65 + 459.67) / 1.8),
    ("65 deg F", "temperature", (65 + 459.67) / 1.8),
    ("1600 ft", "altitude", 1600 * 0.3048),
]


@pytest.mark.parametrize(("text", "kind", "si"), WRITTEN)
@pytest.mark.parametrize("system", SYSTEMS)
def test_a_figure_as_builders_write_it_means_the_same_in_both_systems(text, kind, si, system):
    assert read_quantity(text, kind, system) == pytest.approx(si, rel=3e-7)


@pytest.mark.parametrize(
    ("text", "kind", "possible"),
    [
        ("12 oz", "volume", "fl oz"),  # a mass in an entry for a volume
        ("2 lb", "density", "lb/ft³"),
        ("14 psia", "pressure", "gauge pressure"),
        ("14 lb/in2", "pressure", "psi"),
        ("5 ft 14 in", "length", "one unit"),
        ("1 gal 2 oz", "volume", "one unit"),
        ("1 lb 4 oz", "volume", "volume is needed"),
        ("2 imp gal", "volume", "gal"),
        ("25 scfm", "air_flow", "cfm"),
        ("2 qt", "mass", "oz"),
        ("1/2", "length", "1/2 in"),
        ("1/2", "mass", "4 oz"),
        ("-2 in", "length", "like 25 mm"),
        ("3 stone", "mass", "kg, lb, g, oz"),
        ("50 rankine", "temperature", "°C, °F"),
    ],
)
def test_what_is_of_another_quantity_or_of_none_is_refused_with_what_is_possible(text, kind, possible):
    with pytest.raises(ValueError, match=r".") as refused:
        read_quantity(text, kind)
    assert possible in str(refused.value)


def cli_figures():
    """Kind and a reader of every option with a figure, of every command."""
    for command in cli.COMMANDS:
        parser = argparse.ArgumentParser()
        import_module(f"frothline.cli.arguments.{command.name}").add_options(parser)
        for action in parser._actions:
            if action.type is not None and getattr(action.type, "__qualname__", "").startswith("quantity"):
                yield f"{command.name} {action.option_strings[0]}", action.type


def entry_readers():
    """Every entry that takes a figure with a unit, of every face: name, kind, reader of (text, system)."""
    for name, _, _, kind in (*batch_form.ENTRIES, *batch_form.CORRECTIONS):
        if kind not in {"number", "share"}:
            yield f"batch {name}", kind, lambda text, system, kind=kind: batch_form._read(text, kind, system)
    for name, kind in TIMER_KINDS.items():
        yield f"timer {name}", kind, lambda text, system, kind=kind: read_quantity(with_unit(text, kind, system), kind)
    for part in PARTS:
        for field in entries(part):
            if kind := entry_kind(f"{part}.{field.name}"):
                yield (
                    f"sheet {part}.{field.name}",
                    kind,
                    lambda text, system, field=field, kind=kind: read_entry(
                        with_unit(text, kind, system), field_without_limits(field)
                    ),
                )
    for quantity, kind in (
        ("length", "length"),
        ("mass", "mass"),
        ("volume", "volume"),
        ("temperature", "temperature"),
    ):
        question = Question("x", "reference", quantity, -1e9, 1e9)
        yield (
            f"calibration {quantity}",
            kind,
            lambda text, system, question=question: read_answer(question, text, unit_of(question.quantity, system)),
        )
    for quantity, kind in (
        ("density", "density"),
        ("foam_rate", "flow"),
        ("flow", "air_flow"),
        ("pressure", "pressure"),
    ):
        yield f"plan {quantity}", kind, lambda text, system, quantity=quantity: read_amount(text, quantity)
    for wanted, kind in (("pressure", "pressure"), ("air_rate", "air_flow")):
        yield f"size {wanted}", kind, lambda text, system, wanted=wanted: _value(text, wanted, system)


def field_without_limits(field):
    import dataclasses
    import types

    made = dataclasses.field(metadata={**field.metadata, "low": -1e9, "high": 1e9})
    made.name = field.name
    assert isinstance(made.metadata, types.MappingProxyType)
    return made


READERS = {name: (kind, read) for name, kind, read in entry_readers()}


@pytest.mark.parametrize("name", READERS)
def test_every_unit_of_its_quantity_is_understood_in_every_entry_with_either_system(name):
    kind, read = READERS[name]
    known = units.same_quantity(ENTRY_UNITS[kind]["metric"])
    assert len(known) >= 3
    for symbol in known:
        si = units.find_unit(symbol).unit.to_si(300.0)
        for system in SYSTEMS:
            assert read(f"300 {symbol}", system) == pytest.approx(si, rel=1e-9), (symbol, system)
    for system in SYSTEMS:
        with pytest.raises((ValueError, InputError), match=r"unit|two ways|needed|cannot be read"):
            read("2 furlongs", system)


def test_every_option_with_a_figure_takes_every_unit():
    found = dict(cli_figures())
    assert len(found) >= 20
    for name, read in found.items():
        kind = read("300").kind
        for symbol in units.same_quantity(ENTRY_UNITS[kind]["metric"]):
            assert isinstance(read(f"300 {symbol}"), TypedFigure), (name, symbol)
        with pytest.raises(argparse.ArgumentTypeError, match="unit"):
            read("2 furlongs")


@pytest.mark.parametrize("kind", ENTRY_UNITS)
def test_a_number_without_a_unit_is_in_the_unit_that_the_entry_shows(kind):
    for system in SYSTEMS:
        shown = ENTRY_UNITS[kind][system]
        assert read_quantity("7", kind, system) == read_quantity(f"7 {shown}", kind)
        field = str(form_fields.entry("form", "name", "Label", measure=(kind, system)))
        assert f"'data-unit': '{shown}'" in field
        assert shown in field


def test_a_number_gets_the_unit_of_the_reader_before_it_is_stored():
    assert with_unit("38", "length", "metric") == "38 mm"
    assert with_unit("1.5", "length", US) == "1.5 in"
    assert with_unit("1 1/2", "length", US) == "1 1/2 in"
    assert with_unit("1 1/2", "length", "metric") == "1 1/2"  # asked back, not guessed
    assert with_unit("38 mm", "length", US) == "38 mm"
    assert with_unit("50x3.7", "length", US) == "50x3.7"
    assert with_unit("", "length", US) == ""


def test_a_sheet_with_bare_numbers_is_shown_with_its_units():
    """A bare number in a file is in mm; on a page in US units it would be taken for inches."""

    shown = as_typed(edit_sheet(starting_sheet(), {"outlet.bore": 25, "tube.rows": 6}))
    assert shown["outlet.bore"] == "25 mm"
    assert shown["tube.rows"] == "6"


def test_ten_changes_of_the_units_leave_every_value_as_it_was_typed():
    """Values are stored as typed, with their unit; the reader's unit is only shown next to them."""
    values = batch_form.typed({}) | {"volume": "1/4 yd³", "bag": "94 lb", "foam": "4.4 lb/ft³", "output": "20 gal/min"}
    seen = [batch_form.worked(values, None, Dilution(40, "1+N"), None, system).batch for system in (*SYSTEMS,) * 10]
    assert len({(one.mix.cement, one.foam_volume, one.bags) for one in seen}) == 1
    text = starting_sheet()
    for number in range(20):
        system = ("metric", US)[number % 2]
        changes = {
            path: with_unit(value, kind, system) for path, value in as_typed(text).items() if (kind := entry_kind(path))
        }
        text = edit_sheet(text, changes)
    assert parse_sheet(text).build == parse_sheet(starting_sheet()).build


def test_a_figure_in_other_units_is_shown_in_the_readers_too():
    assert also_in("1 1/2 in", "length", "metric") == "= 38.1 mm"
    assert also_in("38.1 mm", "length", US) == "= 1.5 in"
    assert also_in("38.1 mm", "length", "metric") == ""
    assert also_in("65 °F", "temperature", "metric") == "= 18.33 °C"
    assert also_in("a lot", "length", US) == ""
    assert in_reader_unit("outlet.bore", "1 1/2 in sch 40", "metric") == "= 40.89 mm inside"  # 1.900 - 2 x 0.145 in
    assert in_reader_unit("outlet.bore", "1 1/2 in sch 40", US) == "= 1.61 in inside"
    assert in_reader_unit("solution.agent", "25 mm", US) == ""


def test_every_kind_has_an_example_that_can_be_read():
    for kind, by_system in EXAMPLES.items():
        for text in by_system.values():
            assert read_quantity(text, "length" if kind == "bore" else kind) > 0
    assert {entry_kind(path) for path in ENTRIES} - {""} <= set(EXAMPLES)


def test_the_drawing_is_in_the_units_of_the_reader():
    build = parse_sheet(starting_sheet()).build
    inches, metric = draw(build, system=US), draw(build)
    assert " mm" in metric
    assert " mm" not in inches
    assert " in<" in inches
    assert " mm" not in describe(build, US)


def test_a_slider_writes_millimetres_or_hundredths_of_an_inch():
    assert slid("38.1", "metric") == "38.1 mm"
    assert slid("38.1", US) == "1.50 in"


def test_a_request_brings_the_units_of_its_page():
    assert Asked.of({"verb": "edit", "system": US}).system == US
    assert Asked.of({"verb": "edit", "system": "cubits"}).system == "metric"
    assert Asked.of({"verb": "edit"}).system == "metric"


# --- sentences ----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("metric", "us"),
    [  # factors of NIST SP 811, appendix B.8
        ("operating point 12.3 kPa and 9.87 L/s", "operating point 49.4 inH₂O and 20.9 cfm"),
        ("from 5.0 to 7.5 kPa", "from 20 to 30 inH₂O"),
        ("further operating points at 3.0, 4.5 L/s", "further operating points at 6.4, 9.5 cfm"),
        ("±12 Pa off", "±0.048 inH₂O off"),
        ("20 °C in the line", "68 °F in the line"),
        ("the air is 12 K hotter", "the air is 22 °F hotter"),
        ("650 kg/m³ and 60 kg/m3", "40.6 lb/ft³ and 3.7 lb/ft³"),
        ("a cap of 50 mm", "a cap of 2.0 in"),
        ("−2.5 kPa", "−10 inH₂O"),
        ("0 L", "0 gal"),
    ],
)
def test_a_sentence_with_figures_is_written_in_the_units_of_the_reader(metric, us):
    assert in_units(metric, US) == us
    assert in_units(metric, "metric") == metric
    assert in_units(us, US) == us  # a second time changes nothing


@pytest.mark.parametrize(
    "text",
    [
        "“25 mm” is not a length",
        "3 sweeps, 12 points",
        "p = 5 Pa s/m³ q",
        "after 12 s at 230 V",
        "seed 5 good runs",
    ],
)
def test_what_is_typed_or_is_no_figure_with_a_unit_stays(text):
    assert in_units(text, US) == text


def test_names_in_a_sentence_stay():
    assert in_units("build outlet 30 mm at 5.0 kPa", US, ["outlet 30 mm"]) == "build outlet 30 mm at 20 inH₂O"
