"""Formulas as markup: what is shown can be worked out again, read aloud, and holds no script."""

import re
from decimal import Decimal
from xml.etree import ElementTree

import pytest

from labbook.typesetting import mathml
from labbook.typesetting.formulas import plain, spoken
from labbook.typesetting.numbers import THIN_SPACE
from labbook.typesetting.working_symbols import ALL, working_symbol
from labbook.typesetting.written_steps import WrittenStep, written_parts
from reduction.inputs import RunInputs
from reduction.reduce_run import reduce_run
from reduction.working import Step, working
from reduction.working import expressions as tree
from tests.reduction.conftest import readings
from tests.reduction.test_working import ADDED, EVERY_CORRECTION, METHODS, NAPHTHALENE, NOISY

MASS = tree.Symbol("m", "g", 0.98765, 4)
ENERGY = tree.Symbol("dc_u", "J/g", -39912.43, 2)
NUMBER = re.compile(r"[\d.]+(?:E-?\d+)?")
SIGNS = {"×": "*", "−": "-", "\u2062": "*", "+": "+", "(": "(", ")": ")"}


def as_python(node: ElementTree.Element) -> str:
    """What a row of numbers says, units left aside, as an expression to evaluate."""
    inside = [as_python(child) for child in node]
    match node.tag:
        case "mn":
            return f"Decimal('{(node.text or '').replace(THIN_SPACE, '')}')"
        case "mo":
            return SIGNS[node.text or ""]
        case "mtext" | "mspace":
            return ""
        case "mi":
            return "ln"
        case "mfrac":
            return f"(({inside[0]})/({inside[1]}))"
        case "msup" if inside[0]:
            return f"(({inside[0]})**({inside[1]}))"
        case "msup":
            return ""  # the power of a unit
        case "msqrt":
            return f"({''.join(inside)}).sqrt()"
        case _:
            return "".join(inside)


def evaluated(markup: str) -> Decimal:
    source = as_python(ElementTree.fromstring(f"<mrow>{markup}</mrow>"))
    return Decimal(eval(source, {"Decimal": Decimal, "ln": Decimal.ln}))


def steps_of(method: str) -> tuple[Step, ...]:
    """The working of an unknown with every correction there is."""
    run = ADDED | {
        "kind": "unknown",
        "readings": readings(NOISY),
        "fired_at_s": 300.0,
        "charge_g": 0.8123,
        "acid": {"titre_ml": 8.2, "titrant_mol_per_l": 0.0709, "kj_per_mol": 59.7},
        "nominal_water_g": 2000.0,
        "bomb": {"volume_ml": 340.0, "water_ml": 1.0, "oxygen_atm": 30.0},
        "heat_capacity": {"j_per_k": 10000.0, "u_j_per_k": 12.0, "from": "spring, bench 2"},
        "substance": NAPHTHALENE,
        "method": {"rise": method, "corrections": EVERY_CORRECTION},
    }
    inputs = RunInputs.from_dict(run)
    return working(inputs, reduce_run(inputs).as_dict())


def written(steps: tuple[Step, ...]) -> list[WrittenStep]:
    return written_parts({"all": steps})[0][1]


@pytest.mark.parametrize("method", METHODS)
def test_the_numbers_on_the_page_give_the_result_on_the_page(method: str) -> None:
    for step in steps_of(method):
        if step.expression is None:
            continue
        found = evaluated(mathml.with_numbers(step.expression))
        shown = evaluated(mathml.quantity(step.symbol))
        assert round(found, step.shown_decimals) == shown == step.symbol.shown, step.key


@pytest.mark.parametrize("method", METHODS)
def test_the_lines_of_an_equation_say_the_same(method: str) -> None:
    for row in written(steps_of(method)):
        math = ElementTree.fromstring(row.equation)
        rows = [[as_text(cell) for cell in line] for line in math.iter("mtr")]
        assert rows[0][0] and not any(line[0] for line in rows[1:])
        assert {line[1] for line in rows} <= {"=", "+", "−"}
        assert len(math.get("aria-label", "").split(" equals ")) >= 2


def as_text(node: ElementTree.Element) -> str:
    return "".join(node.itertext())


def test_symbols_are_slanted_letters_with_upright_indices() -> None:
    assert mathml.symbol("dc_H") == (
        '<mrow><msub><mi mathvariant="normal">Δ</mi><mtext>c</mtext></msub><mi>H</mi></mrow>'
    )
    assert mathml.symbol("T_i_mean") == (
        '<msub><mover accent="true"><mi>T</mi><mo>¯</mo></mover><mtext>i</mtext></msub>'
    )


def test_a_negative_number_after_a_sign_stands_in_brackets() -> None:
    product = tree.Product((MASS, ENERGY))
    assert as_text_of(mathml.with_numbers(product)) == ("0.9876\u202fg×(−39\u202f912.43\u202fJ/g)")
    assert as_text_of(mathml.with_symbols(product)) == "m\u2062Δcu"


def as_text_of(markup: str) -> str:
    return as_text(ElementTree.fromstring(f"<mrow>{markup}</mrow>"))


@pytest.mark.parametrize(
    ("value", "shown"),
    [("0.000016492", "1.6492×10−5"), ("0.000001", "10−6"), ("-0.0005", "−5×10−4"), ("0", "0")],
)
def test_small_numbers_carry_a_power_of_ten(value: str, shown: str) -> None:
    assert as_text_of(mathml.number(Decimal(value))) == shown
    assert evaluated(mathml.number(Decimal(value))) == Decimal(value)


def test_text_is_escaped() -> None:
    symbol = tree.Symbol("m", '"><script>alert(1)</script>', 1.0)
    for markup in (mathml.quantity(symbol), mathml.formula("", '"><script>')):
        assert "<script" not in markup
        ElementTree.fromstring(f"<mrow>{markup}</mrow>")


def test_a_formula_is_read_in_words() -> None:
    formula = tree.Negative(tree.Quotient(ENERGY, tree.Square(MASS)))
    assert spoken(formula, numbers=False) == (
        "minus the fraction energy of combustion per gram over mass squared, end of fraction,"
    )
    assert "minus 39912.43 joules per gram" in spoken(formula, numbers=True)


def test_a_formula_on_one_line_can_be_evaluated() -> None:
    for step in steps_of("fraction"):
        assert step.expression is not None
        source = NUMBER.sub(r"Decimal('\g<0>')", plain(step.expression, numbers=True))
        found = Decimal(eval(source, {"Decimal": Decimal, "ln": Decimal.ln, "sqrt": Decimal.sqrt}))
        assert round(found, step.shown_decimals) == step.symbol.shown, step.key


def test_the_symbols_of_one_equation_are_told_apart() -> None:
    faces = [(s.letter, s.before, s.before_index, s.index) for s in ALL.values()]
    twice = {face for face in faces if faces.count(face) > 1}
    # T_f is read off the after line by whichever method needs it; t_i and t are everywhere.
    assert not twice


def test_aids_are_numbered() -> None:
    assert working_symbol("m_aid_2").index == "aid 2"
    assert working_symbol("m_aid_2").words == "mass of the aid 2"
