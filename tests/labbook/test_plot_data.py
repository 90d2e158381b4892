"""A figure's JSON cannot leave its script element."""

import json

import plotly.graph_objects as go

from labbook.templatetags.badges import state_class, state_words
from labbook.templatetags.plotting import plot_data


def test_text_in_a_figure_cannot_close_the_element() -> None:
    html = plot_data(go.Figure(layout={"title": "</script><b>&"}), 'a"b')
    assert html.count("</script>") == 1 and "<b>" not in html and 'id="a&quot;b"' in html
    data = html.split(">", 1)[1].removesuffix("</script>")
    assert json.loads(data)["layout"]["title"]["text"] == "</script><b>&"


def test_a_state_has_one_class_however_it_is_written() -> None:
    assert {state_class(s) for s in ("set_aside", "set aside", "Set aside")} == {"set-aside"}
    assert state_words("out_of_line") == "out of line"
