"""States in the forms a page needs them: a class name and plain words."""

from django import template

register = template.Library()


@register.filter
def state_class(state: str) -> str:
    """set_aside, "set aside" and "Set aside" are one state: set-aside."""
    return str(state).strip().lower().replace("_", "-").replace(" ", "-")


@register.filter
def state_words(state: str) -> str:
    return state_class(state).replace("-", " ")
