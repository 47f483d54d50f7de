"""Forms filled in as a person does: open the page, keep what it holds, type over it, send it."""

from typing import TYPE_CHECKING, Any

from django import forms
from django.test import Client

if TYPE_CHECKING:
    from django.test.client import _MonkeyPatchedWSGIResponse as Answer


def held(form: forms.Form) -> dict[str, Any]:
    """What a browser would send of a form that nobody has touched."""
    found: dict[str, Any] = {}
    for field in form:
        value = field.value()
        if isinstance(field.field, forms.BooleanField):
            found |= {field.html_name: "on"} if value else {}
        elif isinstance(field.field, forms.MultipleChoiceField):
            found[field.html_name] = [str(one) for one in value or ()]
        else:
            found[field.html_name] = "" if value is None else str(value)
    return found


def send(client: Client, address: str, *, page: "Answer | None" = None, **typed: Any) -> "Answer":
    """Open the form at an address (or take an opened `page`), type into it and send it."""
    page = page or client.get(address)
    data = held(page.context["form"]) | typed
    return client.post(address, {name: value for name, value in data.items() if value is not None})


def errors(response: "Answer") -> dict[str, list[str]]:
    """The codes of what a form refused, by field; `__all__` are those on top."""
    found = response.context["form"].errors.as_data()
    return {field: [error.code for error in errors] for field, errors in found.items()}
