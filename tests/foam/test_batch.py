"""Batches worked by hand, and the batch of the published foam test, beside the program's."""

import math

import pytest

from frothline.errors import InputError
from frothline.estimate import Estimate
from frothline.foam.batch_order import BatchOrder, MeasuredFoam
from frothline.foam.concrete_batch import blended, correct_cast, correct_slurry, mix_batch


def exact(value, unit):
    return Estimate.normal(value, 0.0, unit)


def foam(density, output=None, survival=1.0, u_density=0.0, u_survival=0.0):
    return MeasuredFoam(
        Estimate.normal(density, u_density, "kg/m3"),
        None if output is None else Estimate.normal(output, 0.0, "m3/s"),
        Estimate.normal(survival, u_survival, "1"),
        start_up=exact(0.0, "s"),
    )


@pytest.mark.parametrize(
    ("dry", "water_cement", "cast", "cement", "mixer_water", "foam_litres"),
    [(487, 0.58, 641, 405.70, 205.34, 665.87), (469, 0.64, 641, 390.85, 220.66, 655.26)],
)
def test_the_batch_of_the_published_foam_test(dry, water_cement, cast, cement, mixer_water, foam_litres):
    """ASTM C869 table 1: 641 kg/m3 after pumping, 487 (type I) and 469 kg/m3 (type III) oven-dry by calculation; the
    masses per cubic metre follow by absolute volumes with foam of 45 kg/m3 and cement of 3.15 (hand arithmetic)."""
    batch = mix_batch(BatchOrder(cast, 1.0, water_cement), foam(45.0))
    assert batch.mix.cement == pytest.approx(cement, abs=0.006)
    assert batch.mix.mixer_water == pytest.approx(mixer_water, abs=0.006)
    assert batch.foam_volume * 1e3 == pytest.approx(foam_litres, abs=0.006)
    assert batch.dry_density.value == pytest.approx(dry, abs=0.5)  # the standard prints whole kilograms


def test_a_batch_worked_by_hand_with_sand():
    """40 L of 1200 kg/m3, cement : sand 1 : 1, water/cement 0.55, foam 50 kg/m3, 18 L/min, agent 1 + 40.
    By hand per m3: cement and sand 470.59, water 258.82, foam 433.86 L carrying 21.69 kg, mixer water 237.13."""
    batch = mix_batch(BatchOrder(1200, 0.040, 0.55, 1.0), foam(50.0, 18e-3 / 60))
    assert batch.mix.cement == pytest.approx(0.04 * 470.59, abs=1e-3)
    assert batch.mix.sand == pytest.approx(0.04 * 470.59, abs=1e-3)
    assert batch.mix.mixer_water == pytest.approx(0.04 * 237.13, abs=1e-3)
    assert batch.foam_volume * 1e3 == pytest.approx(0.04 * 433.86, abs=1e-3)
    assert batch.run_time.value == pytest.approx(17.354 / 18 * 60, abs=0.01)
    assert batch.bags == pytest.approx(18.824 / 25, abs=1e-3)
    assert batch.solution * 1e3 == pytest.approx(0.04 * 21.69 / 0.9982 * 1.15, abs=1e-3)
    assert batch.agent / batch.solution == pytest.approx(1 / 41)
    assert batch.per_bag["foam_volume"] * 1e3 == pytest.approx(17.354 / 0.75296, abs=0.01)
    assert batch.per_bag["cement"] == 25.0
    assert batch.per_bag["sand"] == pytest.approx(25.0, abs=1e-3)  # one to one
    assert batch.per_bag["mixer_water"] == pytest.approx(0.04 * 237.13 / 0.75296, abs=2e-3)


def test_volumes_of_slurry_and_foam_blend_to_the_wanted_density():
    for survival in (1.0, 0.9, 0.8):
        f = foam(80.0, survival=survival)
        batch = mix_batch(BatchOrder(800, 0.1, 0.5), f)
        assert blended(batch, f) == pytest.approx(800, rel=1e-12)
        assert batch.cast_density.value == pytest.approx(800, rel=1e-12)


def test_foam_that_partly_dies_is_measured_out_in_excess():
    """With 80 % of the air surviving, 25 % more air is needed: within the few per cent that its water takes part."""
    full, part = (mix_batch(BatchOrder(800, 0.1, 0.55), foam(50.0, survival=s)) for s in (1.0, 0.8))
    assert part.foam_volume / full.foam_volume == pytest.approx(1 / 0.8, rel=0.02)


def test_the_foams_uncertainty_is_carried_into_the_cast_density():
    """dD/dV_f = (rho_f - D)/V: 5 % of 564 L at 800 kg/m3 is 0.0297 m3, hence 22 kg/m3 (hand differentiation)."""
    f = MeasuredFoam(exact(50.0, "kg/m3"), Estimate.normal(3e-4, 0.05 * 3e-4, "m3/s"), exact(1.0, "1"), exact(0.0, "s"))
    batch = mix_batch(BatchOrder(800, 1.0, 0.5), f)
    by_hand = (800 - 50) / 1.0 * 0.05 * batch.foam_volume
    assert batch.cast_density.standard_uncertainty == pytest.approx(by_hand, rel=1e-3)


def test_a_dry_density_is_ordered_by_way_of_the_cast_one():
    """C869: 487 = 1.2 x 641/1.58, so an order of 487 dry is one of 641 cast, within the rounding of the print."""
    batch = mix_batch(BatchOrder(487, 1.0, 0.58, dry=True), foam(45.0))
    assert batch.mix.cast_density == pytest.approx(641, abs=0.3)


def test_a_slurry_weighed_too_light_gets_less_foam():
    f = foam(50.0, 3e-4)
    batch = mix_batch(BatchOrder(800, 0.1, 0.5), f)
    heavier = correct_slurry(batch, f, batch.mix.base_density * 1.01)
    lighter = correct_slurry(batch, f, batch.mix.base_density * 0.99)
    same = correct_slurry(batch, f, batch.mix.base_density)
    assert same.foam == pytest.approx(batch.foam_volume)
    assert lighter.foam < same.foam < heavier.foam
    assert "leave out" in lighter.words
    # total volume is mass over wanted density, whatever the slurry's own volume: V_f = (m/rho)(rho - D)/(D - rho_f)
    mass = batch.mix.cement + batch.mix.mixer_water
    rho = batch.mix.base_density * 1.01
    assert heavier.foam == pytest.approx(mass / rho * (rho - 800) / 750)


@pytest.mark.parametrize(
    ("share", "cause"), [(0.6, "more water"), (0.93, "more water"), (1.07, "less water"), (1.2, "less water")]
)
def test_a_slurry_that_the_masses_cannot_give_is_asked_back_before_foam_is_changed(share, cause):
    """1200 kg/m³ for a slurry of 2009 is no matter of 28 L of foam: the water is wrong, or the scale."""
    f = foam(50.0, 3e-4)
    batch = mix_batch(BatchOrder(800, 0.1, 0.5), f)
    with pytest.raises(InputError, match=cause):
        correct_slurry(batch, f, share * batch.mix.base_density)
    for near in (0.95, 1.05):
        assert correct_slurry(batch, f, near * batch.mix.base_density).foam > 0.0


def test_a_cup_that_is_too_heavy_asks_for_foam_and_one_too_light_for_slurry():
    """100 L in the mixer at 850 instead of 800 kg/m3: the air is 850/800 - 1 short of the batch's volume, and what is
    added loses the same share again (hand)."""
    f = foam(50.0, 3e-4)
    batch = mix_batch(BatchOrder(800, 0.1, 0.5), f)
    heavy = correct_cast(batch, f, 850.0, volume=0.1)
    mass = 80.0
    air_in = batch.foam_volume * (1 - 50 / 1000)
    survived = (mass / 850 - (mass / 800 - air_in)) / air_in
    assert heavy.survival.value == pytest.approx(survived, rel=1e-9)
    assert f"by this cup {100 * survived:.1f} %" in heavy.words
    # 6.67 L by hand if all of it survived: 100 x 50/750; its own effective density where it does not
    effective = 50 / (0.05 + survived * 0.95)
    assert heavy.foam == pytest.approx(0.1 * 50 / (800 - effective) * effective / 50)
    assert heavy.foam > 0.1 * 50 / 750
    mortal = foam(50.0, 3e-4, survival=0.85)  # more of it survives than was measured out for
    batch = mix_batch(BatchOrder(800, 0.1, 0.5), mortal)
    light = correct_cast(batch, mortal, 750.0, volume=0.1)
    assert light.foam == 0
    assert light.survival.value > 0.9
    assert light.slurry == pytest.approx(0.1 * 50 / (batch.mix.base_density - 800))


def test_wet_foam_leaves_a_slurry_that_is_too_stiff_and_says_so():
    """600 kg/m3, water/cement 0.5, foam 100 kg/m3: 0.313 of mixer water to cement (hand), below 0.35."""
    batch = mix_batch(BatchOrder(600, 1.0, 0.5), foam(100.0))
    assert batch.mix.mixer_water_cement == pytest.approx(0.3131, abs=1e-4)
    assert any("has only 0.313 of water to cement" in w and "takes water out of the foam" in w for w in batch.warnings)


def test_light_mixes_carry_the_published_warnings():
    batch = mix_batch(BatchOrder(400, 1.0, 0.5, 0.5), foam(50.0))
    assert any("unstable" in w for w in batch.warnings)
    assert any("collapse" in w for w in batch.warnings)
    assert any("sand" in w for w in batch.warnings)


def test_every_batch_says_that_it_is_not_structural():
    batch = mix_batch(BatchOrder(600, 1.0), foam(50.0))
    assert batch.cautions[0].startswith("Not structural")
    density = batch.mix.cast_density
    assert f"{density * 9.80665e-3:.1f} kPa more at each metre" in batch.cautions[-1]  # p = rho g h


@pytest.mark.parametrize(
    ("order", "match"),
    [
        (BatchOrder(600, 0.0), "volume to fill 0 L"),
        (BatchOrder(2300, 1.0), "not lighter"),
        (BatchOrder(300, 1.0, 0.2), "water"),
    ],
)
def test_an_order_that_cannot_be_met_says_why(order, match):
    with pytest.raises(InputError, match=match):
        mix_batch(order, foam(80.0))


def test_without_a_timed_sample_the_run_time_is_not_known():
    batch = mix_batch(BatchOrder(600, 1.0), foam(50.0))
    assert batch.run_time is None
    assert math.isnan(batch.per_bag["run_time"])
