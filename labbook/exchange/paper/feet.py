"""What stands at the foot of every printed page, as the style sheet that puts it there.

The security policy of the pages allows no styles inside them, so the words at the foot, which
differ from run to run, come as a style sheet with an address of its own.
"""

from __future__ import annotations

from ...lookups.practice import is_of_practice
from ...models import Run


def feet_of(run: Run, short_hash: str) -> str:
    left = f"Run {run.pk}, group {run.group}, {run.bench}"
    if is_of_practice(run):
        left = f"Practice term. {left}"
    return (
        f"@page {{ @bottom-left {{ content: {css_text(left)} }} "
        f"@bottom-center {{ content: {css_text(f'Record hash {short_hash}')} }} }}\n"
    )


def css_text(words: str) -> str:
    """Any words as a string of CSS: all but letters and digits as numbered characters."""
    shown = (c if c.isascii() and c.isalnum() else f"\\{ord(c):06x} " for c in words)
    return f'"{"".join(shown)}"'
