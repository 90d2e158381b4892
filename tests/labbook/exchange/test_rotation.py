"""Which backups stay: grandfather, father, son, as is common practice (no source)."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path

from hypothesis import given
from hypothesis import strategies as st

from labbook.exchange.backups.rotation import Keeping, backups_in, name_at, remove_old, to_keep

NIGHT = datetime(2031, 5, 14, 2, 0, tzinfo=UTC)
moments = st.lists(
    st.datetimes(datetime(2030, 1, 1), datetime(2033, 1, 1), timezones=st.just(UTC)), max_size=60
)


def nights(count: int) -> list[datetime]:
    return [NIGHT - timedelta(days=day) for day in range(count)]


def test_a_year_of_nights_leaves_days_weeks_and_months() -> None:
    kept = to_keep(nights(365), Keeping(daily=7, weekly=4, monthly=12))
    assert set(nights(7)) <= kept
    # Sundays, the last of their weeks by ISO 8601, and the last days of months, by the calendar.
    assert {datetime(2031, 5, day, 2, tzinfo=UTC) for day in (11, 4)} <= kept
    assert datetime(2031, 4, 27, 2, tzinfo=UTC) in kept
    assert datetime(2030, 12, 31, 2, tzinfo=UTC) in kept
    assert datetime(2030, 12, 30, 2, tzinfo=UTC) not in kept
    assert len(kept) <= 7 + 4 + 12


@given(moments)
def test_the_newest_stays_whatever_is_to_be_kept(found: list[datetime]) -> None:
    kept = to_keep(found, Keeping(daily=0, weekly=0, monthly=0))
    assert kept == ({max(found)} if found else set())


@given(moments)
def test_what_stays_once_stays_when_asked_again(found: list[datetime]) -> None:
    kept = to_keep(found, Keeping())
    assert kept <= set(found) and to_keep(kept, Keeping()) == kept


def test_only_backups_are_removed(tmp_path: Path) -> None:
    for moment in nights(3):
        (tmp_path / name_at(moment)).touch()
    for other in ("record-notes.zip", "record-20310514T020000Z.zip.copy", "thesis.zip"):
        (tmp_path / other).touch()
    gone = remove_old(tmp_path, Keeping(daily=1, weekly=0, monthly=0))
    assert {file.name for file in gone} == {name_at(moment) for moment in nights(3)[1:]}
    assert list(backups_in(tmp_path).values()) == [NIGHT]
    assert len(list(tmp_path.iterdir())) == 4
