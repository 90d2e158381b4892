"""Numbers, units and symbols as pages show them and as screen readers speak them.

Thin spaces between groups of three, a space between number and unit, upright units, slanted
quantities: SI Brochure, 9th edition, sections 5.4.2 to 5.4.4. Two digits of an uncertainty that
begins with 1 or 2, else one: common practice, no source.
"""

from decimal import Decimal

import numpy as np
import pytest
from django.template import engines

THIN = "\u202f"
GAP = "\u00a0"


def render(source: str, **context: object) -> str:
    return engines["django"].from_string("{% load figures %}" + source).render(context)


def seen(html: str) -> str:
    return html.split('aria-hidden="true">')[1].split('</span><span class="sr-only">')[0]


def heard(html: str) -> str:
    return html.split('class="sr-only">')[1].split("</span>")[0]


def plain(html: str) -> str:
    return html.split(">", 1)[1].removesuffix("</span>")


def quantity(value: object, u: object = None, unit: str = "", decimals: int | None = None) -> str:
    return render(
        "{% quantity value u unit decimals=decimals %}",
        value=value,
        u=u,
        unit=unit,
        decimals=decimals,
    )


def test_value_is_rounded_by_its_uncertainty_and_spoken_in_words() -> None:
    html = quantity(-5149.837, 20.3, "kJ/mol")
    assert seen(html) == f'−5150{GAP}±{GAP}20{THIN}<span class="unit">kJ/mol</span>'
    assert heard(html) == "minus 5150, plus or minus 20, kilojoules per mole"


@pytest.mark.parametrize(
    ("value", "u", "shown"),
    [
        (10135.26, 12.4, f"10{THIN}135 ± 12"),
        (10135.26, 340.0, f"10{THIN}100 ± 300"),
        (2.49978, 0.00149, "2.4998 ± 0.0015"),
        (1.23456, 0.0234, "1.235 ± 0.023"),
        (-5156.15, 0.92, "−5156.2 ± 0.9"),
        (0.5, 0.096, "0.50 ± 0.10"),
        (26434, 3, f"26{THIN}434 ± 3"),
        (9999.9, 9.6, f"10{THIN}000 ± 10"),
        (0.00002, 0.3, "0.0 ± 0.3"),
    ],
)
def test_digits_end_where_the_uncertainty_does(value: float, u: float, shown: str) -> None:
    assert seen(quantity(value, u)).replace(GAP, " ") == shown


@pytest.mark.parametrize("u", [None, 0.0, -1.0, float("nan"), float("inf"), ""])
def test_without_a_usable_uncertainty_the_asked_decimals_are_shown(u: object) -> None:
    assert seen(quantity(2.49978, u, "K", 4)) == f'2.4998{THIN}<span class="unit">K</span>'


@pytest.mark.parametrize("value", [None, "", float("nan"), float("inf"), "no number", "1e999999"])
def test_what_is_not_a_number_is_a_dash_with_words(value: object) -> None:
    html = quantity(value, None, "K")
    assert (seen(html), heard(html)) == ("–", "no value")


def test_tiny_numbers_take_a_power_of_ten() -> None:
    html = quantity(-3.21e-6, 1.2e-7, "K/s")
    assert seen(html).startswith(f"(−3.21{GAP}±{GAP}0.12){GAP}×{GAP}10<sup>−6</sup>{THIN}")
    assert heard(html) == (
        "minus 3.21, plus or minus 0.12, times ten to the power minus 6, kelvins per second"
    )


def test_numpy_numbers_are_numbers() -> None:
    assert seen(quantity(np.float64(0.1))) == "0.1"
    assert seen(quantity(np.int64(12))) == "12"


@pytest.mark.parametrize(
    ("unit", "html", "words"),
    [
        ("J/(kg K)", f"J/(kg{THIN}K)", "joules per kilogram kelvin"),
        ("g/cm3", "g/cm<sup>3</sup>", "grams per cubic centimetre"),
        ("°C", "°C", "degrees Celsius"),
        ("%", "%", "per cent"),
        ("mol/L", "mol/L", "moles per litre"),
        ("<b>", "&lt;b&gt;", "&lt;b&gt;"),
    ],
)
def test_units_stand_upright_and_are_read_in_words(unit: str, html: str, words: str) -> None:
    shown = render("{{ name|unit }}", name=unit)
    assert (seen(shown), heard(shown)) == (html, words)


def test_per_cent_with_an_uncertainty_is_bracketed() -> None:
    assert seen(quantity(1.234, 0.31, "%")).startswith(f"(1.2{GAP}±{GAP}0.3)")


def test_symbol_has_upright_delta_index_and_slanted_letter() -> None:
    html = render('{% symbol "dc_H" %}')
    assert seen(html) == "Δ<sub>c</sub><i>H</i>"
    assert heard(html) == "molar enthalpy of combustion"
    assert seen(render('{% symbol "dn_g" %}')) == "Δ<i>n</i><sub>g</sub>"


def test_symbols_in_a_sentence_are_set_and_the_rest_is_escaped() -> None:
    html = render("{{ said|symbols_set }}", said="Δ_cU in place of Δ_cH? <b>")
    assert html == (
        render('{% symbol "dc_U" %}') + " in place of " + render('{% symbol "dc_H" %}? &lt;b&gt;')
    )


def test_unknown_symbol_names_the_known_ones() -> None:
    with pytest.raises(KeyError, match="dc_H"):
        render('{% symbol "entropy" %}')


@pytest.mark.parametrize(
    ("source", "value", "shown"),
    [
        ("{{ v|number }}", 1234, "1234"),
        ("{{ v|number }}", 12345, f"12{THIN}345"),
        ("{{ v|number }}", -1234567.5, f"−1{THIN}234{THIN}567.5"),
        ("{{ v|number }}", Decimal("1.0000"), "1.0000"),
        ("{{ v|number }}", 0.123456, f"0.123{THIN}456"),
        ("{{ v|number:2 }}", -0.001, "0.00"),
        ("{{ v|signed:1 }}", 1.25, "+1.2"),
        ("{{ v|signed:1 }}", -1.25, "−1.2"),
        ("{{ v|signed:1 }}", 0, "0.0"),
        ("{{ v|moment }}", 345, "5:45"),
        ("{{ v|moment }}", Decimal("345.5"), "5:45.5"),
        ("{{ v|moment }}", -120, "−2:00"),
        ("{{ v|moment }}", 3725, "1:02:05"),
        ("{{ v|moment }}", 59.97, "1:00"),
        ("{{ v|moment }}", -0.01, "0:00"),
    ],
)
def test_bare_numbers(source: str, value: object, shown: str) -> None:
    assert plain(render(source, v=value)) == shown


def test_points_line_up_and_typed_zeros_stay() -> None:
    column = [plain(render("{{ v|aligned:4 }}", v=v)) for v in ("1.0000", "0.98", "12", 0.99996)]
    assert column == ["1.0000", "0.98\u2007\u2007", "12\u2008" + "\u2007" * 4, "1.0000"]


def test_typed_text_is_kept_and_escaped() -> None:
    assert plain(render("{{ v|as_typed }}", v="1.0000")) == "1.0000"
    assert plain(render("{{ v|as_typed }}", v="<script>")) == "&lt;script&gt;"
    assert heard(render("{{ v|as_typed }}", v="")) == "nothing typed"


def test_counts_in_formulas_are_lowered_and_moles_are_not() -> None:
    equation = render("{{ v|formula }}", v="C10H8 + 12 O2 → 10 CO2 + 4 H2O(l)")
    assert equation == (
        "C<sub>10</sub>H<sub>8</sub> + 12 O<sub>2</sub> → 10 CO<sub>2</sub> + 4 H<sub>2</sub>O(l)"
    )
    assert render("{{ v|formula }}", v="<i>'x27") == "&lt;i&gt;&#x27;x<sub>27</sub>"
