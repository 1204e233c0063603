"""The drilled plates: which holes, and the flow through them."""

import csv
from pathlib import Path

import numpy as np
import printed
import pytest

from frothline.sensors.spool import Spool

HARDWARE = Path(__file__).parents[2] / "hardware" / "spool"
plates = printed.script("plates")


def test_the_plates_spread_a_sweep_evenly_along_the_curve():
    """No step along the scaled curve is longer than half as much again as an equal one."""
    chosen = plates.choose(Spool.default().pipe.bore)
    along = np.array([(0.0, 1.0), *(p.along for p in chosen)])
    steps = np.hypot(*np.diff(along, axis=0).T)
    assert len(chosen) == plates.PLATES
    assert steps.max() < 1.5 * steps.mean()
    assert chosen[-1].pressure < 0.1 * plates.SHUT_OFF  # the open end is reached


def test_the_flow_through_a_plate_agrees_with_a_hand_calculation():
    """20 mm plate at 13 879 Pa by the textbook orifice: 0.60 x area x sqrt(2 x 13 879 / 1.2) = 0.02867 m3/s free of
    expansion; with 0.974 for it (ISO 5167-2 at 12 % pressure ratio) 0.0279. The pipe (a bore ratio of 0.32) adds 1.1 %
    by the approach and the milder contraction, which the hand calculation leaves out; hence 1.5 %."""
    p = plates.plate(0.020, Spool.default().pipe.bore)
    by_hand = 0.60 * np.pi / 4 * 0.020**2 * np.sqrt(2 * p.pressure / 1.2)
    expansion = 1 - 0.351 * (1 - (101_325 / (101_325 + p.pressure)) ** (1 / 1.4))
    assert p.flow == pytest.approx(by_hand * expansion, rel=0.015)


def test_the_list_of_plates_is_the_one_computed():
    with (HARDWARE / "plates.csv").open(encoding="utf-8") as file:
        listed = [float(row["hole_mm"]) for row in csv.DictReader(file)]
    assert listed == pytest.approx([p.hole * 1e3 for p in plates.choose(Spool.default().pipe.bore)])
