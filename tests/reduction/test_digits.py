"""Values are written to the digits their uncertainty bears."""

import pytest

from reduction import InputError
from reduction.digits import digits_note, stated


@pytest.mark.parametrize(
    ("value", "u", "written"),
    [
        (-5149.837, 20.0, "−5150 ± 20"),
        (-5149.837, 18.4, "−5150 ± 18"),
        (-5149.837, 4.2, "−5150 ± 4"),
        (-5149.837, 340.0, "−5100 ± 300"),
        (10135.27, 0.96, "10135.3 ± 1.0"),
        (10135.27, 12.0, "10135 ± 12"),
        (2.49982, 0.0004, "2.4998 ± 0.0004"),
        (2.49982, 0.00013, "2.49982 ± 0.00013"),
        (0.5, 1000.0, "0 ± 1000"),
    ],
)
def test_value_and_uncertainty_are_rounded_alike(value: float, u: float, written: str) -> None:
    # Two digits of u where it begins with 1 or 2, else one: common practice, no source.
    assert stated(value, u) == written


def test_digits_beyond_the_uncertainty_are_named_with_what_to_write() -> None:
    note = digits_note("-5149.837", 20.0, "kJ/mol")
    assert note is not None and (note.code, note.severity) == ("too_many_digits", "N")
    assert note.sentence == "Write −5150 ± 20 kJ/mol, not −5149.837."


@pytest.mark.parametrize("written", ["−5149,84", " -5149.8 ", "-5149.0"])
def test_commas_true_minus_and_trailing_zeros_are_digits_as_typed(written: str) -> None:
    assert digits_note(written, 20.0) is not None


@pytest.mark.parametrize("written", ["-5150", "-5149", "-5.1e3", "-5100"])
def test_a_value_its_uncertainty_bears_is_left_alone(written: str) -> None:
    assert digits_note(written, 20.0) is None


@pytest.mark.parametrize(
    ("written", "u"), [("about 5", 1.0), ("5", 0.0), ("5", -1.0), ("nan", 1.0)]
)
def test_what_is_no_figure_is_refused(written: str, u: float) -> None:
    with pytest.raises(InputError, match="expected"):
        digits_note(written, u)
