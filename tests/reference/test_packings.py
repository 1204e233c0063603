"""Beds, fibres and screens against the library fluids, and against each other where the sources are independent."""

import fluids
import numpy as np
import pytest

from frothline.physics import packing


@pytest.mark.parametrize(
    ("dp", "voidage", "vs", "rho", "mu", "L"),
    [
        (8e-4, 0.4, 1e-3, 1e3, 1e-3, 1.0),  # the example in fluids' documentation: 1338.867 Pa
        (1e-3, 0.4, 0.5, 1.2, 1.8e-5, 0.1),
        (3e-3, 0.38, 0.5, 1.2, 1.8e-5, 0.1),
    ],
)
def test_ergun_agrees_with_fluids(dp, voidage, vs, rho, mu, L):
    known = fluids.packed_bed.Ergun(dp=dp, voidage=voidage, vs=vs, rho=rho, mu=mu, L=L)
    assert packing.ergun(dp, voidage, vs, rho, mu, L) == pytest.approx(known, rel=1e-12)


def test_ergun_stays_with_the_other_bed_correlations():
    # fluids' default choice and Kuo & Nydegger are other people's fits to other beds: within a factor of 2
    here = packing.ergun(8e-4, 0.4, 1e-3, 1e3, 1e-3)
    for other in (fluids.packed_bed.Kuo_Nydegger, fluids.packed_bed.KTA, fluids.packed_bed.Carman):
        assert 0.5 < other(dp=8e-4, voidage=0.4, vs=1e-3, rho=1e3, mu=1e-3, L=1.0) / here < 2.0


@pytest.mark.parametrize(
    ("wire", "voidage", "by_hand"),
    # Davies' form worked by hand, K = d²/[64 (1 - ε)^1.5 (1 + 56 (1 - ε)³)]
    # 50 µm, 0.95: 2.5e-9/(64 x 0.0111803 x 1.007) = 3.4696e-9
    [(50e-6, 0.95, 3.4696e-9), (100e-6, 0.97, 3.0025e-8), (30e-6, 0.98, 4.9696e-9)],
)
def test_fibre_permeability_is_davies(wire, voidage, by_hand):
    assert packing.fibre_permeability_davies(wire, voidage) == pytest.approx(by_hand, rel=2e-5)


def test_the_bed_of_grains_form_reads_too_low_for_wool():
    # Tamayol, Wong and Bahrami: Ergun's equation is not suitable for highly porous fibres; the refusal names the form
    from frothline.errors import OutsideValidity

    with pytest.raises(OutsideValidity, match="fibre form"):
        packing.ergun(75e-6, 0.95, 1.0, 1.2, 1.81e-5)


@pytest.mark.parametrize("open_fraction", [0.3, 0.4, 0.5, 0.6, 0.7])
def test_screen_loss_lies_among_independent_correlations(open_fraction):
    # Blevins' table through fluids at a wire Reynolds number of 200, round wire: 15 % apart
    known = fluids.filters.round_edge_screen(open_fraction, 200.0)
    assert packing.screen_loss_idelchik(open_fraction) == pytest.approx(known, rel=0.15)


def test_open_fraction_of_a_mesh_is_the_makers():
    # woven mesh tables: 1.00 mm opening of 0.50 mm wire has 44 % open area (ISO 9044 form (w/(w+d))²)
    assert packing.screen_open_fraction(0.5e-3, 1.0e-3) == pytest.approx(0.444, abs=0.001)


def test_voidage_of_a_knitted_pad_agrees_with_fluids():
    known = fluids.packed_tower.voidage_experimental(m=126, rho=8000, D=1, H=1)
    assert packing.voidage_from_mass(126.0, 8000.0, 1.0, 1.0) == pytest.approx(known, rel=1e-12)


def test_pore_of_wire_wool_agrees_with_the_specific_area_in_fluids():
    # hydraulic diameter is four times the voidage over the area per volume
    area = fluids.packed_tower.specific_area_mesh(voidage=0.934, d=3e-4)
    assert packing.pore_diameter_fibre(3e-4, 0.934) == pytest.approx(4 * 0.934 / area, rel=1e-12)


@pytest.mark.parametrize(("X", "times"), [(1.0, 4.213322), (0.5, 3.546617), (2.0, 3.546617), (0.1, 1.777051)])
def test_wet_multiplier_is_larkins(X, times):
    # 10^(0.416/(0.666 + (log10 X)²)), worked by hand for X = 1: 10^0.624625 = 4.2133; on the sum of both drops
    multiplier = packing.wet_multiplier_larkins(100.0, 100.0 * X * X)
    assert multiplier.value == pytest.approx(times * (1 + X * X), rel=1e-6)


def test_capillary_entry_of_half_a_millimetre_is_240_pascal():
    # Young and Laplace, 4σ/d, detergent solution of 0.030 N/m; Clift's value for plain water in 1 mm: 291 Pa
    assert packing.capillary_entry(0.030, 0.5e-3) == pytest.approx(240.0)
    assert packing.capillary_entry(0.0728, 1e-3) == pytest.approx(291.2)


def test_pressure_drop_keeps_the_sign_of_the_flow():
    speeds = np.array([-0.4, 0.0, 0.4])
    drops = packing.ergun(1e-3, 0.4, speeds, 1.2, 1.8e-5)
    assert drops[0] == -drops[2]
    assert drops[1] == 0.0
