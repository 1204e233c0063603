"""Student's factor and the corrected information criterion against printed tables and worked figures."""

import math

import numpy as np
import pytest

from frothline.numerics.information import aicc
from frothline.numerics.uncertainty import KNOWN, student_factor


@pytest.mark.parametrize(
    ("freedom", "level", "factor"), [(1, 0.95, 12.706), (2, 0.95, 4.303), (10, 0.95, 2.228), (30, 0.99, 2.750)]
)
def test_students_factor_is_that_of_the_printed_tables(freedom, level, factor):
    # NIST/SEMATECH e-Handbook of Statistical Methods, section 1.3.6.7.2
    assert student_factor(freedom, level) == pytest.approx(factor, abs=5e-4)


def test_students_factor_of_many_is_that_of_each_and_the_normal_one_where_all_is_known():
    many = student_factor(np.array([1.0, 2.5, 1e12]))
    assert many == pytest.approx([float(student_factor(1.0)), float(student_factor(2.5)), 1.959964], rel=1e-6)
    assert student_factor(KNOWN) == student_factor(math.inf)


def test_the_corrected_criterion_by_hand():
    # chi^2 12, n 10, k 2: known scale 12 + 4 + 12/7; with the scale estimated k is 3: 10 ln 1.2 + 6 + 24/6
    assert aicc(12.0, 10, 2, scale_known=True) == pytest.approx(12 + 4 + 12 / 7)
    assert aicc(12.0, 10, 2) == pytest.approx(10 * math.log(1.2) + 6 + 4)


def test_the_criterion_is_infinite_where_the_points_cannot_pay_for_the_coefficients():
    assert aicc(1.0, 3, 2, scale_known=True) == math.inf
    assert aicc(1.0, 4, 2) == math.inf
