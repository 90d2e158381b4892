"""What a bench's standing means, in sentences: what was seen, what was expected, what to do."""

from dataclasses import dataclass
from math import floor, isnan, log10

CHECK_RUN = (
    "Make a check run before unknowns are burned here. Usual causes: bucket water, soot, the "
    "drift periods."
)
SLOW_CHECK_RUN = (
    "Make a check run before unknowns are burned here. Several values lean the same way: look at "
    "thermometer and stirrer, and at what was changed lately."
)
FIND_CAUSE = (
    "Keep unknowns off this bench until the cause is found, or approve it with a reason; the "
    "coordinator should know."
)


@dataclass(frozen=True)
class Moment:
    """One value of a bench with the limits it met, J/K; NaN where nothing is known.

    `n` baseline values lie behind the limits and `earlier` accepted values before this one.
    `side` is 0 within the limits; `noticeable` the half width without the indifference region.
    `expected` are the limits of the next value.
    """

    value: float
    is_excluded: bool
    n: int
    earlier: int
    fewest: int
    centre: float
    lower: float
    upper: float
    noticeable: float
    ewma: float
    ewma_lower: float
    ewma_upper: float
    side: int
    state: str
    state_before: str
    expected: tuple[float, float] | None

    @property
    def is_beyond_itself(self) -> bool:
        """Whether the value, not only the weighted mean, lies beyond its limits."""
        return not self.lower <= self.value <= self.upper

    @property
    def is_noticed(self) -> bool:
        """Whether the value stands out of the scatter, whatever the indifference region says."""
        return abs(self.value - self.centre) > self.noticeable


def explain(moment: Moment) -> tuple[str, ...]:
    """The sentences of one moment, most important first."""
    if moment.is_excluded:
        seen = f"{quantity(moment.value, moment.noticeable)} is excluded with a proven cause: it"
        return (f"{seen} counts in no statistics, and the bench stays as it was: {moment.state}.",)
    if moment.state == "too few points":
        return _too_few(moment)
    if moment.side:
        return (_seen(moment), *_what_to_do(moment))
    return (_seen(moment), *_within(moment))


def nothing_yet(fewest: int) -> tuple[str, ...]:
    """The sentence of a phase without values."""
    return (f"No values in this phase yet; {fewest} are needed before the bench is judged.",)


def quantity(j_per_k: float, half_width: float) -> str:
    """A heat capacity [J/K] with the digits that a half width [J/K] of its limits leaves."""
    return f"{_number(j_per_k, j_per_k, half_width)} {_unit(j_per_k)}"


def span(lower: float, upper: float) -> str:
    """Two limits [J/K] with the digits their distance leaves."""
    middle, half = (lower + upper) / 2.0, (upper - lower) / 2.0
    return f"{_number(lower, middle, half)} to {_number(upper, middle, half)} {_unit(middle)}"


def difference(value: float, reference: float) -> str:
    """How far a value lies from a reference, as "1.2 % above" or "0.31 % below"."""
    percent = 100.0 * abs(value / reference - 1.0) if reference else abs(value - reference)
    text = percentage(percent)
    return f"{text} {'above' if value >= reference else 'below'}"


def change(j_per_k: float, level: float) -> str:
    """The size of a change [J/K], with its share of the level where there is one."""
    share = f" ({percentage(100.0 * abs(j_per_k / level))})" if level else ""
    return f"{_three_digits(abs(j_per_k))} J/K{share}"


def interval_of_size(lower: float, upper: float) -> str:
    """The interval of a change [J/K], with its signs."""
    return " to ".join(f"{'−' if x < 0.0 else '+'}{_three_digits(abs(x))}" for x in (lower, upper))


def _three_digits(size: float) -> str:
    decimals = 0 if size >= 100.0 else 1 if size >= 10.0 else 2
    return f"{size:.{decimals}f}"


def percentage(percent: float) -> str:
    """A size in per cent: one decimal from 1 % on, two below."""
    return f"{percent:.{1 if percent >= 1.0 else 2}f} %"


def signed_percentage(percent: float) -> str:
    """A change in per cent with its sign and two decimals, alike in an interval."""
    shown = round(percent, 2)
    return f"{'−' if shown < 0.0 else '+'}{abs(shown):.2f} %"


def _seen(moment: Moment) -> str:
    kind = "baseline" if moment.n < moment.earlier else "earlier"
    past = f"this bench's {moment.n} {kind} value{'s' if moment.n != 1 else ''}"
    half = (moment.upper - moment.lower) / 2.0
    if moment.side and not moment.is_beyond_itself:
        mean = quantity(moment.ewma, half)
        return (
            f"The weighted mean of the latest values, {mean}, is "
            f"{difference(moment.ewma, moment.centre)} {past}; "
            f"{span(moment.ewma_lower, moment.ewma_upper)} was expected."
        )
    return (
        f"{quantity(moment.value, half)} is {difference(moment.value, moment.centre)} {past}; "
        f"{span(moment.lower, moment.upper)} was expected."
    )


def _what_to_do(moment: Moment) -> tuple[str, ...]:
    if moment.state == "out of line":
        return ("It confirms an earlier signal on the same side.", FIND_CAUSE)
    return (CHECK_RUN if moment.is_beyond_itself else SLOW_CHECK_RUN,)


def _within(moment: Moment) -> tuple[str, ...]:
    if moment.state == "watch":
        return ("It lies within the limits again; one more such value makes the bench steady.",)
    if moment.state_before == "watch":
        return ("It does not confirm the signal before it. Nothing to do.",)
    if moment.is_noticed:
        return ("It stands out of the scatter, but by less than is acted on. Nothing to do.",)
    return ("Nothing to do.",)


def _too_few(moment: Moment) -> tuple[str, ...]:
    count = moment.earlier + 1
    values = "1 value" if count == 1 else f"{count} values"
    seen = f"{values} in this phase so far; {moment.fewest} are needed before the bench is judged."
    if count >= moment.fewest:
        seen = f"{values} in this phase so far: a baseline to judge the next one by."
    if moment.expected is None:
        return (seen, "How such values scatter is not known yet: standardize again.")
    expected = span(*moment.expected)
    return (seen, f"By the scatter known so far the next value is expected from {expected}.")


def _unit(j_per_k: float) -> str:
    return "kJ/K" if abs(j_per_k) >= 1000.0 else "J/K"


def _number(j_per_k: float, size: float, half_width: float) -> str:
    """Two digits of the half width, in kJ/K where the size calls for it."""
    scale = 1000.0 if abs(size) >= 1000.0 else 1.0
    if isnan(half_width) or half_width <= 0.0:
        half_width = 1e-3 * max(abs(size), 1.0)
    decimals = min(max(1 - floor(log10(half_width / scale)), 0), 6)
    return f"{j_per_k / scale:.{decimals}f}"
