"""The figures of a term compared and of two series laid together, as plotly's objects take them."""

import numpy as np

from labbook.plots.compared import Spread, compared
from labbook.plots.laid_together import laid_together

from .checking import checked


def test_medians_have_their_middle_half_where_it_may_be_shown() -> None:
    rows = [Spread("Monday", 0.2, -0.1, 0.4, "words"), Spread("Friday", 0.3, None, None, "others")]
    figure = checked(compared(rows, "%"))
    (medians,) = figure.data
    assert list(medians.x) == [0.2, 0.3] and list(medians.y) == ["Monday", "Friday"]
    (middle,) = figure.layout.shapes
    assert (middle.x0, middle.x1, middle.y0, middle.y1) == (-0.1, 0.4, -0.3, 0.3)
    assert figure.layout.xaxis.title.text == "%"
    left, right = figure.layout.xaxis.range
    assert left < -0.1 and right > 0.4


def test_a_middle_half_that_ends_at_zero_is_still_drawn() -> None:
    figure = checked(compared([Spread("Monday", -0.1, -0.2, 0.0, "words")] * 2, "%"))
    assert [shape.x1 for shape in figure.layout.shapes] == [0.0, 0.0]


def test_a_copy_lies_on_its_original() -> None:
    time = np.arange(0.0, 300.0, 10.0)
    warm = 22.0 + 0.001 * time
    figure = checked(laid_together((time, warm), (time[:-4] + 7.0, warm[4:] + 0.5), 4, 0.5))
    first, second, between = figure.data
    assert np.allclose(second.x, time[4:]) and np.allclose(second.y, warm[4:])
    assert np.allclose(between.y, 0.0) and list(between.x) == list(time[4:])
    assert tuple(figure.layout.yaxis2.range) == (-2.0, 2.0)
    assert second.mode == "markers" and first.mode == "lines"


def test_many_readings_are_drawn_as_a_line() -> None:
    time = np.arange(0.0, 1200.0, 2.0)
    figure = checked(laid_together((time, 22 + 0 * time), (time, 22.01 + 0 * time), 0, 0.0))
    assert figure.data[1].mode == "lines"
    assert figure.layout.yaxis2.range[1] == 12.0
