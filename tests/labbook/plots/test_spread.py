"""Markers of one hand-in side by side: apart in a row, told by their shape, readable as words."""

from labbook.plots.spread import SYMBOLS, Marker, spread

from .checking import checked

PARTS = ["Extrapolation", "Combustion"]


def marker(name: str, *percent: float | None) -> Marker:
    return Marker(name=name, percent=list(percent), words=[f"{name}, {part}" for part in PARTS])


def test_each_marker_has_a_shape_of_its_own_and_a_place_in_every_row() -> None:
    figure = checked(spread(PARTS, [marker("one", 100.0, 50.0), marker("two", 75.0, None)]))
    assert [trace.name for trace in figure.data] == ["one", "two"]
    assert [trace.marker.symbol for trace in figure.data] == list(SYMBOLS[:2])
    assert [list(trace.x) for trace in figure.data] == [[100.0, 50.0], [75.0, None]]
    first, second = (list(trace.y) for trace in figure.data)
    assert [round(y) for y in first] == [round(y) for y in second] == [0, 1]
    assert all(a < b for a, b in zip(first, second, strict=True))
    assert list(figure.layout.yaxis.ticktext) == PARTS and figure.layout.showlegend


def test_its_points_can_be_walked_and_say_whose_they_are() -> None:
    figure = checked(spread(PARTS, [marker("one", 100.0, 50.0)]))
    assert list(figure.data[0].text) == ["one, Extrapolation", "one, Combustion"]
    assert figure.data[0].meta["walk"] and list(figure.data[0].y) == [0.0, 1.0]
    assert figure.layout.xaxis.title.text == "Share of points (%)"


def test_more_markers_than_shapes_are_drawn_all_the_same() -> None:
    many = [marker(str(number), 10.0, 20.0) for number in range(len(SYMBOLS) + 2)]
    assert len(checked(spread(PARTS, many)).data) == len(many)
