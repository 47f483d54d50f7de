"""Nonsense for forms and addresses: whatever is sent, a page answers and none of them is a fault of ours."""

import random
from collections.abc import Iterator
from typing import Any

from django import forms
from django.http import HttpResponse
from django.test import Client

from tests.web.posting import held

NONSENSE = (
    "", " ", "\x00", "a\x00b", "\r\n", "-1", "0", "1.5", "9" * 40, "1e999", "NaN", "½", "٣", "true", "None", "[]", "{}",
    "' OR 1=1 --", "<script>alert(1)</script>", "{{ 7*7 }}", "../../etc/passwd", "%00", "%s%n", "2026-13-45",
    "0000-00-00", "31/4/26", "+999999", "today today", "\u202e\u200b", "\ufeff", "🖐", "ø" * 3000, "\ud800",
)  # fmt: skip
EACH = 2


def tries(form: forms.Form, chance: random.Random) -> Iterator[dict[str, Any]]:
    """Sendings of a form: everything nonsense, then what the form holds with one field after the other spoilt."""
    names = [field.html_name for field in form]
    for nonsense in NONSENSE:
        yield dict.fromkeys(names, nonsense)
    for name in names:
        for nonsense in chance.sample(NONSENSE, EACH):
            yield held(form) | {name: nonsense}
    yield {name: ["x", "y"] for name in names}
    yield {}


def post_nonsense(client: Client, address: str, seed: int = 0) -> list[HttpResponse]:
    """Every answer of a form's address to nonsense; a fault in a view is raised by the client."""
    form = client.get(address).context["form"]
    return [client.post(address, encodable(data)) for data in tries(form, random.Random(seed))]


def encodable(data: dict[str, Any]) -> dict[str, Any]:
    """A lone surrogate cannot be sent as UTF-8: it goes as the bytes that a broken client would send."""
    return {
        name: value.encode("utf-8", "surrogatepass") if value == "\ud800" else value for name, value in data.items()
    }


def ask_nonsense(client: Client, address: str, *names: str) -> list[HttpResponse]:
    """Every answer to nonsense in the query of an address."""
    return [client.get(address, encodable(dict.fromkeys(names, nonsense))) for nonsense in NONSENSE]
