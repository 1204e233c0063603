"""The share of surviving air as a number, a text or an estimate: batch and plan, prompt and Python read it alike."""

import pytest
from prompt_json import result_of

import frothline as fl
from frothline import cli
from frothline.errors import InputError
from frothline.estimate import Estimate

BATCH = ("batch", "--density", "600", "--volume", "120 L", "--foam-density", "75", "--json")


def of_python(survival):
    return fl.batch("600 kg/m3", "120 L", "75 kg/m3", survival=survival)


@pytest.mark.parametrize("given", [0.9, "0.9", "0,9", "90 %", "90%"])
def test_nine_tenths_are_read_in_every_spelling(given):
    """97.0 L of foam, of which a tenth of the air is lost: by absolute volumes, foam of 75 kg/m³ for 120 L of 600."""
    found = of_python(given)
    assert found.foam.survival.value == pytest.approx(0.9)
    assert found.foam.survival.standard_uncertainty == pytest.approx(0.02 * 0.9)
    assert found.foam_volume * 1e3 == pytest.approx(97.0, abs=0.05)


def test_the_interval_is_read_and_never_goes_above_one():
    found = of_python("90 % (80 to 95)").foam.survival
    assert (found.lower, found.upper) == pytest.approx((0.80, 0.95))
    for one in (of_python(1).foam, fl.pour_plan(volume="120 L", foam_density="75 kg/m3", survival="100 %").foam):
        assert one.survival.value == one.survival.upper == 1.0
        assert one.survival.lower == pytest.approx(1.0 - 1.96 * 0.02, abs=1e-4)
    own = Estimate.normal(0.9, 0.05, "1")
    assert of_python(own).foam.survival is own


@pytest.mark.parametrize("given", ["90 %", "0.9", "90 % (85 to 95)"])
def test_batch_and_pourplan_read_it_alike_at_the_prompt(given, capsys):
    assert cli.main([*BATCH, "--survival", given]) == 0
    batch = result_of(capsys.readouterr().out)
    plan = fl.pour_plan(volume="120 L", foam_density="75 kg/m3", survival=given)
    for name in ("value", "lower", "upper", "standard_uncertainty"):
        assert batch["foam"]["survival"][name] == pytest.approx(getattr(plan.foam.survival, name), rel=1e-12)
    assert batch["foam"]["survival"]["value"] == of_python(given).foam.survival.value


@pytest.mark.parametrize("given", [90, "90", "much", "110 %", 0.1, "", True, [0.9], {"value": 0.9}, float("nan")])
def test_what_cannot_be_read_is_asked_back_with_what_to_give(given, capsys):
    with pytest.raises(InputError) as raised:
        of_python(given)
    assert raised.value.where == "batch: survival"
    assert "like 0.9 or “90 %”" in raised.value.remedy
    if isinstance(given, str):
        with pytest.raises(SystemExit) as left:
            cli.main([*BATCH, "--survival", given])
        assert left.value.code == 2
        assert "--survival" in capsys.readouterr().err


def test_a_share_without_its_sign_is_asked_back_at_its_option(capsys):
    with pytest.raises(SystemExit):
        cli.main([*BATCH, "--survival", "90"])
    assert "--survival: “90” can be read two ways: write “90 %” or a share up to 1" in capsys.readouterr().err
