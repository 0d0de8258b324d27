"""Categories on arrays: codes to numbers, missing stays missing."""

from __future__ import annotations

import numpy as np
import pytest

from setupadvisor.errors import ImpossibleValue
from setupadvisor.facts.categories import indices, look_up


@pytest.mark.parametrize("code", [-1.0, 3.0, 0.5, np.inf])
def test_a_code_that_is_no_place_in_the_table_is_refused(code: float) -> None:
    with pytest.raises(ImpossibleValue, match="ground"):
        indices([0.0, code], 3, "ground")


def test_look_up_follows_the_code_and_keeps_missing() -> None:
    table = np.array([5.0, 6.0, 7.0])
    np.testing.assert_array_equal(look_up(table, [2.0, np.nan, 0.0], "ground"), [7.0, np.nan, 5.0])
