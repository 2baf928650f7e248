"""Numbers of an answer, one at a time and by the column."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.api.schemas.fields import Figure
from service.planning.compact import rounded


@given(st.lists(st.floats(1e-9, 1e9), min_size=1), st.sampled_from([3, 4, 12]))
def test_a_column_is_rounded_as_its_numbers_are(numbers, digits):
    figure = Figure(digits)
    for many, one in zip(
        rounded(np.array(numbers), digits), map(figure.checked, numbers), strict=True
    ):
        assert many == one or abs(many - one) <= 10.0 ** (
            math.floor(math.log10(one)) - digits + 1.01
        )
        assert float(f"{many:.{digits}g}") == many


@pytest.mark.parametrize(
    ("number", "expected"),
    [
        (0.0, 0.0),
        (-0.0, 0.0),
        (-1.23456, -1.235),
        (9.9996, 10.0),
        (1000.4, 1000.0),
        (123456.0, 123500.0),
    ],
)
def test_a_rounded_number_has_the_digits_of_its_field(number, expected):
    assert rounded(np.array([number]), 4) == [expected]


def test_a_number_that_is_none_stays_none():
    assert rounded(np.array([np.nan, 1.0]), 3) == [None, 1.0]
