"""A figure's JSON cannot leave its script element."""

import json
from datetime import UTC, datetime

import numpy as np
import plotly.graph_objects as go

from labbook.templatetags.badges import state_class, state_words
from labbook.templatetags.plotting import plot_data


def test_text_in_a_figure_cannot_close_the_element() -> None:
    html = plot_data({"layout": {"title": {"text": "</script><b>&"}}}, 'a"b')
    assert html.count("</script>") == 1 and "<b>" not in html and 'id="a&quot;b"' in html
    data = html.split(">", 1)[1].removesuffix("</script>")
    assert json.loads(data)["layout"]["title"]["text"] == "</script><b>&"


def test_arrays_and_moments_reach_the_browser_as_they_are() -> None:
    moment = datetime(2026, 3, 2, 14, 30, tzinfo=UTC)
    trace = {"type": "scatter", "x": [moment, moment], "y": np.array([10100.5, np.nan])}
    html = plot_data({"data": [trace]}, "f")
    data = json.loads(html.split(">", 1)[1].removesuffix("</script>"))
    # plotly's own writing of the same figure is what its script is made for.
    assert data["data"] == json.loads(go.Figure([trace]).to_json())["data"]


def test_a_state_has_one_class_however_it_is_written() -> None:
    assert {state_class(s) for s in ("set_aside", "set aside", "Set aside")} == {"set-aside"}
    assert state_words("out_of_line") == "out of line"
