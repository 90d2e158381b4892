"""Choices, memory of a bench, limits and what a preview tells beside its readings."""

import dataclasses
import hashlib
import time

import pytest

from labbook.intake import Choices, Refusal, preview

PLAIN = b"time (s),temp (\xc2\xb0C)\n0,23.100\n15,23.102\n30,23.104\n"
UNSAID = b"0;23,456\n15;23,461\n30;23,470\n"
DATES = b"time;temp (\xc2\xb0C)\n03/04/2024 10:00:00;23,10\n03/04/2024 10:00:15;23,12\n"


def codes(found):
    return [question.code for question in found.questions]


def test_json_form_has_the_documented_keys_and_no_others():
    assert list(preview(PLAIN).as_dict()) == [
        *("encoding", "delimiter", "decimal", "time", "unit"),
        *("rows", "left_out", "questions", "readings"),
    ]


def test_temperatures_are_also_kept_exactly_as_in_the_file():
    assert preview(PLAIN).readings_text == ("23.100", "23.102", "23.104")


def test_the_original_bytes_are_identified_by_their_digest():
    assert preview(PLAIN).sha256 == hashlib.sha256(PLAIN).hexdigest()


def test_columns_show_their_names_units_and_first_cells():
    column = preview(PLAIN).columns[1]
    assert (column.number, column.name, column.unit) == (2, "temp (°C)", "°C")
    assert column.samples == ("23.100", "23.102", "23.104")


def test_elapsed_times_that_begin_elsewhere_keep_their_beginning():
    found = preview(PLAIN.replace(b"\n0,", b"\n-15,").replace(b"15,23.102", b"0,23.102"))
    assert found.first_time_s == -15
    assert found.readings[0][0] == 0


@pytest.mark.parametrize(
    ("heading", "start"), [("Clock time", None), ("Time of day", None), ("Elapsed", 447.0)]
)
def test_a_column_named_a_clock_is_the_time_of_day_just_after_midnight_too(heading, start):
    found = preview(f"{heading}\tBucket °C\n00:07:27\t23.10\n00:07:34\t23.12\n".encode())
    assert found.first_time_s == start
    assert found.readings == ((0.0, 23.1), (7.0, 23.12))


def test_first_lines_are_shown_with_a_refusal():
    with pytest.raises(Refusal) as refused:
        preview(b"a;b\n0;1\n15;2;3\n30;3\n")
    assert refused.value.first_rows[:2] == ("a;b", "0;1")


def test_more_than_five_megabytes_are_refused():
    with pytest.raises(Refusal, match="5 MB"):
        preview(b"0;23.1\n" * 800_000)


def test_more_than_two_hundred_thousand_rows_are_refused():
    rows = b"".join(b"%d;23.1\n" % second for second in range(200_001))
    with pytest.raises(Refusal, match="200,000"):
        preview(b"t/s;T\n" + rows)


def test_two_hundred_thousand_rows_are_read_in_seconds():
    rows = "".join(f"{second};{23 + second / 1e6:.4f}\n" for second in range(200_000))
    began = time.process_time()
    found = preview(b"t/s;T\n" + rows.encode())
    assert found.rows == 200_000
    assert time.process_time() - began < 8  # about 2 s where nothing else runs


@pytest.mark.parametrize(
    ("item", "value"),
    [
        *(("encoding", "unheard-of"), ("encoding", "hex"), ("delimiter", "x"), ("decimal", "'")),
        *(("time_kind", "weeks"), ("unit", "R"), ("day_first", "perhaps"), ("colour", "red")),
    ],
)
def test_a_choice_that_cannot_be_is_refused_with_what_can(item, value):
    with pytest.raises(Refusal) as refused:
        preview(PLAIN, choices=Choices.from_dict({item: value}))
    assert value in refused.value.sentence or item in refused.value.sentence


@pytest.mark.parametrize(
    ("item", "value"),
    [
        *(("time_column", "nowhere"), ("temperature_column", "7"), ("temperature_column", "0")),
        *(("parts", "3"), ("parts", "all"), ("temperature_column", "1"), ("time_column", "1+9")),
    ],
)
def test_a_choice_the_file_does_not_have_is_refused(item, value):
    with pytest.raises(Refusal):
        preview(PLAIN, choices=Choices.from_dict({item: value}))


def test_a_chosen_unit_overrules_the_name_of_the_column():
    found = preview(PLAIN.replace(b"23.", b"296."), choices=Choices(unit="K"))
    assert found.unit == "K"
    assert found.readings[0][1] == pytest.approx(22.95)  # 296.100 - 273.15


def test_a_line_too_long_or_too_wide_for_a_reading_is_refused():
    for data in (b"1," * 5_000, b"1," * 400 + b"\n"):
        with pytest.raises(Refusal, match=r"one reading|columns"):
            preview(data)


def test_a_chosen_separator_that_is_not_there_is_refused():
    with pytest.raises(Refusal, match="bar"):
        preview(PLAIN, choices=Choices(delimiter="|"))


def test_choices_survive_storage():
    choices = Choices.from_dict({"delimiter": "tab", "day_first": "no", "unit": "f", "parts": ""})
    assert choices == Choices(delimiter="\t", day_first=False, unit="°F")
    assert Choices.from_dict(choices.as_dict()) == choices


@pytest.mark.parametrize(
    ("data", "settled", "code"),
    [
        (UNSAID, Choices(decimal=","), "decimal"),
        (DATES, Choices(day_first=True), "day_first"),
        (PLAIN.replace(b"23.", b"74.").replace(b" (\xc2\xb0C)", b""), Choices(unit="°F"), "unit"),
    ],
)
def test_an_answer_is_remembered_for_the_same_layout(data, settled, code):
    assert codes(preview(data)) == [code]
    answered = preview(data, choices=settled)
    memory = answered.to_remember(settled)
    again = preview(data, remembered=[memory])
    assert again.readings == answered.readings
    assert any("remembered" in remark for remark in again.remarks)


def test_a_memory_of_another_layout_answers_nothing():
    memory = preview(UNSAID, choices=Choices(decimal=",")).to_remember(Choices(decimal=","))
    other = UNSAID.replace(b";", b"\t")
    assert codes(preview(other, remembered=[memory])) == ["decimal"]


def test_a_memory_never_overrules_what_the_file_shows():
    memory = preview(DATES, choices=Choices(day_first=True)).to_remember(Choices(day_first=True))
    sure = preview(DATES.replace(b"03/04", b"03/25"), remembered=[memory])
    assert sure.first_clock == "2024-03-25T10:00:00"


def test_a_changed_column_is_remembered_for_the_same_layout():
    data = b"time (s),temp (\xc2\xb0C),probe\n0,23.10,25.0\n15,23.12,25.1\n30,23.14,25.0\n"
    settled = Choices(temperature_column="probe")
    memory = preview(data, choices=settled).to_remember(settled)
    assert preview(data, remembered=[memory]).readings_text == ("25.0", "25.1", "25.0")


def test_times_that_no_longer_look_as_remembered_are_asked_about():
    data = b"0;23,10\n1;23,12\n2;23,14\n"
    settled = Choices(time_kind="min")
    memory = preview(data, choices=settled).to_remember(settled)
    assert preview(data, remembered=[memory]).readings[1][0] == 60
    in_seconds = b"0;23,10\n60;23,12\n120;23,14\n"
    assert codes(preview(in_seconds, remembered=[memory])) == ["time_kind"]


def test_a_remembered_unit_that_gives_no_usual_temperature_is_asked_about_again():
    warm = PLAIN.replace(b"23.", b"74.").replace(b" (\xc2\xb0C)", b"")
    memory = preview(warm, choices=Choices(unit="°F")).to_remember(Choices(unit="°F"))
    assert codes(preview(warm.replace(b"74.", b"296."), remembered=[memory])) == ["unit"]


def test_how_parts_were_joined_is_not_remembered():
    restarted = PLAIN + PLAIN.split(b"\n", 1)[1]
    settled = Choices(parts="1")
    memory = preview(restarted, choices=settled).to_remember(settled)
    assert memory == dataclasses.replace(Choices(), layout=memory.layout)


def test_a_remembered_separator_reads_a_file_that_would_be_refused_without_it():
    data = b"time s|temp C,probe 7\n" + b"".join(b"%d|23,1%d\n" % (15 * n, n) for n in range(6))
    settled = Choices(delimiter="|", decimal=",")
    answered = preview(data, choices=settled)
    memory = answered.to_remember(settled)
    again = preview(data, remembered=[Choices(layout="another"), memory])
    assert again.readings == answered.readings
    assert "delimiter: bar, as remembered for this bench" in again.remarks
    other = preview(data.replace(b"|", b";"), choices=Choices(delimiter=";"), remembered=[memory])
    assert not any("remembered" in remark for remark in other.remarks)


def test_a_refusal_of_a_table_still_offers_its_columns():
    with pytest.raises(Refusal) as refused:
        preview(b"time (s),R (ohm)\n0,10842.1\n15,10840.3\n30,10839.9\n")
    assert [column.name for column in refused.value.columns] == ["time (s)", "R (ohm)"]
    assert refused.value.first_rows[0] == "time (s),R (ohm)"


def test_a_bench_without_memory_is_asked():
    assert codes(preview(DATES, remembered=[Choices()])) == ["day_first"]
