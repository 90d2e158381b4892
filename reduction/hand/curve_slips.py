"""Slips with ruler and paper: drifts, crossing, rise."""

from reduction.hand.chain import Figures, result_of
from reduction.hand.facts import Curve, Facts
from reduction.hand.slip import Found, Slip, thousands, with_change

SIGN = "The sign turned round?"
OTHER_RISE = "The rise of another run?"


def drift_slips(key: str, f: Figures, facts: Facts) -> Found:
    right = facts.ours[key]
    other = "after_drift" if key == "fore_drift" else "fore_drift"
    yield Slip(-right, "drift_sign", "The drift counts positive while the water warms: sign?")
    for factor in (60.0, 1 / 60.0):
        yield Slip(right * factor, "drift_per_second", "Per second in place of per minute?")
    yield from thousands(right, "mK in place of K, or the reverse (1000)?")
    if other in facts.ours:
        yield Slip(facts.ours[other], "other_drift", "The drift of the other period?")


def crossing_slips(key: str, f: Figures, facts: Facts) -> Found:
    curve = facts.curve
    if curve is None:
        return
    for share, at in curve.moments.items():
        question = f"At {share:.0%} of the rise?".replace("%", " %")
        yield Slip(at, "crossing_fraction", question)
    right = facts.ours[key]
    question = "Counted from the firing? Give the time of the readings."
    yield Slip(right - curve.fired_s, "from_firing", question)
    yield Slip(right / 60.0, "minutes", "Minutes in place of seconds? Write 5:42 or 342.")
    yield Slip(curve.fired_s, "crossing_place", "The moment of firing in place of the crossing?")
    yield Slip(curve.settled_s, "crossing_place", "The end of the main period?")


def rise_slips(key: str, f: Figures, facts: Facts) -> Found:
    curve = facts.curve
    if curve is None:
        return
    plain = "The plain difference, not corrected for the drifts?"
    yield Slip(curve.end_to_end_k, "plain_difference", plain)
    yield Slip(curve.top_c - curve.first_c, "plain_difference", plain)
    turned = {name: -f[name] for name in ("fore_drift", "after_drift")}
    yield from with_change(
        key, f, facts, "drift_sign", "The drifts taken with the wrong sign?", turned
    )
    for name, words in (("fore_drift", "fore"), ("after_drift", "after")):
        yield from _one_line(name, words, f, curve)
    yield from _elsewhere(key, f, facts, curve)
    right = result_of(key, f, facts)
    if right is not None:
        yield Slip(-right, "sign", SIGN)
        yield from thousands(right, "mK in place of K (1000)?")
    yield from (Slip(rise, "other_rise", OTHER_RISE) for rise in facts.beside.rises_k)


def _one_line(name: str, words: str, f: Figures, curve: Curve) -> Found:
    """One line not drawn on to the crossing: the curve's own temperature stands in for it."""
    top = curve.after.at_c + f["after_drift"] * (f["crossing"] - curve.after.at_s)
    foot = curve.fore.at_c + f["fore_drift"] * (f["crossing"] - curve.fore.at_s)
    if name == "fore_drift":
        foot = curve.first_c
    else:
        top = curve.first_c + curve.end_to_end_k
    question = f"The line of the {words} period not drawn on to the crossing?"
    yield Slip(top - foot, "one_line", question)


def _elsewhere(key: str, f: Figures, facts: Facts, curve: Curve) -> Found:
    places = (
        (curve.fired_s, "Read between the lines at the firing, not at your crossing?"),
        (curve.settled_s, "Read between the lines at the end, not at your crossing?"),
    )
    for at, question in places:
        yield from with_change(key, f, facts, "crossing_place", question, {"crossing": at})
