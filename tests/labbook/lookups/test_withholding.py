"""When a figure over groups is shown: never where a group could be told from it."""

from labbook.lookups.withholding import (
    FEW,
    FEWEST_GROUPS,
    NONE,
    QUARTERS_FROM,
    SO_THAT_NONE_FOLLOWS,
    Cells,
    cells_of,
)


def of_sizes(*sizes: int) -> Cells:
    """Parts of so many groups, valued 0, 1, 2 …"""
    values = {f"S{place}": [float(v) for v in range(size)] for place, size in enumerate(sizes)}
    return cells_of(values, [value for own in values.values() for value in own])


def withheld(cells: Cells) -> list[str]:
    return [cell.withheld for cell in (*cells.parts, cells.total)]


def test_five_groups_are_enough_and_four_are_not() -> None:
    # Such a least number is common practice, no source.
    assert FEWEST_GROUPS == 5
    assert withheld(of_sizes(5, 6)) == ["", "", ""]
    assert withheld(of_sizes(4, 4)) == [FEW, FEW, ""]


def test_a_part_that_would_follow_from_the_total_takes_the_next_smallest_along() -> None:
    assert withheld(of_sizes(3, 7, 9)) == [FEW, SO_THAT_NONE_FOLLOWS, "", ""]


def test_two_small_parts_together_may_still_be_too_few() -> None:
    """1 and 2 groups: what the total less the others leaves would be of 3 groups."""
    assert withheld(of_sizes(1, 2, 8, 9)) == [FEW, FEW, SO_THAT_NONE_FOLLOWS, "", ""]
    assert withheld(of_sizes(2, 3, 8)) == [FEW, FEW, "", ""]


def test_the_total_goes_where_nothing_else_covers_a_part() -> None:
    assert withheld(of_sizes(2, 2)) == [FEW, FEW, FEW]
    assert withheld(of_sizes(1, 4)) == [FEW, FEW, ""]
    assert withheld(of_sizes(3, 0, 6)) == [FEW, NONE, SO_THAT_NONE_FOLLOWS, ""]
    assert withheld(cells_of({"S": [1.0] * 3}, [1.0] * 9))[1] == SO_THAT_NONE_FOLLOWS


def test_no_value_at_all_is_told_as_that() -> None:
    assert withheld(of_sizes(0, 0)) == [NONE, NONE, NONE]


def test_a_withheld_cell_carries_nothing() -> None:
    cell = of_sizes(4, 9).parts[0]
    assert (cell.n, cell.median, cell.lower, cell.upper) == (None, None, None, None)


def test_quartiles_come_only_where_none_is_one_groups_value() -> None:
    few, many = of_sizes(QUARTERS_FROM - 1, QUARTERS_FROM).parts
    assert (few.n, few.median, few.lower) == (7, 3.0, None)
    # Quartiles of 0 … 7 by linear interpolation (numpy's default, Hyndman and Fan's type 7).
    assert (many.lower, many.median, many.upper) == (1.75, 3.5, 5.25)
    assert all(quartile not in range(8) for quartile in (many.lower, many.upper))


def test_figures_are_rounded_to_what_is_printed() -> None:
    cell = of_sizes(8, 8).total.rounded(1)
    assert (cell.lower, cell.median, cell.upper) == (1.8, 3.5, 5.2)
