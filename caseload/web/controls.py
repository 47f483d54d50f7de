"""A choice from a list as markup, joined from escaped strings: many choices are what a list page would wait for."""

from collections.abc import Iterable
from html import escape

from django.utils.safestring import SafeString, mark_safe


def select(name: str, id: str, choices: Iterable[tuple[str, str]], chosen: str) -> SafeString:
    """A select element; `chosen` is the value that is selected, the first one if it is none of the choices."""
    options = "".join(
        f'<option value="{escape(value)}"{" selected" if value == chosen else ""}>{escape(said)}</option>'
        for value, said in choices
    )
    return mark_safe(f'<select name="{escape(name)}" id="{escape(id)}">{options}</select>')
