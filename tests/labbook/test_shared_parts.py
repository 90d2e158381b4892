"""The parts pages share: names for every control, words beside every shape, nothing inline."""

import re
from datetime import datetime
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import pytest
from django.template.loader import render_to_string

TEMPLATES = Path(__file__).parents[2] / "templates"
FIELD = {
    "name": "tare_g",
    "label": "Crucible alone",
    "value": "11.3444",
    "unit": "g",
    "url": "/sheet/tare_g/",
    "version": 7,
}


class Elements(HTMLParser):
    """Start tags with their attributes, in order."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.found: list[tuple[str, dict[str, str | None]]] = []
        self.feed(html)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.found.append((tag, dict(attrs)))

    def all(self, tag: str) -> list[dict[str, str | None]]:
        return [attributes for name, attributes in self.found if name == tag]


def part(name: str, **context: Any) -> str:
    return render_to_string(f"parts/{name}.html", context)


# A page that leaves the record in a package carries its styles itself.
LEAVES = TEMPLATES / "handing_in" / "package"


def test_no_template_has_inline_script_style_or_handler() -> None:
    for path in TEMPLATES.rglob("*.html"):
        if path.is_relative_to(LEAVES):
            continue
        html = path.read_text()
        assert not re.search(r"<style|\sstyle=|\son[a-z]+=|javascript:", html), path
        assert not re.search(r"<script(?![^>]*\ssrc=)", html), path


def test_field_names_its_control_its_unit_and_its_error() -> None:
    html = part("field", field={**FIELD, "error": "Below zero.", "hint": "By difference."})
    tags = Elements(html)
    control = next(a for a in tags.all("input") if a["name"] == "tare_g")
    ids = {attributes.get("id") for _, attributes in tags.found}
    assert tags.all("label")[0]["for"] == control["id"]
    assert set((control["aria-describedby"] or "").split()) <= ids
    assert control["aria-invalid"] == "true" and control["inputmode"] == "decimal"
    assert "grams" in html and "Below zero." in html


def test_field_keeps_what_was_typed_and_strikes_through_what_was_before() -> None:
    earlier = [{"text": "11.4344", "who": "A", "when": datetime(2026, 3, 3, 12), "why": "swapped"}]
    html = part("field", field={**FIELD, "value": "1.0000", "earlier": earlier})
    assert 'value="1.0000"' in html
    assert re.search(r"<del>.*11\.4344.*</del>", html) and "swapped" in html


def test_field_shows_when_it_was_saved_and_posts_the_version_it_was_based_on() -> None:
    html = part("field", field={**FIELD, "saved_at": datetime(2026, 3, 3, 12, 31, 8)})
    assert "Saved 12:31:08" in html
    hidden = next(a for a in Elements(html).all("input") if a["name"] == "seen_tare_g")
    assert hidden["value"] == "7"


def test_field_saves_itself_with_nothing_but_its_own_two_values() -> None:
    control = Elements(part("field", field=FIELD)).all("input")[0]
    assert control["hx-post"] == "/sheet/tare_g/" and control["hx-trigger"] == "change"
    assert control["hx-params"] == "tare_g,seen_tare_g"
    assert control["hx-target"] == control["hx-include"] == "closest .field"


def test_locked_field_says_why_and_cannot_be_sent() -> None:
    html = part("field", field={**FIELD, "locked": True, "locked_why": "This run is signed."})
    assert "disabled" in html and "This run is signed." in html
    assert "hx-post" not in html


@pytest.mark.parametrize("name", ["field", "choice", "tick", "conflict", "problems", "state"])
def test_text_from_people_is_escaped(name: str) -> None:
    text = "<script>alert(1)</script>"
    field = {**FIELD, "label": text, "value": text, "hint": text, "choices": [(text, text)]}
    conflict = {"name": "m", "label": text, "yours": text, "theirs": text, "unit": text}
    problems = [{"severity": "W", "sentence": text, "advice": text}]
    html = part(name, field=field, conflict=conflict, problems=problems, state=text)
    assert "<script>" not in html


def test_conflict_offers_both_values() -> None:
    conflict = {"name": "m", "label": "Net", "yours": "1.0032", "theirs": "1.0023", "version": 9}
    buttons = Elements(part("conflict", conflict=conflict)).all("button")
    assert [(b["name"], b["value"]) for b in buttons] == [("m", "1.0023"), ("m", "1.0032")]


@pytest.mark.parametrize(("severity", "word"), [("B", "Stop"), ("W", "Check"), ("N", "Note")])
def test_problems_have_a_word_beside_the_shape(severity: str, word: str) -> None:
    html = part("problems", problems=[{"severity": severity, "sentence": "Seen."}])
    assert word in html and "Seen." in html


def test_no_problems_leave_no_empty_box() -> None:
    assert not part("problems", problems=[], heading="What is missing").strip()


def test_state_has_class_shape_and_words() -> None:
    html = part("state", state="out_of_line")
    assert 'class="state state-out-of-line"' in html and "out of line" in html


def test_every_state_has_a_shape_of_its_own() -> None:
    css = (TEMPLATES.parent / "labbook/static/labbook/states.css").read_text()
    shapes = dict(re.findall(r'\.state-([\w-]+) \.shape::before { content: "([^"]+)"', css))
    assert len(shapes) == 19
    assert len(set(shapes.values())) == len(shapes)


def test_steps_say_which_is_now() -> None:
    steps = [{"words": "open", "state": "done"}, {"words": "fired", "state": "now"}]
    items = Elements(part("steps", steps=steps)).all("li")
    assert items[1]["aria-current"] == "step" and "aria-current" not in items[0]


def test_plot_links_to_its_table_and_carries_its_words() -> None:
    html = part("plot", figure={"data": []}, id="p", words="Rise", table_url="#t")
    plot = next(a for a in Elements(html).all("div") if a.get("id") == "p")
    assert plot["data-figure"] == "p-data" and 'id="p-data"' in html
    assert plot["aria-label"] == "Rise" and plot["tabindex"] == "0"
    assert 'href="#t"' in html


@pytest.mark.parametrize("page", ["400", "403", "403_csrf", "404", "500"])
def test_error_pages_say_what_to_do_without_any_context(page: str) -> None:
    html = render_to_string(f"{page}.html")
    tags = Elements(html)
    assert len(tags.all("h1")) == len(tags.all("main")) == 1
    assert "Go to the first page" in html
    assert tags.all("html")[0]["lang"] == "en"


def test_base_page_has_a_skip_link_to_the_main_part() -> None:
    tags = Elements(render_to_string("404.html"))
    first_link = tags.all("a")[0]
    assert first_link["href"] == f"#{tags.all('main')[0]['id']}"
