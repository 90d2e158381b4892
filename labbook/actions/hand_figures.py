"""The students' own figures: entering them, saying that they stand, and what was looked up."""

from __future__ import annotations

from decimal import Decimal

from django.db import transaction

from reduction.hand.steps import STEPS

from .. import clock
from ..access import require
from ..intake.figures import Ambiguous, NotANumber, read_figure, read_moment
from ..lookups.hand_figures import HandFigures
from ..models import Account, HandFigure, HandFiguresSaved, LiteratureValue, Person, Run
from ..problems import Conflict, check_length, refuse, refuse_if_blocked
from ..problems.hand_figures import with_hand_figures
from .decisions import hold
from .sheets import check_present

LONGEST = 40
CITATION = {"source": 200, "edition": 60, "place": 60}
CITED = {
    "source": "the source (book, table or paper)",
    "edition": "its edition or year",
    "place": "the page or table",
}
LARGEST_KJ_PER_MOL = Decimal(1_000_000)


@transaction.atomic
def enter_hand_figure(
    run: Run,
    key: str,
    text: str,
    unit: str,
    *,
    by: Account,
    entered_by: Person | None = None,
    based_on: int | None = None,
) -> HandFigure | None:
    """Append a figure exactly as typed; None where there was and is nothing.

    A figure may be corrected at any time: the moment stands beside it, so that what was written
    after ours showed can be told. ``based_on`` as on the run sheet.
    """
    require(by, "enter hand figures", run)
    run = hold(run)
    text = text.strip()
    _check(HandFigures(run), key, text, unit)
    check_present(run, entered_by)
    current = run.hand_figures.filter(key=key).last()
    if current is None and not text:
        return None
    if current is not None and (current.text, current.unit) == (text, unit):
        return current
    if current is not None and based_on is not None and based_on != current.pk:
        raise Conflict(current, f"{text} {unit}".strip())
    return HandFigure.objects.create(
        run=run, key=key, text=text, unit=unit, at=clock.now(), by=by,
        entered_by=entered_by, replaces=current,
    )  # fmt: skip


def _check(hand: HandFigures, key: str, text: str, unit: str) -> None:
    if key not in hand.keys:
        raise refuse("step", "This figure does not belong to this run.", key)
    if unit not in STEPS[key].units:
        offered = ", ".join(STEPS[key].units)
        raise refuse("unit", f"“{unit}” was sent; one of these was expected: {offered}.", key)
    check_length(text, LONGEST, key)
    if not text:
        return
    try:
        if key == "crossing":
            read_moment(text)
        else:
            read_figure(text)
    except (Ambiguous, NotANumber) as error:
        raise refuse("not a number", str(error), key) from error


@transaction.atomic
def save_hand_figures(
    run: Run, *, by: Account, entered_by: Person | None = None
) -> HandFiguresSaved:
    """Say that the figures stand as the group's own. Said once; corrections stay possible."""
    require(by, "enter hand figures", run)
    run = hold(run)
    hand = HandFigures(run)
    if hand.saved is not None:
        return hand.saved
    refuse_if_blocked(with_hand_figures(hand))
    check_present(run, entered_by)
    return HandFiguresSaved.objects.create(run=run, at=clock.now(), by=by, entered_by=entered_by)


@transaction.atomic
def cite_literature(
    run: Run,
    value: str,
    u: str = "",
    *,
    source: str,
    edition: str,
    place: str,
    by: Account,
    entered_by: Person | None = None,
) -> LiteratureValue:
    """Keep a value that was looked up, in kJ/mol, with its whole citation. The newest stands."""
    require(by, "enter hand figures", run)
    run = hold(run)
    if run.sample is None or run.sample.is_hidden:
        raise refuse("hidden", "There is nothing to look up before the sample is revealed.")
    dch, spread = _molar("value", value), _molar("u", u) if u.strip() else None
    if dch >= 0:
        sentence = f"{value} was typed; Δ_cH of a combustion is negative: write −5156, not 5156."
        raise refuse("sign", sentence, "value")
    if spread is not None and spread < 0:
        raise refuse("negative", f"{u} was typed; an uncertainty cannot be negative.", "u")
    cited = {"source": source.strip(), "edition": edition.strip(), "place": place.strip()}
    for name, text in cited.items():
        if not text:
            sentence = f"A literature value needs its whole citation: {CITED[name]} is missing."
            raise refuse("citation", sentence, name)
        check_length(text, CITATION[name], name)
    check_present(run, entered_by)
    return LiteratureValue.objects.create(
        run=run, dch_kj_per_mol=dch, u_kj_per_mol=spread, **cited, at=clock.now(), by=by,
        entered_by=entered_by,
    )  # fmt: skip


def _molar(name: str, text: str) -> Decimal:
    try:
        value = read_figure(text).value
    except (Ambiguous, NotANumber) as error:
        raise refuse("not a number", str(error), name) from error
    if abs(value) >= LARGEST_KJ_PER_MOL:
        raise refuse("too large", f"{text} was typed; a value in kJ/mol was expected.", name)
    return value.quantize(Decimal("0.001"))


@transaction.atomic
def confirm_literature(value: LiteratureValue, *, by: Account) -> LiteratureValue:
    """A TA looked it up: the source holds this value for this compound and phase."""
    require(by, "confirm literature", value.run)
    value = LiteratureValue.objects.select_for_update().get(pk=value.pk)
    if value.looked_up_at is not None:
        raise refuse("looked up", f"Looked up by {value.looked_up_by} already.")
    value.looked_up_at, value.looked_up_by = clock.now(), by
    value.save(update_fields=["looked_up_at", "looked_up_by"])
    return value
