"""A figure's data as a script element the browser reads and never runs."""

from django import template
from django.utils.html import format_html
from django.utils.safestring import SafeString
from plotly.graph_objects import Figure

register = template.Library()


@register.simple_tag
def plot_data(figure: Figure, element_id: str) -> SafeString:
    """The figure's JSON. Plotly writes <, > and / as escapes, so no text in it ends the element."""
    data = SafeString(figure.to_json())
    return format_html('<script id="{}" type="application/json">{}</script>', element_id, data)
