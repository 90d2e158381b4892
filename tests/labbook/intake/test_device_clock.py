"""The offset of a device's clock: the least delayed post counts, a clock that was set is seen."""

from __future__ import annotations

import random
from itertools import pairwise

import pytest

from labbook.intake.device_clock import DeviceClock
from labbook.intake.intervals import holds, with_numbers


def after(posts: list[tuple[float, float]], *, hold: bool = False) -> DeviceClock:
    clock = DeviceClock()
    for number, (sent_at, now) in enumerate(posts):
        clock = clock.heard(sent_at, now, [(number, sent_at)], hold=hold)
    return clock


def test_the_least_delayed_of_the_last_posts_counts() -> None:
    delays = [0.8, 0.3, 0.05, 2.0, 0.4]
    clock = after([(t, t + 43 + delay) for t, delay in enumerate(delays)])
    assert clock.offset_s == pytest.approx(43.05)


def test_a_clock_that_runs_fast_is_followed_while_nothing_is_measured() -> None:
    clock = after([(t * 1.0001, t) for t in range(0, 50_000, 100)])
    assert clock.offset_s == pytest.approx(-4.99, abs=0.1)
    assert clock.jumped_s == 0


def test_the_offset_is_held_while_readings_come() -> None:
    delays = [0.8, 0.3, 0.05, 0.4]
    clock = after([(t, t + delay) for t, delay in enumerate(delays)], hold=True)
    assert clock.offset_s == pytest.approx(0.8)


def test_one_slow_post_is_not_taken_for_a_clock_that_was_set() -> None:
    clock = after([(0, 0.1), (1, 1.1), (2, 19.0), (3, 19.1)], hold=True)
    assert clock.offset_s == pytest.approx(0.1)


@pytest.mark.parametrize("jump_s", [3600.0, -3600.0])
def test_readings_from_before_a_jump_in_the_post_that_shows_it_keep_their_place(
    jump_s: float,
) -> None:
    clock = after([(t, t) for t in range(5)], hold=True)
    sent = [(5, 5.0), (6, 6.0), (7, 7.0 + jump_s), (8, 8.0 + jump_s)]
    clock = clock.heard(8.0 + jump_s, 8.0, sent, hold=True)
    assert clock.jumped_s == pytest.approx(jump_s)
    assert [clock.moment_of(shown, 8.0) for _, shown in sent] == [5.0, 6.0, 7.0, 8.0]


def test_what_is_stored_comes_back() -> None:
    clock = after([(0, 0.1), (1, 1.1)])
    assert DeviceClock.from_stored(clock.as_stored()) == clock
    assert DeviceClock.from_stored({}) == DeviceClock()


def test_intervals_hold_exactly_the_numbers_put_in() -> None:
    chance = random.Random(3)
    for _ in range(50):
        numbers = {chance.randrange(60) for _ in range(chance.randrange(50))}
        first, second = set(list(numbers)[::2]), set(list(numbers)[1::2])
        intervals = with_numbers(with_numbers([], first), second)
        assert {n for n in range(-1, 62) if holds(intervals, n)} == numbers
        assert all(a[1] + 1 < b[0] for a, b in pairwise(intervals))
