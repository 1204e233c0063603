"""What a pour became, against worked proportions by absolute volumes."""

import math
from dataclasses import replace

import pytest

from frothline.estimate import Estimate
from frothline.pours.outcome import judge_pour
from frothline.pours.record import Masses, PourRecord, Specimen

FOAM = Estimate.normal(80.0, 0.8, "kg/m3")
# Worked by absolute volumes for 1 m³ of cast density 600, water to cement 0.50 and foam of 80 kg/m³ (cement of relative
# density 3.15): cement 400.00, water in the mixer 141.48, water in the foam 58.52, foam 731.54 L, slurry 2017.0 kg/m³,
# air 0.6730 by volume, oven-dry 480 (1.2 times the cement: ASTM C869-91, table 1, footnote)
MIXED = Masses(cement=400.0, water=141.48, foam=58.52)
POUR = PourRecord("slab", masses=MIXED, cup_density=600.0, wanted_volume=1.0, cast_volume=0.98, lift=0.3, sank=0.006)


def test_a_pour_in_which_all_foam_survives_has_the_worked_figures():
    found = judge_pour(POUR, FOAM)
    assert found.questions == ()
    assert found.survival.value == pytest.approx(1.0, abs=2e-3)
    assert found.made.value == pytest.approx(1.0, rel=1e-4)
    assert found.yield_ratio.value == pytest.approx(1.0, rel=1e-4)
    assert found.air.value == pytest.approx(0.6730, abs=1e-4)
    assert found.dry_density.value == pytest.approx(480.0, rel=1e-4)
    assert found.dry_density.assumptions
    assert found.settlement.value == pytest.approx(0.02)
    assert found.water_cement == pytest.approx(0.5, abs=1e-4)


@pytest.mark.parametrize("lost", [0.1, 0.25])
def test_a_share_of_lost_air_is_found_again(lost):
    """The cup's density follows from volumes: the slurry, the foam's water, and what is left of the foam's air."""
    air = 0.73154 - 0.05852
    volume = 400.0 / 3150.0 + 0.14148 + 0.05852 + (1 - lost) * air
    found = judge_pour(replace(POUR, cup_density=600.0 / volume, cast_volume=math.nan), FOAM)
    assert found.survival.value == pytest.approx(1 - lost, abs=2e-3)
    assert found.yield_ratio.value == pytest.approx(volume, rel=1e-3)
    assert found.survival.lower < 1 - lost < found.survival.upper


def test_foam_by_volume_and_foam_by_mass_give_the_same():
    by_volume = replace(POUR, masses=Masses(cement=400.0, water=141.48, foam_volume=0.73154))
    one, other = (judge_pour(pour, FOAM) for pour in (POUR, by_volume))
    for name in ("survival", "made", "air", "dry_density"):
        assert getattr(one, name).value == pytest.approx(getattr(other, name).value, rel=2e-3), name


def test_dried_specimens_take_precedence_over_the_rule_of_bound_water():
    dried = tuple(Specimen(k, "cube", (0.1,) * 3, dry_mass=mass) for k, mass in enumerate((0.470, 0.478, 0.474), 1))
    found = judge_pour(replace(POUR, specimens=dried), FOAM)
    assert found.dry_density.value == pytest.approx(474.0)
    assert found.dry_density.assumptions == ()
    assert found.dry_density.standard_uncertainty == pytest.approx(math.hypot(4.0 / math.sqrt(3), 4.74), rel=1e-6)


@pytest.mark.parametrize(
    ("changes", "words", "lost"),
    [
        ({"slurry_density": 1700.0}, "the slurry weighed 1700 kg/m³, and its masses give 2017 kg/m³", "survival"),
        ({"cup_density": 2100.0}, "heavier than the slurry", "survival"),
        ({"cup_density": 70.0, "cast_volume": math.nan}, "lighter than the foam", "survival"),
        ({"cast_volume": 1.3}, "the mould took 1300 L, and masses and cup give only 1000 L", ""),
        ({"cast_volume": 0.7}, "if the rest was not thrown away", ""),
        ({"sank": 0.2}, "the top moved by 200 mm in a lift of 300 mm", "settlement"),
        ({"masses": replace(MIXED, foam_volume=0.5)}, "give a foam of 117 kg/m³", ""),
    ],
)
def test_what_contradicts_itself_is_asked_back_and_its_figure_is_unknown(changes, words, lost):
    found = judge_pour(replace(POUR, **changes), FOAM)
    assert any(words in one for one in found.questions), found.questions
    if lost:
        assert getattr(found, lost) is None
        assert "contradict" in found.why[lost]


@pytest.mark.parametrize(
    ("changes", "name", "why"),
    [
        ({"masses": Masses(cement=400.0, foam=58.5)}, "survival", "[masses] lacks water"),
        ({"masses": Masses(cement=400.0, water=141.0)}, "made", "[masses] lacks foam (or foam_volume)"),
        ({"cup_density": math.nan}, "cast_density", "no cup was weighed"),
        ({"lift": math.nan}, "settlement", "the depth of the lift is not written"),
        ({"wanted_volume": math.nan}, "yield_ratio", "wanted_volume is not written"),
    ],
)
def test_what_is_not_written_is_named(changes, name, why):
    found = judge_pour(replace(POUR, **changes), FOAM)
    assert getattr(found, name) is None
    assert why in found.why[name]


def test_without_the_foam_s_density_masses_alone_give_the_volume_made():
    found = judge_pour(POUR, None)
    assert found.survival is None
    assert "was not weighed in the trial" in found.why["survival"]
    both = judge_pour(replace(POUR, masses=replace(MIXED, foam_volume=0.73154)), None)
    assert both.survival.value == pytest.approx(1.0, abs=2e-3)
