"""What a random request is made of: values of forms, queries, headers and files, some sensible and some nonsense."""

from collections.abc import Mapping, Sequence
from datetime import timedelta
from random import Random
from typing import Any, Final

from django import forms
from django.core.files.uploadedfile import SimpleUploadedFile

from tests.scenario import TODAY
from tests.web.fuzz import NONSENSE, encodable
from tests.web.posting import held

NAMES: Final = (
    "sort", "page", "per", "site", "therapist", "headline", "owner", "state", "suture", "planned", "name", "set",
    "text", "on", "of", "as", "moving", "row", "kind", "session", "clock", "period", "first", "last", "surgeon",
    "priority", "by", "which", "group", "year", "slots", "fate", "before", "after", "like", "who", "act", "what",
    "patient", "next", "live", "key", "version", "preview", "sure", "chosen", "line", "all", "decline", "order",
    "from", "until", "why", "file",
)  # fmt: skip
"""Names that some page reads from its address or from what is sent."""
SENSIBLE: Final = (
    "today", "+3", "3/4/26", "14", "0", "1", "on", "right", "ring", "open", "none", "csv", "xlsx", "json", "phone",
    "-day", "week", "all", "mine", "two-week 1", "two-week 2", "stitches-out", "no-answer", "thea", "07700 900123",
    "9990000018", "A quiet word", "2026-04-01", "25", "/caseload/",
)  # fmt: skip
LISTS: Final = (
    b"", b"\x00" * 50, b"PK\x03\x04" + b"x" * 40, b"%PDF-1.7", b"Surname,First name,Surgery date\nAsh,Ann,2026-03-20\n",
    "Surname;First name\nØstby;Åse\n".encode("utf-16"), b"Surname\n" + b"=1+1,\n" * 400, b'"unclosed\nSurname,',
)  # fmt: skip
HEADERS: Final[Sequence[Mapping[str, str]]] = (
    {}, {}, {}, {"HX-Request": "true"}, {"HX-Request": "true", "HX-Target": "panel"}, {"Accept-Language": "xx, de;q=z"},
    {"Accept": "application/json"}, {"X-Forwarded-For": "not an address, 1.2.3.4"}, {"Host": "elsewhere.example.org"},
    {"Referer": "https://elsewhere.example.org/"}, {"Content-Type": "application/json"}, {"Range": "bytes=0-1"},
)  # fmt: skip


def value(chance: Random, field: forms.Field | None = None) -> str:
    """Something for a field: one of its own choices, a sensible word, or nonsense."""
    choices = [str(key) for key, _ in getattr(field, "choices", ()) if not isinstance(key, (list, tuple))]
    if choices and chance.random() < 0.6:
        return chance.choice(choices)
    if isinstance(field, forms.DateField) or chance.random() < 0.2:
        return (TODAY + timedelta(days=chance.randint(-60, 60))).isoformat()
    return chance.choice(SENSIBLE if chance.random() < 0.6 else NONSENSE)


def query(chance: Random) -> dict[str, str]:
    if chance.random() < 0.6:
        return {}
    return encodable({name: value(chance) for name in chance.sample(NAMES, chance.randint(1, 5))})


def sent(chance: Random, form: forms.Form | None) -> dict[str, Any]:
    """What is sent: what the form of the page holds with some fields drawn anew, or names that pages read."""
    if form is None:
        found = {name: value(chance) for name in chance.sample(NAMES, chance.randint(0, 8))}
    else:
        found = held(form)
        for name in chance.sample(list(form.fields), min(len(form.fields), chance.randint(0, 6))):
            found[form.add_prefix(name)] = value(chance, form.fields[name])
        if chance.random() < 0.1:
            found.pop(chance.choice(list(found) or [""]), None)
    if form and any(isinstance(field, forms.FileField) for field in form.fields.values()) or chance.random() < 0.02:
        name = chance.choice(("list.csv", "list.xlsx", "../../list.csv", "ø\u202e.csv", ""))
        found["file"] = SimpleUploadedFile(name or "list", chance.choice(LISTS))
    return encodable(found)
