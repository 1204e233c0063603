"""JSON texts of messages: the same values as the standard library reads and writes, whatever the texts hold."""

import json
import math

import numpy as np
import plotly.graph_objects as go
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from frothline.web.json_text import json_bytes, read_json

VALUES = st.recursive(
    st.none()
    | st.booleans()
    | st.integers(-(2**53), 2**53)
    | st.floats(allow_nan=False, allow_infinity=False)
    | st.text(),
    lambda inside: st.lists(inside, max_size=4) | st.dictionaries(st.text(), inside, max_size=4),
    max_leaves=12,
)


@settings(max_examples=150, deadline=None, derandomize=True)
@given(VALUES)
def test_what_is_written_is_read_back_by_the_standard_library_and_by_us(value):
    text = json_bytes(value)
    assert json.loads(text) == value
    assert read_json(text) == value


def test_a_number_that_is_not_finite_is_null_which_breaks_a_line():
    assert json_bytes([1.0, math.nan, math.inf, np.float64("nan")]) == b"[1.0,null,null,null]"
    assert json_bytes(np.array([0.5, math.nan])) == b"[0.5,null]"


def test_half_of_a_surrogate_pair_is_written_and_read_escaped():
    """A file name in an old encoding becomes such a text; a text field of a page can send one."""
    name = b"caf\xe9".decode("utf-8", "surrogateescape")
    assert json.loads(json_bytes({"name": name})) == {"name": name}
    assert read_json('{"name": "a\\ud800"}') == {"name": "a\ud800"}


def test_a_drawn_figure_is_written_as_plotly_writes_it():
    figure = go.Figure(go.Scatter(x=np.arange(3.0), y=[1, None, 3])).to_plotly_json()
    assert json.loads(json_bytes({"figure": figure})) == {"figure": json.loads(go.Figure(figure).to_json())}


@pytest.mark.parametrize("text", ["", "{", "nonsense", b"\xff", "[1,]", "{'a': 1}"])
def test_what_is_no_json_is_a_value_error(text):
    with pytest.raises(ValueError):
        read_json(text)
