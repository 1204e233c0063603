"""An estimate is a value inside its own interval, or an unknown value with its reason."""

import math

import pytest

from frothline.errors import FrothlineError, InvalidEstimate
from frothline.estimate import Estimate

nan, inf = math.nan, math.inf


@pytest.mark.parametrize(
    ("lower", "upper"), [(2.0, 3.0), (-1.0, 0.5), (-7.89e3, 0.5), (nan, 2.0), (0.0, nan), (nan, nan)]
)
def test_a_value_outside_its_interval_or_without_one_does_not_exist(lower, upper):
    with pytest.raises(InvalidEstimate) as refused:
        Estimate(1.0, 0.1, lower, upper, "kPa")
    assert isinstance(refused.value, FrothlineError)
    assert "1 kPa is not inside its interval" in refused.value.what
    assert "nan" not in str(refused.value)
    assert refused.value.remedy


@pytest.mark.parametrize(
    ("value", "lower", "upper"),
    [
        (1.0, 0.5, 2.0),
        (1.0, 1.0, 1.0),
        (1.0, 1.0, 2.0),
        (1.0, 0.0, inf),
        (inf, 3.0, inf),
        (nan, nan, nan),
        (nan, 2.0, inf),
    ],
)
def test_a_value_inside_its_interval_or_an_unknown_one_exists(value, lower, upper):
    Estimate(value, 0.1, lower, upper, "kPa")


def test_a_changed_copy_is_examined_too():
    from dataclasses import replace

    with pytest.raises(InvalidEstimate):
        replace(Estimate.normal(1.0, 0.1, "m"), value=5.0)
