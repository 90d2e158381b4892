"""A figure's data as a script element the browser reads and never runs."""

from base64 import b64encode
from collections.abc import Mapping
from json import JSONEncoder
from typing import Any

import numpy as np
from django import template
from django.utils.html import json_script
from django.utils.safestring import SafeString

register = template.Library()


class FigureEncoder(JSONEncoder):
    """Arrays as plotly's script takes them, their bytes in base64; moments by ISO 8601."""

    def default(self, o: Any) -> object:
        if isinstance(o, np.ndarray):
            return {"dtype": "f8", "bdata": b64encode(o.astype("<f8").tobytes()).decode()}
        return o.isoformat()


@register.simple_tag
def plot_data(figure: Mapping[str, Any], element_id: str) -> SafeString:
    """The figure's JSON, in which no text can end the element."""
    return json_script(figure, element_id, FigureEncoder)
