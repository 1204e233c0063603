"""The promise of the traces: no extreme is hidden, gaps are seen, and nothing shimmers."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from frothline.web.charts.decimate import column_size, min_max

values = st.lists(st.floats(-1e6, 1e6) | st.just(float("nan")), min_size=1, max_size=400)


@settings(deadline=None)
@given(values, st.integers(1, 60), st.integers(0, 10_000))
def test_highest_and_lowest_sample_are_always_in_the_picture(value, columns, first):
    value = np.array(value)
    drawn = min_max(np.arange(len(value)) / 100, value, columns, first=first)
    if np.isfinite(value).any():
        assert np.nanmax(drawn.value) == np.nanmax(value)
        assert np.nanmin(drawn.value) == np.nanmin(value)
    else:
        assert drawn.value.size == 0


@settings(deadline=None)
@given(values, st.integers(1, 60), st.integers(0, 10_000))
def test_every_drawn_point_is_a_sample_at_its_own_time_in_order(value, columns, first):
    value = np.array(value)
    time = np.arange(len(value)) / 100
    drawn = min_max(time, value, columns, first=first)
    known = np.isfinite(drawn.value)
    where = np.searchsorted(time, drawn.time[known])
    assert np.array_equal(value[where], drawn.value[known])
    assert (np.diff(drawn.time) >= 0).all()


@settings(deadline=None)
@given(values, st.integers(1, 60), st.integers(0, 10_000), st.booleans())
def test_each_column_keeps_its_first_lowest_and_first_highest_sample(value, columns, first, whole):
    """By a plain loop; with and without unknown samples, which take different ways."""
    if whole:
        value = [0.0 if item != item else round(item, -5) for item in value]  # noqa: PLR0124  equal ones occur
    value = np.array(value)
    size, kept, column = column_size(len(value), columns), [], {}
    unknown = np.cumsum(np.isnan(value))
    for k in np.flatnonzero(np.isfinite(value)).tolist():  # an unknown sample ends a column
        column.setdefault(((first + k) // size, unknown[k]), []).append(k)
    for samples in column.values():
        found = {min(samples, key=lambda k: (value[k], k)), min(samples, key=lambda k: (-value[k], k))}
        kept += sorted(found)
    drawn = min_max(np.arange(len(value)) / 100, value, columns, first=first)
    known = np.isfinite(drawn.value)
    assert (drawn.time[known] * 100).round().astype(int).tolist() == kept


def test_a_lonely_spike_among_a_million_samples_is_drawn():
    value = np.zeros(1_000_000)
    value[765_432] = 3.0
    drawn = min_max(np.arange(value.size) / 500, value, 800)
    assert drawn.value.max() == 3.0
    assert drawn.time[drawn.value.argmax()] == 765_432 / 500
    assert drawn.value.size <= 2 * 801


def test_the_same_samples_give_the_same_points_while_the_window_slides():
    """Columns are tied to sample numbers: inside both windows the drawn points are the same, so nothing shimmers."""
    rng = np.random.default_rng(4)
    value = rng.normal(size=5000)
    time = np.arange(5000) / 100
    one = min_max(time[:4000], value[:4000], 300, first=0)
    other = min_max(time[37:4037], value[37:4037], 300, first=37)
    size = column_size(4000, 300) / 100
    inside = (37 / 100 + size, 40 - size)
    for a, b in ((one, other), (other, one)):
        kept = a.time[(a.time > inside[0]) & (a.time < inside[1])]
        assert np.isin(kept, b.time).all()
    assert kept.size > 400


def test_a_gap_in_time_breaks_the_line():
    time = np.concatenate((np.arange(100), np.arange(300, 400))) / 100
    drawn = min_max(time, np.ones(200), 50, gap=0.35)
    broken = np.isnan(drawn.value)
    assert broken.sum() == 1
    assert drawn.time[broken] == 0.99


def test_an_unknown_sample_breaks_the_line_and_is_not_bridged():
    value = np.ones(200)
    value[80:90] = np.nan
    drawn = min_max(np.arange(200) / 100, value, 50)
    assert np.isnan(drawn.value).sum() == 1
    assert not ((drawn.time > 0.79) & (drawn.time < 0.90)).any()


def test_no_samples_is_no_line():
    assert min_max(np.empty(0), np.empty(0), 100).value.size == 0


def test_a_picture_without_columns_is_refused():
    with pytest.raises(ValueError, match="at least one column"):
        column_size(100, 0)
