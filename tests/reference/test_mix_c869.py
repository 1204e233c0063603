"""Cellular concrete proportions against ASTM C869's own table and worked mixes."""

import pytest

from frothline.errors import OutsideValidity
from frothline.physics import mix


@pytest.mark.parametrize(
    ("dry", "water_cement"),
    # ASTM C869-91, table 1: cast 641 kg/m³ dries to 487 (type I) and 469 (type III); from these alone w/c 0.58 and 0.64
    [(487.0, 0.58), (469.0, 0.64)],
)
def test_dry_density_of_the_standard_mixes_is_the_published_one(dry, water_cement):
    assert mix.proportion(641.0, water_cement, 45.0).dry_density == pytest.approx(dry, abs=0.5)  # printed to 1 kg/m³
    assert mix.cast_density_for_dry(dry, water_cement) == pytest.approx(641.0, abs=0.7)


def test_the_standard_batch_type_one():
    # worked by hand from 641 kg/m³, w/c 0.58, cement 3.15, foam of 45 kg/m³
    batch = mix.proportion(641.0, 0.58, 45.0)
    assert batch.cement == pytest.approx(405.70, abs=0.005)
    assert batch.total_water == pytest.approx(235.30, abs=0.01)
    assert batch.foam_volume == pytest.approx(0.66587, abs=1e-5)
    assert batch.foam_water == pytest.approx(29.96, abs=0.005)
    assert batch.mixer_water == pytest.approx(205.34, abs=0.01)
    assert batch.base_density == pytest.approx(1828.7, abs=0.1)
    assert mix.air_free_density(batch.cement, batch.total_water) == pytest.approx(1760.5, abs=0.05)


@pytest.mark.parametrize(
    ("D", "foam", "mixer", "foam_water", "litres", "base", "ratio"),
    # cement paste, w/c 0.50, worked by hand
    [
        (400, 50, 92.17, 41.16, 823.17, 2029.3, 0.3457),
        (600, 50, 164.58, 35.42, 708.44, 1936.4, 0.4114),
        (600, 100, 125.22, 74.78, 747.80, 2082.5, 0.3131),
        (800, 50, 236.98, 29.69, 593.71, 1896.0, 0.4443),
    ],
)
def test_paste_mixes_worked_by_hand(D, foam, mixer, foam_water, litres, base, ratio):
    batch = mix.proportion(D, 0.5, foam)
    assert batch.mixer_water == pytest.approx(mixer, abs=0.006)
    assert batch.foam_water == pytest.approx(foam_water, abs=0.006)
    assert batch.foam_volume * 1e3 == pytest.approx(litres, abs=0.01)
    assert batch.base_density == pytest.approx(base, abs=0.06)
    assert batch.mixer_water_cement == pytest.approx(ratio, abs=6e-5)
    assert batch.too_stiff == (ratio < 0.35)
    # masses and volumes close
    assert batch.cement + batch.mixer_water + batch.foam_water == pytest.approx(D, rel=1e-12)
    assert batch.base_volume + batch.foam_volume == pytest.approx(1.0, rel=1e-12)


def test_sanded_mix_worked_by_hand():
    # cement to sand 1:1, w/c 0.55, sand 2.62, foam 50 kg/m³, 1200 kg/m³
    batch = mix.proportion(1200.0, 0.55, 50.0, sand_cement=1.0)
    assert batch.cement == pytest.approx(470.59, abs=0.005)
    assert batch.mixer_water == pytest.approx(237.13, abs=0.01)
    assert batch.foam_volume == pytest.approx(0.43386, abs=1e-5)
    assert batch.base_density == pytest.approx(2081.3, abs=0.1)
    assert batch.dry_density == pytest.approx(1035.3, abs=0.05)


@pytest.mark.parametrize(("ratio", "published"), [(0.30, 2105.4), (0.40, 1951.3), (0.50, 1835.0), (0.60, 1743.9)])
def test_paste_density(ratio, published):
    # (1 + w)/(1/3.15 + w), worked by hand
    assert mix.air_free_density(1.0, ratio) == pytest.approx(published, abs=0.06)


def test_air_and_pumping_loss_by_c796():
    # worked by hand: 641 before and 665 after the pump, 1760.5 without air: 63.59 %, 62.23 %, loss 1.36 %
    before, after = mix.air_content(641.0, 1760.52), mix.air_content(665.0, 1760.52)
    assert before == pytest.approx(0.63590, abs=5e-6)
    assert before - after == pytest.approx(0.01363, abs=5e-6)
    assert before - after < 0.045  # C869-91, table 1: 4.5 % by volume


def test_blending_and_correcting_a_slurry_go_there_and_back():
    batch = mix.proportion(600.0, 0.5, 80.0, volume=0.05)
    assert mix.blend_density(batch.base_density, batch.base_volume, 80.0, batch.foam_volume) == pytest.approx(600.0)
    assert mix.foam_for_density(batch.base_density, batch.base_volume, 600.0, 80.0) == pytest.approx(batch.foam_volume)
    # a cup that weighs 640: 50 L of it need 50 (640 - 600)/(600 - 80) = 3.846 L of foam
    assert mix.foam_for_density(640.0, 0.050, 600.0, 80.0) == pytest.approx(3.846e-3, abs=1e-6)
    # and one that weighs 560: slurry of 2017: 50 (600 - 560)/(2017 - 600) = 1.411 L
    assert mix.slurry_for_density(560.0, 0.050, 600.0, 2017.0) == pytest.approx(1.411e-3, abs=1e-6)


def test_water_of_wet_foam_raises_the_ratio_when_it_is_not_counted():
    # 400 kg cement, 200 kg water in the mixer, 0.7 m³ of foam at 100 kg/m³ on top: (200 + 70)/400
    assert mix.true_water_cement(400.0, 200.0, 0.7, 100.0) == pytest.approx(0.675)


def test_half_of_the_air_lost_is_seen_as_half():
    batch = mix.proportion(600.0, 0.5, 80.0)
    air = batch.foam_volume - batch.foam_water / 1000.0
    heavy = 600.0 / (1.0 - 0.5 * air)
    paste = batch.base_volume
    assert mix.foam_survival(paste, 600.0, heavy, batch.foam_volume, batch.foam_water) == pytest.approx(0.5)


@pytest.mark.parametrize(("N", "one_plus_n", "one_in_n"), [(16, 5.882, 6.250), (30, 3.226, 3.333), (40, 2.439, 2.500)])
def test_the_two_dilution_conventions(N, one_plus_n, one_in_n):
    # ASTM C796 as summarised: 40 parts water to 1 part agent, 2.44 % by volume
    assert mix.agent_fraction(N, "1+N") * 100 == pytest.approx(one_plus_n, abs=5e-4)
    assert mix.agent_fraction(N, "1 in N") * 100 == pytest.approx(one_in_n, abs=5e-4)


def test_what_cannot_be_mixed_is_refused_in_words():
    with pytest.raises(OutsideValidity, match="not lighter"):
        mix.proportion(1900.0, 0.5, 50.0)
    with pytest.raises(OutsideValidity, match="drier foam"):
        mix.proportion(300.0, 0.4, 200.0)
    with pytest.raises(OutsideValidity, match="units"):
        mix.proportion(600.0, 0.5, 800.0)
    with pytest.raises(OutsideValidity, match="lighter foam"):
        mix.foam_for_density(1800.0, 0.1, 70.0, 80.0)
