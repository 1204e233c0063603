"""Cells of known foam: the published geometry of random tessellations, the edge, and the simulated foam itself."""

import numpy as np
import pytest
from foam_pictures import Foam

from frothline.bubble_size.segment import Cells, FlatPicture, find_cells
from frothline.bubble_size.sizes import Bubbles, bubbles_of, sampling


def labels_of(foam, side):
    """The true cells of the foam in its square, numbered from 1, with those that the square cuts as pieces."""
    at = (np.arange(side) + 0.5) / side * foam.size
    x, y = np.meshgrid(at, at)
    where = np.column_stack([x.ravel(), y.ravel(), np.zeros(side**2)])
    return (foam.tree.query(where)[1] + 1).reshape(side, side).astype(np.int32)


def flat(side, usable=None):
    whole = np.ones((side, side), bool) if usable is None else usable
    return FlatPicture(np.zeros((side, side), np.float32), 1.0 / side, whole, 0.0, 0.0)


def test_areas_of_a_poisson_voronoi_foam_scatter_as_published():
    """Variance of the area over the squared mean 0.2802 (Gilbert 1962 for the method; the figure of the plane from
    Brakke, Statistics of random plane Voronoi tessellations, 1986/2005, digits from memory); mean area 1/density exactly.
    """
    areas = Foam(4000, 1.0, 0.0, 1, rounds=0).areas(50)
    assert areas.mean() == pytest.approx(1 / 4000, rel=1e-3)
    # standard error of a variance over 4000 areas of a gamma-like law: 3 %
    assert areas.var() / areas.mean() ** 2 == pytest.approx(0.2802, rel=0.08)


def test_cells_have_six_neighbours_on_average():
    """Euler's formula for a plane with three-armed vertices. Pixels merge a few short sides."""
    labels = labels_of(Foam(200, 1.0, 0.3, 3), 400)
    pairs = set()
    for one, two in ((labels[:-1], labels[1:]), (labels[:, :-1], labels[:, 1:])):
        edge = one != two
        pairs |= set(zip(np.minimum(one, two)[edge].tolist(), np.maximum(one, two)[edge].tolist(), strict=True))
    ends = np.bincount([one for pair in pairs for one in pair])
    inside = np.setdiff1d(np.unique(labels), np.unique(np.r_[labels[0], labels[-1], labels[:, 0], labels[:, -1]]))
    assert ends[inside].mean() == pytest.approx(6.0, abs=0.2)


def test_the_edge_does_not_bias_the_mean_area():
    """A window cuts large cells more often. With the weights of Miles and Lantuéjoul the mean of whole cells is that of
    all; without them it is low. The truth is 1/density.
    """
    plain, weighted = [], []
    for seed in range(16):
        found = bubbles_of(flat(110), Cells(labels_of(Foam(60, 1.0, 0.5, seed), 110), True, 0.0, True))
        area = np.pi / 4 * found.diameters**2
        weighted.append([(found.weights * area).sum(), found.weights.sum()])
        plain.append([area.sum(), len(area)])
    sums, counts = np.array(weighted).sum(0), np.array(plain).sum(0)
    truth = np.mean([Foam(60, 1.0, 0.5, seed).areas().mean() for seed in range(16)])
    assert sums[0] / sums[1] == pytest.approx(truth, rel=0.03)
    assert counts[0] / counts[1] < 0.93 * truth


@pytest.mark.exhaustive
def test_a_spoilt_part_does_not_bias_the_mean_area_either():
    usable = np.ones((240, 240), bool)
    usable[90:170, 60:150] = False
    found = []
    for seed in range(12):
        labels = np.where(usable, labels_of(Foam(160, 1.0, 0.4, seed), 240), 0)
        one = bubbles_of(flat(240, usable), Cells(labels, True, 0.0, True))
        found.append([(one.weights * np.pi / 4 * one.diameters**2).sum(), one.weights.sum()])
    sums = np.array(found).sum(0)
    assert sums[0] / sums[1] == pytest.approx(1 / 150, rel=0.08)  # of 160 points a few have no cell


def test_a_part_without_films_is_no_bubble_and_no_room_for_one():
    """Half of the window is liquid: one large cell at the edge. The others are those of a window of half the height."""
    labels = labels_of(Foam(160, 1.0, 0.3, 4), 160)
    labels[80:] = 161
    half = bubbles_of(flat(160), Cells(labels, True, 0.0, True))
    assert half.empty == pytest.approx(0.5)
    assert 161 not in half.numbers
    assert half.seen == len(np.unique(labels[:80]))
    usable = np.ones((160, 160), bool)
    usable[80:] = False
    spoilt = bubbles_of(flat(160, usable), Cells(np.where(usable, labels, 0), True, 0.0, True))
    assert half.sauter == pytest.approx(spoilt.sauter)


def test_the_sauter_mean_is_of_cubes_over_squares():
    one = Bubbles(np.array([1.0, 2.0]), np.array([3.0, 1.0]), np.zeros((2, 2)), np.array([1, 2]), 2, 0.0, 1.0)
    assert one.sauter == pytest.approx((3 + 8) / (3 + 4))
    assert one.median == 1.0
    assert one.spread == pytest.approx(np.sqrt(3) / 4 / 1.25)


@pytest.mark.exhaustive
def test_the_interval_of_the_sample_is_as_wide_as_repeated_windows_scatter():
    """Windows of one kind of foam: their Sauter means scatter as the bootstrap of each says, within a third."""
    means, stated = [], []
    for seed in range(25):
        one = bubbles_of(flat(200), Cells(labels_of(Foam(150, 1.0, 0.4, seed), 200), True, 0.0, True))
        means.append(np.log(one.sauter))
        stated.append(sampling(one)[0])
    assert 0.67 < np.median(stated) / np.std(means) < 1.6


def test_one_tile_gives_no_interval():
    one = Bubbles(np.ones(5), np.ones(5), np.full((5, 2), 0.5), np.arange(5), 5, 0.0, 1.0)
    assert sampling(one)[0] == float("inf")


@pytest.mark.parametrize("dark", [True, False])
def test_films_may_be_darker_or_brighter_than_bubbles(dark):
    foam = Foam(80, 1.0, 0.3, 5)
    at = (np.arange(180) + 0.5) / 180
    x, y = np.meshgrid(at, at)
    films = np.exp(-((foam.wall_distance(np.column_stack([x.ravel(), y.ravel()])).reshape(x.shape) / 0.006) ** 2))
    light = (150 - 80 * films if dark else 80 + 100 * films).astype(np.float32)
    light += np.random.default_rng(0).normal(0, 2, light.shape).astype(np.float32)
    picture = FlatPicture(light, 1 / 180, np.ones(light.shape, bool), 0.0, 0.0)
    cells = find_cells(picture)
    assert cells.dark is dark
    assert cells.films
    found = bubbles_of(picture, cells)
    true = bubbles_of(picture, Cells(labels_of(foam, 180), True, 0.0, True))
    assert found.sauter == pytest.approx(true.sauter, rel=0.03)
    assert len(found.diameters) == pytest.approx(len(true.diameters), abs=3)
