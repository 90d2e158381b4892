"""Tags and filters that set numbers, units and symbols, each with words for a screen reader."""

import re
from decimal import Decimal

from django import template
from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString

from labbook.typesetting import numbers, units
from labbook.typesetting.numbers import Figures, Number
from labbook.typesetting.symbols import symbol as named_symbol

register = template.Library()
_SUBSCRIPT = re.compile(r"(?<=[A-Za-z)\]])(\d+)")
_NAMED = re.compile(r"Δ_(c[uUH]|fH)")


def _seen_and_heard(css_class: str, seen: str, heard: str) -> SafeString:
    """Typeset for the eye, plain words for the ear."""
    return format_html(
        '<span class="{}"><span aria-hidden="true">{}</span><span class="sr-only">{}</span></span>',
        css_class,
        seen,
        heard,
    )


def _unit_html(name: str) -> SafeString:
    return format_html_join(
        "",
        "{}",
        (
            (format_html("<sup>{}</sup>", piece) if raised else piece,)
            for piece, raised in units.set_unit(name)
        ),
    )


@register.simple_tag
def quantity(
    value: Number | None,
    u: Number | None = None,
    unit: str = "",
    decimals: int | None = None,
) -> SafeString:
    """−5150 ± 20 kJ/mol: the value rounded by its uncertainty, which is shown beside it."""
    rounded = numbers.figures(value, u, decimals)
    if rounded is None:
        return _seen_and_heard("quantity missing", numbers.MISSING, "no value")
    return _seen_and_heard(
        "quantity", _quantity_html(rounded, unit), _quantity_words(rounded, unit)
    )


def _quantity_html(rounded: Figures, unit: str) -> SafeString:
    value = numbers.set_decimal(rounded.value)
    if rounded.u is not None:
        value = f"{value} ± {numbers.set_decimal(rounded.u)}".replace(" ", "\u00a0")
    if rounded.u is not None and (rounded.power or unit == "%"):
        value = f"({value})"
    power = _power_html(rounded.power)
    gap = numbers.THIN_SPACE if unit else ""
    unit_html = format_html('<span class="unit">{}</span>', _unit_html(unit)) if unit else ""
    return format_html("{}{}{}{}", value, power, gap, unit_html)


def _power_html(power: int) -> SafeString | str:
    if not power:
        return ""
    exponent = numbers.set_decimal(Decimal(power))
    return format_html("\u00a0×\u00a010<sup>{}</sup>", exponent)


def _quantity_words(rounded: Figures, unit: str) -> str:
    words = [numbers.spoken_decimal(rounded.value)]
    if rounded.u is not None:
        words[0] += ", plus or minus " + numbers.spoken_decimal(rounded.u)
    if rounded.power:
        words.append(f"times ten to the power {numbers.spoken_decimal(Decimal(rounded.power))}")
    if unit:
        words.append(units.spoken_unit(unit))
    return (", " if rounded.u is not None else " ").join(words)


@register.simple_tag
def symbol(name: str) -> SafeString:
    """The symbol of a quantity; `symbol "dc_H"` sets Δ, index c and a slanted H."""
    known = named_symbol(name)
    seen = format_html(
        "{}{}<i>{}</i>{}",
        known.before,
        *_indexed(known.before_index, known.letter, known.index),
    )
    return _seen_and_heard("symbol", seen, known.words)


def _indexed(
    before: str, letter: str, after: str
) -> tuple[SafeString | str, str, SafeString | str]:
    return (
        format_html("<sub>{}</sub>", before) if before else "",
        letter,
        format_html("<sub>{}</sub>", after) if after else "",
    )


@register.filter
def symbols_set(sentence: object) -> SafeString:
    """A plain sentence with Δ_cu, Δ_cU, Δ_cH and Δ_fH in it as symbols."""
    pieces = _NAMED.split(str(sentence))
    return format_html_join(
        "",
        "{}",
        (
            (symbol(f"d{piece[0]}_{piece[1]}") if place % 2 else piece,)
            for place, piece in enumerate(pieces)
        ),
    )


@register.filter
def number(value: Number | None, decimals: int | None = None) -> SafeString:
    """A bare number, as many decimals as asked for, or those it has."""
    return _bare(value, decimals, signed=False)


@register.filter
def signed(value: Number | None, decimals: int | None = None) -> SafeString:
    """As `number`, a plus sign shown too."""
    return _bare(value, decimals, signed=True)


def _bare(value: Number | None, decimals: int | None, *, signed: bool) -> SafeString:
    rounded = numbers.figures(value, None, decimals)
    if rounded is None:
        return _seen_and_heard("number missing", numbers.MISSING, "no value")
    text = numbers.set_decimal(rounded.value, signed=signed)
    return format_html('<span class="number">{}{}</span>', text, _power_html(rounded.power))


@register.filter
def aligned(value: Number | None, decimals: int) -> SafeString:
    """For a column: padded so that decimal points stand under each other. Typed zeros stay."""
    given = numbers.as_decimal(value)
    if given is None:
        return _seen_and_heard("number missing", numbers.MISSING, "no value")
    has_more = numbers.places(given) > decimals
    shown = numbers.round_to(given, -decimals) if isinstance(value, float) or has_more else given
    return format_html('<span class="number">{}</span>', numbers.set_aligned(shown, decimals))


@register.filter
def points(value: Number | None) -> SafeString:
    """Points of a mark, without zeros at the end."""
    given = numbers.as_decimal(value)
    return _bare(given if given is None else given.normalize(), None, signed=False)


@register.filter
def as_typed(text: object) -> SafeString:
    """What a person typed, to the last zero."""
    if text is None or text == "":
        return _seen_and_heard("as-typed missing", numbers.MISSING, "nothing typed")
    return format_html('<span class="as-typed">{}</span>', text)


@register.filter
def moment(seconds: Number | None) -> SafeString:
    """Seconds since the clock's zero as minutes and seconds: 345 is 5:45."""
    given = numbers.as_decimal(seconds)
    if given is None:
        return _seen_and_heard("number missing", numbers.MISSING, "no time")
    return format_html('<span class="number">{}</span>', numbers.set_moment(given))


@register.filter
def unit(name: str) -> SafeString:
    """A unit alone, to stand beside an input."""
    return (
        _seen_and_heard("unit", _unit_html(name), units.spoken_unit(name))
        if name
        else SafeString("")
    )


@register.filter
def formula(text: str) -> SafeString:
    """C10H8, or a whole equation: counts lowered, numbers of moles left alone."""
    pieces = _SUBSCRIPT.split(text or "")
    return format_html_join(
        "",
        "{}",
        (
            (format_html("<sub>{}</sub>", piece) if place % 2 else piece,)
            for place, piece in enumerate(pieces)
        ),
    )
