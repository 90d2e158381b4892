"""Whatever the dialect: read exactly, asked about, or refused. Never misread, never a crash.

The writer below is independent of the reader: it spells known readings by the rules of a drawn
dialect. The readings are whole milliseconds and thousandths of a degree, so they compare exactly.
"""

import datetime as dt
from dataclasses import dataclass
from decimal import Decimal

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from labbook.intake import Choices, Preview, Refusal, preview

NOTHING_CHOSEN = Choices()
QUICK = settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.too_slow])
TIME_NAMES = {
    "s": ("time (s)", "t/s", "Zeit [s]", "Elapsed", "time", None),
    "ms": ("time (ms)", "t_ms", "time", None),
    "min": ("time (min)", "t/min", "elapsed", None),
    "hh:mm:ss": ("time", "clock", "Uhrzeit", "x", None),
    "mm:ss": ("time", "elapsed (mm:ss)", None),
    "iso": ("timestamp", "time", None),
    "zone": ("timestamp", None),
    "dmy": ("date/time", "Datum", None),
    "mdy": ("date/time", None),
    "dots": ("Datum/Zeit", None),
    "epoch": ("timestamp", "time (s)", None),
    "two": ("date", None),
}
TEMPERATURE_NAMES = {
    "°C": ("temp (°C)", "T/°C", "Temperatur", "T", "y", None),
    "K": ("T (K)", "temp", None),
    "°F": ("T (°F)", "temp", None),
}


@dataclass(frozen=True)
class Dialect:
    """How a file is spelled; `times` are ms from the first reading, `thousandths` of a unit."""

    delimiter: str
    mark: str
    time: str
    unit: str
    names: tuple[str | None, str | None]
    start_s: int
    times: tuple[int, ...]
    thousandths: tuple[int, ...]
    trim: bool
    encoding: str
    line_end: str
    preamble: tuple[str, ...]
    trailing: bool
    last_end: bool
    index_column: bool

    def truth(self) -> list[tuple[float, Decimal]]:
        values = (Decimal(value) / 1000 for value in self.thousandths)
        first = self.times[0]
        return [
            (float(Decimal(ms - first) / 1000), value)
            for ms, value in zip(self.times, values, strict=True)
        ]

    def answers(self) -> dict[str, object]:
        """What a person who knows the logger would answer."""
        column = 1 + (2 if self.time == "two" else 1) + self.index_column
        first = 1 + self.index_column
        dated = dict.fromkeys(("iso", "zone", "dmy", "mdy", "dots", "two"), "date and time")
        return {
            "decimal": self.mark,
            "day_first": self.time in ("dmy", "two"),
            "unit": self.unit,
            "time_kind": (dated | {"epoch": "epoch s"}).get(self.time, self.time),
            "time_column": f"{first}+{first + 1}" if self.time == "two" else f"{first}",
            "temperature_column": str(column),
            "parts": "keep",
        }


def spell_time(dialect: Dialect, ms: int) -> str:
    seconds, rest = divmod(dialect.start_s * 1000 + ms, 1000)
    fraction = f"{dialect.mark}{rest:03d}" if any(t % 1000 for t in dialect.times) else ""
    if dialect.time == "ms":
        return str(seconds * 1000 + rest)
    if dialect.time == "min":
        exact = Decimal(seconds * 1000 + rest) / 60_000
        return format(exact, "f").replace(".", dialect.mark)
    if dialect.time == "s":
        return f"{seconds}{fraction}"
    if dialect.time == "mm:ss":
        return f"{seconds // 60}:{seconds % 60:02d}{fraction}"
    moment = dt.datetime(2024, 3, 4, 8, 0, tzinfo=dt.UTC) + dt.timedelta(seconds=seconds)
    if dialect.time == "epoch":
        return f"{int(moment.timestamp())}{fraction}"
    clock = f"{moment:%H:%M:%S}{fraction}"
    separator = dialect.delimiter if dialect.time == "two" else " "
    return {
        "hh:mm:ss": clock,
        "iso": f"{moment:%Y-%m-%d}T{clock}",
        "zone": f"{moment:%Y-%m-%d}T{clock}+00:00",
        "dmy": f"{moment:%d/%m/%Y}{separator}{clock}",
        "two": f"{moment:%d/%m/%Y}{separator}{clock}",
        "mdy": f"{moment:%m/%d/%Y}{separator}{clock}",
        "dots": f"{moment:%d.%m.%Y}{separator}{clock}",
    }[dialect.time]


def spell_value(dialect: Dialect, thousandths: int) -> str:
    text = f"{Decimal(thousandths) / 1000:.3f}"
    if dialect.trim:
        text = text.rstrip("0").rstrip(".")
    return text.replace(".", dialect.mark)


def spell(dialect: Dialect) -> bytes:
    lines = list(dialect.preamble)
    end = dialect.delimiter if dialect.trailing and dialect.delimiter != " " else ""
    names = [name for name in dialect.names if name is not None]
    if len(names) == 2:
        names[1:1] = ["clock"] if dialect.time == "two" else []
        names = (["no"] if dialect.index_column else []) + names
        lines.append(dialect.delimiter.join(names) + end)
    for number, (ms, value) in enumerate(zip(dialect.times, dialect.thousandths, strict=True), 1):
        cells = [str(number)] if dialect.index_column else []
        cells += [spell_time(dialect, ms), spell_value(dialect, value)]
        lines.append(dialect.delimiter.join(cells) + end)
    text = dialect.line_end.join(lines) + (dialect.line_end if dialect.last_end else "")
    return text.encode(dialect.encoding)


@st.composite
def dialects(draw: st.DrawFn) -> Dialect:
    time = draw(st.sampled_from(sorted(TIME_NAMES)))
    unit = draw(st.sampled_from(sorted(TEMPERATURE_NAMES)))
    count = draw(st.integers(2, 25))
    step = draw(st.sampled_from([100, 500, 1000, 5000, 15_000, 30_000, 60_000]))
    if time == "min":
        step = draw(st.sampled_from([3000, 15_000, 60_000]))
    steps = draw(st.lists(st.sampled_from([step, step, step * 2]), min_size=count, max_size=count))
    times = [sum(steps[:index]) for index in range(count)]
    base = {"°C": 23_000, "K": 296_000, "°F": 74_000}[unit]
    rise = draw(st.lists(st.integers(-20, 400), min_size=count, max_size=count))
    mark = draw(st.sampled_from(".,"))
    return Dialect(
        delimiter=draw(st.sampled_from([";", "\t", "|", " ", ","])),
        mark=mark,
        time=time,
        unit=unit,
        names=(
            draw(st.sampled_from(TIME_NAMES[time])),
            draw(st.sampled_from(TEMPERATURE_NAMES[unit])),
        ),
        start_s=draw(st.sampled_from([0, 30, 300, 3590])),
        times=tuple(times),
        thousandths=tuple(base + sum(rise[: index + 1]) for index in range(count)),
        trim=draw(st.booleans()),
        encoding=draw(st.sampled_from(["utf-8", "utf-8-sig", "cp1252", "utf-16", "utf-16-le"])),
        line_end=draw(st.sampled_from(["\n", "\r\n", "\r"])),
        preamble=tuple(draw(st.lists(st.sampled_from(PREAMBLES), max_size=4))),
        trailing=draw(st.booleans()),
        last_end=draw(st.booleans()),
        index_column=draw(st.booleans()),
    )


PREAMBLES = ("Bench logger 7", "# group B", "", "serial: 0042", "started 08:00", "; remark")


def outcome(data: bytes, choices: Choices = NOTHING_CHOSEN) -> Preview | None:
    """The preview, or None where the file was refused with a sentence."""
    try:
        return preview(data, choices=choices)
    except Refusal as refusal:
        assert len(refusal.sentence) > 20
        return None


def answered(data: bytes, answers: dict[str, object]) -> Preview | None:
    """Answer what is asked, round by round, as a person would."""
    chosen: dict[str, object] = {}
    found = outcome(data)
    while found and found.questions:
        assert not found.readings
        for question in found.questions:
            assert question.code not in chosen, "a question was asked twice"
            chosen[question.code] = answers[question.code]
        found = outcome(data, Choices.from_dict(chosen))
    return found


def check_never_misread(dialect: Dialect, found: Preview | None, may_lack_last: bool) -> None:
    if found is None:
        return
    truth = dialect.truth()
    if may_lack_last and len(found.readings) == len(truth) - 1:
        assert found.left_out
        truth = truth[:-1]
    assert [time for time, _ in found.readings] == [time for time, _ in truth]
    for (_, celsius), (_, value) in zip(found.readings, truth, strict=True):
        assert celsius == pytest.approx(float(in_celsius(value, dialect.unit)), abs=1e-12)


def in_celsius(value: Decimal, unit: str) -> Decimal:
    """SI Brochure: t/°C = T/K − 273.15; t/°F = 9/5 t/°C + 32."""
    if unit == "K":
        return value - Decimal("273.15")
    return (value - 32) * 5 / 9 if unit == "°F" else value


@given(dialects())
@QUICK
def test_a_dialect_is_read_exactly_asked_about_or_refused(dialect):
    data = spell(dialect)
    found = outcome(data)
    if found and not found.questions:
        check_never_misread(dialect, found, may_lack_last=not dialect.last_end)


@given(dialects())
@QUICK
def test_right_answers_to_the_questions_give_the_exact_readings(dialect):
    found = answered(spell(dialect), dialect.answers())
    check_never_misread(dialect, found, may_lack_last=not dialect.last_end)


@given(dialects(), st.integers(0, 2_000))
@QUICK
def test_a_file_cut_anywhere_gives_only_true_readings(dialect, kept):
    found = answered(spell(dialect)[:kept], dialect.answers())
    if found is None:
        return
    truth = dialect.truth()[: len(found.readings)]
    assert [time for time, _ in found.readings] == [time for time, _ in truth]
    for (_, celsius), (_, value) in zip(found.readings, truth, strict=True):
        assert celsius == pytest.approx(float(in_celsius(value, dialect.unit)), abs=1e-12)


@given(st.binary(max_size=400))
@QUICK
def test_arbitrary_bytes_raise_nothing_but_a_refusal(data):
    outcome(data)


@given(st.text(alphabet='0123456789.,;:-+/ \t\n"#eETZ°CKaNpm', max_size=300))
@settings(parent=QUICK, max_examples=400)
def test_arbitrary_figures_and_separators_raise_nothing_but_a_refusal(text):
    found = outcome(text.encode())
    if found:
        assert bool(found.questions) != bool(found.readings)


@given(dialects(), st.data())
@QUICK
def test_a_damaged_file_raises_nothing_but_a_refusal(dialect, draws):
    data = bytearray(spell(dialect))
    for _ in range(draws.draw(st.integers(1, 6))):
        place = draws.draw(st.integers(0, len(data) - 1))
        data[place] = draws.draw(st.integers(0, 255))
    outcome(bytes(data))
