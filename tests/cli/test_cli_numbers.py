"""Numbers and choices as they are typed: at the prompt, on a page, in a file. What can be read two ways is asked back."""

import dataclasses
import math
from pathlib import Path

import pytest

from frothline import cli
from frothline.bench.batch_form import _read
from frothline.bench.sample_timer import read_in
from frothline.errors import InputError
from frothline.estimate import Estimate
from frothline.foam.batch_order import BatchOrder, MeasuredFoam
from frothline.foam.concrete_batch import mix_batch
from frothline.foam.dilution import read_dilution
from frothline.generator.sheet import edit_sheet, parse_sheet, read_share, starting_sheet
from frothline.generator.sheet_form import typed_entry
from frothline.generator.stock_sizes import read_bore
from frothline.quantities import read_number, read_quantity, read_temperature
from frothline.recording.catalogue import Catalogue
from frothline.sensors.procedures.base import Question
from frothline.simulation.options import read_url
from frothline.trials.plan_file import read_plan
from frothline.trials.sample_sidecar import read_sample, read_time
from frothline.trials.which_helped import two_builds
from frothline.web.pages.generator.page import _value
from frothline.web.pages.spool.calibration import read_answers

SEASON = Path(__file__).parents[2] / "recordings" / "season"
SWEEP = SEASON / "03-29-sweep-shop-motor.froth"
FIRST = SEASON / "builds" / "first-tube.toml"


def run(capsys, *arguments):
    """Exit code, and all that was said."""
    try:
        code = cli.main([str(one) for one in arguments])
    except SystemExit as ended:  # argparse's own
        code = ended.code
    said = capsys.readouterr()
    return code, said.out + said.err


# --- a comma before three digits ---------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("read", "text", "either", "other"),
    [
        (lambda text: read_quantity(text, "volume"), "1,200 L", "1200 L", "1.200 L"),
        (lambda text: read_quantity(text, "mass"), "1,200 g", "1200 g", "1.200 g"),
        (read_bore, "1,500 mm", "1500 mm", "1.500 mm"),
        (read_temperature, "1,500 °C", "1500 °C", "1.500 °C"),
        (read_time, "1,200 s", "1200 s", "1.200 s"),
        (read_dilution, "1+1,000", "1+1000", "1+1.000"),
        (read_share, "1,000 %", "1000", "1.000"),
        (read_number, "-1,200", "-1200", "-1.200"),
        (lambda text: _read(text, "number"), "1,200", "1200", "1.200"),
        (lambda text: _read(text, "bag"), "1,200", "1200", "1.200"),
        (lambda text: _read(text, "volume"), "1,200 L", "1200 L", "1.200 L"),
        (lambda text: _value(text, "pressure", "metric"), "1,200", "1200", "1.200"),
        (read_in, "1,200 mL", "1200 mL", "1.200 mL"),
    ],
)
def test_a_comma_before_three_digits_is_asked_back_with_both_readings(read, text, either, other):
    with pytest.raises((ValueError, InputError)) as told:
        read(text)
    assert "two ways" in str(told.value)
    assert either in str(told.value)
    assert other in str(told.value)


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("1,2 L", 1.2e-3),
        ("1,25 L", 1.25e-3),
        ("1,2000 L", 1.2e-3),
        ("1.200 L", 1.2e-3),
        ("1200 L", 1.2),
        (",5 L", 5e-4),
    ],
)
def test_what_has_one_reading_is_read(text, value):
    assert read_quantity(text, "volume") == pytest.approx(value)


@pytest.mark.parametrize("text", ["1,200,000 L", "1,200.5 L", "1.200,5 L", "1.2.3 L"])
def test_separators_of_thousands_are_refused(text):
    with pytest.raises(ValueError, match=r"separators|two ways"):
        read_quantity(text, "volume")


def test_a_comma_behind_a_zero_alone_can_be_read_one_way_only():
    """No number of thousands begins with a zero, and a kitchen scale shows 0,331 kg."""
    assert read_quantity("0,500 kg", "mass") == pytest.approx(0.5)
    assert read_number("-0,331") == pytest.approx(-0.331)
    with pytest.raises(ValueError, match="two ways"):
        read_number("10,331")


def test_the_prompt_asks_back_a_volume_of_one_thousand_two_hundred_litres(capsys):
    code, said = run(capsys, "batch", "--density", 600, "--volume", "1,200 L", "--foam-density", 70)
    assert code == 2
    assert "“1200 L” or “1.200 L”" in said
    code, said = run(capsys, "batch", "--density", "1,200", "--volume", "120 L", "--foam-density", 70)
    assert code == 2
    assert "“1200” or “1.200”" in said


# --- numbers that are none ---------------------------------------------------------------------------------------------

NONE = ("nan", "inf", "-inf", "1e400", "", "ten", "0x10", "1_000", "--")


@pytest.mark.parametrize("text", NONE)
def test_what_is_no_finite_number_is_refused_everywhere(text):
    for read in (
        read_number,
        read_share,
        read_time,
        read_temperature,
        lambda one: read_quantity(one, "mass"),
        lambda one: _read(one, "number"),
        lambda one: _value(one, "air_rate", "metric"),
    ):
        with pytest.raises((ValueError, InputError)):
            read(text)


@pytest.mark.parametrize("number", [math.nan, math.inf, -math.inf, True])
def test_a_file_s_numbers_must_be_finite_too(number):
    for read in (read_number, read_share, read_temperature, lambda one: read_quantity(one, "mass")):
        with pytest.raises(ValueError, match=r"."):
            read(number)
    sample = {"container": "2 L", "empty": "184 g", "full": "331 g"}
    for key in ("full", "fill_time", "at", "solution_density", "depth"):
        with pytest.raises(InputError, match=key):
            read_sample(sample | {key: number if number is not True else math.nan})


def test_a_negative_duration_is_refused():
    for text in (-5, -0.1, "-5 s", "-1 min"):
        with pytest.raises(ValueError, match="is below zero"):
            read_time(text)


NUMBERS = [
    ("record", "--seconds", ("-5", "0")),
    ("record", "--wait", ("-1",)),
    ("record", "--rate", ("1.5", "-10")),
    ("find", "--patience", ("-1", "0", "1e9")),
    ("check", "--patience", ("-1", "0")),
    ("demo", "--speed", ("-1",)),
    ("demo", "--seed", ("1.5", "-1")),
    ("demo", "--web-port", ("70000", "-1")),
    ("curve x.froth", "--holes", ("-3", "0")),
    ("curve x.froth", "--altitude", ("1e6",)),
    ("curve x.froth", "--temperature", ("-300",)),
    ("compare x.froth", "--wanted", ("-1",)),
    ("plan x.toml", "--seed", ("-1",)),
    ("batch --volume 1", "--density", ("0", "-600")),
    ("batch --volume 1 --density 600", "--water-cement", ("-1",)),
    ("batch --volume 1 --density 600", "--foam-density", ("0",)),
    ("batch --volume 1 --density 600", "--u-foam-output", ("-1",)),
    ("sample --container 1L --empty 1g --full 2g", "--air", ("-1",)),
    ("flash", "--baud", ("0",)),
    ("sources --tank 50", "--full", ()),
    ("sources", "--tank", ("-50",)),
]


@pytest.mark.parametrize(("command", "option", "wrong"), NUMBERS)
def test_an_option_takes_numbers_that_can_be_and_says_so(capsys, command, option, wrong):
    for text in (*wrong, "nan", "inf", "x"):
        code, said = run(capsys, *command.split(), f"{option}={text}")
        assert code == 2, (command, option, text)
        assert option in said
        assert (
            "must be" in said
            or "not a" in said
            or "is not" in said
            or "is below zero" in said
            or "is no density" in said
        )


def test_a_simulated_rig_takes_no_speed_that_is_none():
    for text in ("nan", "inf", "-1"):
        with pytest.raises(InputError, match="finite"):
            read_url(f"modelled://sweep?speed={text}")


@pytest.mark.parametrize("figure", ["pressure=nan", "air=inf", "ratio=-3", "pressure=0", "pressure=1,200"])
def test_a_wanted_figure_is_a_positive_number(capsys, figure):
    code, said = run(capsys, "whatif", FIRST, "--sweep", SWEEP, "--wanted", figure)
    assert code == 2
    assert "--wanted" in said


def test_a_wanted_pressure_below_zero_is_named_as_typed(capsys):
    code, said = run(capsys, "whatif", FIRST, "--sweep", SWEEP, "--wanted", "pressure=-9")
    assert code == 2
    assert "“-9” must be greater than 0" in said
    assert "9000" not in said


# --- shares and entries ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("text", ["0.95", "0,95", "95 %", "95%", "95,0 %"])
def test_a_share_is_read_as_it_is_typed(text):
    assert read_share(text) == pytest.approx(0.95)
    made = edit_sheet(starting_sheet(), {"packing.voidage": typed_entry("packing.voidage", text)})
    assert parse_sheet(made).build.packing.voidage == pytest.approx(0.95)


def test_a_share_is_set_at_the_prompt(capsys):
    for text in ("0.95", "95 %"):
        code, said = run(capsys, "whatif", FIRST, "--sweep", SWEEP, "--set", f"packing.voidage={text}")
        assert code == 0, said
    code, said = run(capsys, "whatif", FIRST, "--sweep", SWEEP, "--set", "packing.voidage=nan")
    assert code == 2
    code, said = run(capsys, "whatif", FIRST, "--sweep", SWEEP, "--set", "packing.lenght=500 mm")
    assert code == 2
    assert "packing.length" in said


# --- choices -----------------------------------------------------------------------------------------------------------


def test_an_unknown_kind_or_state_is_refused_with_those_that_exist(capsys):
    code, said = run(capsys, "recordings", SEASON, "--kind", "swep")
    assert code == 2
    assert "sweep, generator sweep, run" in said
    code, said = run(capsys, "recordings", SEASON, "--state", "shut")
    assert code == 2
    assert "closed, open, newer, unreadable" in said
    # a kind that the program writes is known even where the folder has none of it
    code, said = run(capsys, "recordings", SEASON, "--kind", "generator sweep")
    assert code == 0
    assert "0 of 12" in said


def test_a_kind_of_one_s_own_is_known_where_a_recording_has_it(tmp_path):
    from frothline.recording.writer import RecordingWriter

    RecordingWriter.create(tmp_path, "a", source="modelled://steady").close()
    (tmp_path / "a.toml").write_text('kind = "test"\n', "utf-8")
    catalogue = Catalogue(tmp_path)
    assert len(catalogue.find(kind="test")) == 1
    with pytest.raises(InputError, match="tests") as told:
        catalogue.find(kind="tests")
    assert "test" in told.value.remedy


def test_an_unknown_response_or_scenario_is_refused_with_those_that_exist(capsys):
    for more in ((), ("--builds", "first tube", "long packing")):
        code, said = run(capsys, "effects", SEASON, "--response", "weight", *more)
        assert code == 2
        assert "density" in said
        assert "drainage" in said
    with pytest.raises(InputError, match="weight"):
        two_builds((), "a", "b", "weight")
    code, said = run(capsys, "demo", "--scenario", "storm", "--no-browser")
    assert code == 2
    assert "sweep-hump" in said


def test_a_plan_s_wish_is_finite(tmp_path):
    plan = tmp_path / "plan.toml"
    for low in ("nan", "inf", '"1,200 kg/m3"', '"1.2.3 kg/m3"', '"heavy"'):
        text = (SEASON / "plan.toml").read_text("utf-8").replace("builds/", f"{SEASON}/builds/")
        plan.write_text(text + f'\n[[wish]]\nresponse = "density"\nlow = {low}\nhigh = "900 kg/m3"\n', "utf-8")
        with pytest.raises(InputError):
            read_plan(plan)


def test_a_reference_on_the_calibration_page_is_asked_back():
    question = Question("reference", "height of the water", "pressure", 0.0, 1e6)
    assert read_answers([question], {"reference": "1,2", "system": "metric"}) == {"reference": pytest.approx(1200.0)}
    for text in ("1,200", "nan", "inf", "1e999"):
        with pytest.raises(InputError):
            read_answers([question], {"reference": text, "system": "metric"})


@pytest.mark.parametrize("name", ["density", "volume", "water_cement", "sand_cement", "bag"])
@pytest.mark.parametrize("value", [math.nan, math.inf])
def test_a_batch_of_figures_that_are_none_is_refused(name, value):
    order = dataclasses.replace(BatchOrder(600.0, 0.1), **{name: value})
    with pytest.raises(InputError, match=name):
        mix_batch(order, MeasuredFoam(Estimate.normal(70.0, 1.0, "kg/m3")))


def test_a_batch_names_the_option_that_is_wrong(capsys):
    for more, where in ((("--volume=-3 L",), "--volume"), (("--volume=3 L", "--bag=-3 kg"), "--bag")):
        code, said = run(capsys, "batch", "--density", 600, "--foam-density", 70, "--foam-output", 60, *more)
        assert code == 2
        assert "is below zero" in said
        assert f"{where}: " in said
        assert "--volume, --bag" not in said
