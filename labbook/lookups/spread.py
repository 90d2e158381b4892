"""How far apart several markers of one hand-in are, in words and descriptor by descriptor."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from ..models import Account, HandIn, Mark
from ..typesetting.numbers import set_points
from .marking import Part, Tick, parts_of

NAMED = 3


@dataclass(frozen=True)
class Row:
    """One descriptor, and which markers saw it; None for a marker it was not put to."""

    words: str
    points: Decimal
    seen: list[bool | None]

    @property
    def is_split(self) -> bool:
        return len({one for one in self.seen if one is not None}) > 1


@dataclass(frozen=True)
class Block:
    """The descriptors below one heading, with each marker's points for them."""

    title: str
    rows: list[Row]
    points: list[Decimal]
    out_of: list[Decimal]


@dataclass(frozen=True)
class Spread:
    """Each marker's newest mark, the first to mark first."""

    marks: list[Mark]
    blocks: list[Block]

    @property
    def markers(self) -> list[Account]:
        return [mark.by for mark in self.marks]

    @property
    def split(self) -> list[Row]:
        return [row for block in self.blocks for row in block.rows if row.is_split]

    @property
    def words(self) -> str:
        """“3 markers, 14 to 17 of 20. They differ on 2 of 12 descriptors: …”."""
        if not self.marks:
            return "Nobody has marked it yet."
        if len(self.marks) == 1:
            return f"1 marker so far: {self._range}. The spread shows once a second one has marked."
        return f"{len(self.marks)} markers, {self._range}. {self._differences}"

    @property
    def _range(self) -> str:
        totals = {mark.out_of for mark in self.marks}
        if len(totals) > 1:  # the scheme was changed between two marks
            return ", ".join(
                f"{set_points(m.points)} of {set_points(m.out_of)}" for m in self.marks
            )
        points = sorted({mark.points for mark in self.marks})
        low, high = set_points(points[0]), set_points(points[-1])
        reach = f"{low} to {high}" if len(points) > 1 else f"{'all ' * (len(self.marks) > 1)}{low}"
        return f"{reach} of {set_points(totals.pop())}"

    @property
    def _differences(self) -> str:
        asked = sum(len(block.rows) for block in self.blocks)
        if not self.split:
            return f"They agree on every one of {asked} descriptors."
        named = "; ".join(f"“{row.words}”" for row in self.split[:NAMED])
        more = f"; and {len(self.split) - NAMED} more" if len(self.split) > NAMED else ""
        return f"They differ on {len(self.split)} of {asked} descriptors: {named}{more}."


def spread_of(hand_in: HandIn) -> Spread:
    newest: dict[int, Mark] = {}
    for mark in hand_in.marks.order_by("pk").select_related("by"):
        newest[mark.by_id] = mark
    marks = list(newest.values())
    put = [{tick["descriptor"]: tick for tick in mark.ticks} for mark in marks]
    every = list({key: tick for ticks in put for key, tick in ticks.items()}.values())
    return Spread(marks, [_block(part, put) for part in parts_of(every)])


def _block(part: Part, put: list[dict[int, Tick]]) -> Block:
    keys = [tick["descriptor"] for tick in part.ticks]
    theirs = [Part(part.title, [ticks[key] for key in keys if key in ticks]) for ticks in put]
    return Block(
        title=part.title,
        rows=[
            Row(
                tick["words"],
                Decimal(tick["points"]),
                [_seen(ticks.get(tick["descriptor"])) for ticks in put],
            )
            for tick in part.ticks
        ],
        points=[one.points for one in theirs],
        out_of=[one.out_of for one in theirs],
    )


def _seen(tick: Tick | None) -> bool | None:
    return None if tick is None else tick["seen"]
