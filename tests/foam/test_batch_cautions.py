"""The figures of the cautions for concrete and foam, worked by hand from published values."""

import re

import pytest

from frothline.errors import OutsideValidity
from frothline.estimate import Estimate
from frothline.foam.batch_cautions import CAUTIONS, detergent_caution, form_caution, heat_caution
from frothline.foam.batch_order import BatchOrder, MeasuredFoam
from frothline.foam.concrete_batch import mix_batch
from frothline.physics.fresh_concrete import adiabatic_rise, side_force, side_pressure


def caution(word):
    (found,) = [one for one in CAUTIONS if word in one]
    return found


def test_caustic_water_has_to_be_thinned_by_what_its_ph_says():
    """Water saturated with lime: 2 x (5.5e-6/4)^(1/3) mol/L of OH-, pH 12.35; to pH 9 (US EPA, 6.5 to 9) 10^3.35 times."""
    hydroxide = 2 * (5.5e-6 / 4) ** (1 / 3)
    times = float(re.search(r"thinned (\d+) times", caution("streams"))[1])
    assert times == pytest.approx(hydroxide / 1e-5, rel=0.01)
    assert "kills fish" in caution("streams")


def test_the_warmth_of_a_paste_is_its_heat_over_what_it_holds():
    """349 kJ/kg (PCA, type I, 7 days). Bentz 2007 measured 1.92 kJ/(kg K) at w/c 0.5: 349/(1.5 x 1.92) = 121 K."""
    assert adiabatic_rise(400.0, 200.0) == pytest.approx(349.0 / (1.5 * 1.92), rel=0.02)
    assert adiabatic_rise(1.0, 0.4) == pytest.approx(349.0 / (1.4 * 1.73), rel=0.01)  # 1.73 measured at w/c 0.4
    assert adiabatic_rise(400.0, 200.0, 400.0) < 0.8 * adiabatic_rise(400.0, 200.0)  # sand takes heat up
    assert "123 K" in heat_caution(400.0, 200.0, 0.0)
    with pytest.raises(OutsideValidity):
        adiabatic_rise(0.0, 1.0)


def test_a_form_gets_the_full_liquid_head():
    """ACI 347-04, 2.2.2: p = w h. In its units 37.46 lb/ft³ x 3 ft = 112.4 lb/ft² = 5.381 kPa (47.880 Pa for 1 lb/ft²)."""
    assert side_pressure(0.9144, 600.0) == pytest.approx(112.37 * 47.880, rel=1e-3)
    assert side_force(0.5, 600.0, 2.0) == pytest.approx(1471.0, rel=1e-4)  # ½ · 600 · 9.80665 · 0.25 · 2
    assert "5.9 kPa more at each metre of depth, 2.9 kPa under a lift of 500 mm" in form_caution(600.0)
    assert "ACI 347" in form_caution(600.0)
    with pytest.raises(OutsideValidity):
        side_pressure(-1.0, 600.0)


def test_a_dose_above_what_was_studied_is_named_and_one_below_is_not():
    """Detergent 0.35 to 0.45 % of the cement's mass (Waheed and others 2019)."""
    assert "0.86 % of the cement's mass" in detergent_caution(3.44, 400.0)
    assert detergent_caution(1.8, 400.0) == ""  # 0.45 %


def test_a_batch_has_its_own_figures_among_its_cautions():
    foam = MeasuredFoam(Estimate.normal(80.0, 1.0, "kg/m3"), agent_parts=16.0, survival=Estimate.normal(1.0, 0.0, "1"))
    said = " ".join(mix_batch(BatchOrder(600.0, 1.0), foam).cautions)
    for words in ("Not structural", "K warmer", "0.99 % of the cement's mass", "kPa more at each metre", "Local codes"):
        assert words in said  # 58.5 L of solution at 1+16 and 15 % more in reserve: 3.96 L for 400 kg


@pytest.mark.parametrize(
    ("word", "figure"),
    [
        ("burns skin", "pH of 12 to 13"),
        ("lungs", "0.05 mg"),
        ("stored", "12 % of its solution after 5 min"),
        ("device", "30 mA"),
    ],
)
def test_every_caution_has_its_figure(word, figure):
    assert figure in caution(word)
