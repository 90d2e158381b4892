"""How often chance alone makes things agree, against textbook values and scipy's distributions."""

import numpy as np
import pytest
from scipy import stats

from reduction.likeness.chance import agreeing_bound, at_least, chance_of_any


def test_the_birthday_of_23_people() -> None:
    # 0.507 for 23 people and 365 days: common textbook value (Feller, vol. 1, II.3, from memory).
    assert chance_of_any(23, 365) == pytest.approx(0.507, abs=5e-4)
    assert chance_of_any(22, 365) < 0.5 < chance_of_any(23, 365)
    assert chance_of_any(1, 365) == 0.0 and chance_of_any(366, 365) == 1.0


@pytest.mark.parametrize(("found", "expected"), [(0, 0.3), (1, 0.02), (2, 0.02), (5, 3.0)])
def test_coincidences_follow_poissons_law(found: int, expected: float) -> None:
    # scipy.stats.poisson, a general-purpose library.
    assert at_least(found, expected) == pytest.approx(stats.poisson.sf(found - 1, expected))


def test_the_bound_is_never_below_the_chance_it_bounds() -> None:
    # scipy.stats.binom gives the chance itself.
    for chance in (0.1, 0.35, 0.6):
        for n in (10, 40, 100):
            for k in range(int(n * chance) + 1, n + 1):
                exact = stats.binom.sf(k - 1, n, chance)
                assert agreeing_bound(k / n, chance, n) >= exact * (1 - 1e-9)


def test_the_bound_is_sharp_where_all_agree_and_silent_where_few_do() -> None:
    assert agreeing_bound(1.0, 0.35, 20) == pytest.approx(0.35**20)
    assert agreeing_bound(0.35, 0.35, 20) == 1.0
    assert np.isclose(agreeing_bound(1.0, 1.0, 5), 1.0)
