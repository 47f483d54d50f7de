"""Every address × role × object × method, against the table reviewed by hand (`policy.md`).

What a page says is tested elsewhere: here a page is the name of its template, so that thousands of them are asked. Each
request is undone, and all of them meet the same clinic.
"""

from collections.abc import Callable, Iterator, Mapping
from datetime import UTC, datetime
from functools import partial
from itertools import product
from pathlib import Path
from typing import Any, NamedTuple
from urllib.parse import urlencode

import pytest
import time_machine
from django.conf import settings
from django.db import transaction
from django.template.backends.django import Template
from django.test import Client
from django.urls import URLPattern, get_resolver, reverse

from caseload.access.addresses import ADDRESSES, Thing
from caseload.access.objects import Whose
from caseload.models import Staff
from caseload.timetable.terms import Owner
from caseload.web.sealed_sessions import SessionStore
from tests.scenario import TODAY
from tests.signed_in import session_of
from tests.web.policy_clinic import MISSING, World, world

pytestmark = pytest.mark.django_db
LETTERS = {"T": Owner.THERAPIST, "A": Owner.ADMIN, "L": Owner.LEAD}
PATTERNS: list[URLPattern] = get_resolver().url_patterns[0].url_patterns
METHODS = ("GET", "POST", "PUT")
IN_FORMS = frozenset({"to-book-visit", "to-book-call", "to-book-told", "to-book-open"})
"""Whom these are about stands in the form: see below."""
PROBES = frozenset({"livez", "readyz", "metrics"})
"""Answered before anything else, whatever the method."""
SENT = {
    "notice-rung": {"reached": "no-answer"}, "rules-compare": {"before": "two-week 1", "after": "two-week 1"},
    "rule-change-new": {"set": "two-week 1"}, "rules-move": {"set": "two-week 1"}, "trail": {"kind": "csv"},
}  # fmt: skip
"""What an address needs, in its query and sent, before it says anything else."""
HTMX = {"HX-Request": "true"}
IN = frozenset({200, 204, 302, 409, 413, 422})
"""Somebody got in, whatever the page then made of an empty form."""


class Row(NamedTuple):
    name: str
    holds: Thing
    reads: str
    sends: str
    others: str
    closed: str
    missing: str

    def lets_in(self, method: str) -> str:
        return {"GET": self.reads, "POST": self.sends}.get(method, "–")


def rows() -> dict[str, Row]:
    lines = (Path(__file__).parent / "policy.md").read_text().splitlines()
    cells = [[cell.strip() for cell in line.strip("|").split("|")] for line in lines if line.startswith("| ")][1:]
    return {name: Row(name, Thing(holds), *said) for name, holds, *said in cells}


ROWS = rows()


@pytest.fixture(scope="module")
def clinic_of_all(django_db_setup: None, django_db_blocker: Any) -> Iterator[World]:
    now = datetime(TODAY.year, TODAY.month, TODAY.day, 9, tzinfo=UTC)
    with django_db_blocker.unblock(), time_machine.travel(now, tick=False), transaction.atomic():
        yield world()
        transaction.set_rollback(True)


@pytest.fixture(scope="module")
def sessions(clinic_of_all: World) -> dict[Owner, str]:
    """One for each role, in which the password was typed just now."""
    return {role: _signed_in(clinic_of_all.person(role)) for role in Owner}


def _signed_in(staff: Staff) -> str:
    session = SessionStore(session_of(staff))
    now = {"method": "password", "at": datetime.now(UTC).timestamp()}
    session["account_authentication_methods"], session["account_authentication_methods_user"] = [now], str(staff.pk)
    session.save()
    return str(session.session_key)


@pytest.fixture(autouse=True)
def pages_by_name(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(Template, "render", lambda self, *_: str(self.template.name))


def test_every_address_has_a_row_in_both_tables():
    names = {pattern.name for pattern in PATTERNS}
    assert names - ADDRESSES.keys() == set() and names - ROWS.keys() == set()
    assert ROWS.keys() - names == set()


@pytest.mark.parametrize("role", Owner)
@pytest.mark.parametrize("method", METHODS)
def test_each_role_meets_what_the_table_says(clinic_of_all: World, sessions: dict[Owner, str], role, method):
    wrong = []
    for pattern, whose in product(PATTERNS, (*Whose, None)):
        row = ROWS[pattern.name]
        if not _asked(row, whose, method):
            continue
        address = partial(_address, pattern, clinic_of_all, whose, role)
        met = _met(sessions[role], method, address, SENT.get(row.name, {}))
        if met not in (wanted := _wanted(row, role, whose, method)):
            wrong.append(f"{method} {row.name} of {whose or 'nobody'}: {met}, not {' or '.join(wanted)}")
    assert not wrong, "\n".join(wrong)


def _asked(row: Row, whose: Whose | None, method: str) -> bool:
    """Whether there is such an object behind such an address; what no method asks for is asked once."""
    if row.name in PROBES or row.name in IN_FORMS or method == "PUT":
        return whose is Whose.OWN and row.name not in PROBES | IN_FORMS
    there = {Whose.OTHER: row.others, Whose.CLOSED: row.closed, None: row.missing}
    return there.get(whose, row.name) != "–"


def _address(pattern: URLPattern, clinic: World, whose: Whose | None, role: Owner) -> str:
    parts = pattern.pattern.converters or pattern.pattern.regex.groupindex  # type: ignore[union-attr]
    holds = ROWS[pattern.name].holds
    said = clinic.names(pattern.name, holds, whose or Whose.OWN, role)
    if whose is None:
        said = said | {
            name: MISSING[name] for name in parts if name in MISSING and (name == "code" or "code" not in parts)
        }
    return reverse(pattern.name, kwargs={name: said[name] for name in parts})


def _met(session: str, method: str, address: Callable[[], str], sent: Mapping[str, str], **headers: str) -> str:
    """What came back, as a word of the table."""
    client = Client(raise_request_exception=False)
    client.cookies[settings.SESSION_COOKIE_NAME] = session
    ask = {"GET": client.get, "POST": client.post, "PUT": client.put}[method]
    with transaction.atomic():
        answer = ask(f"{address()}?{urlencode(sent)}", sent if method == "POST" else None, headers=headers)
        transaction.set_rollback(True)
    if answer.status_code == 403:
        return "reason" if answer.content == b"policy/reason.html" else "role"
    return "in" if answer.status_code in IN else str(answer.status_code)


def _able(row: Row, method: str) -> set[Owner]:
    return {LETTERS[letter] for letter in row.lets_in(method).split() if letter in LETTERS}


def _wanted(row: Row, role: Owner, whose: Whose | None, method: str) -> tuple[str, ...]:
    lets_in = row.lets_in(method)
    if lets_in == "–":
        return ("405",)
    if lets_in != "public" and role not in _able(row, method):
        return ("role",)
    if whose is None and row.missing != "leads on":
        return (row.missing,)
    if whose is Whose.OTHER and row.others.startswith("404"):
        return ("in" if row.others == "404, L in" and role is Owner.LEAD else "404",)
    if whose is Whose.CLOSED:
        return ("in" if row.closed == "as own" else row.closed,)
    if whose is Whose.OTHER and role is Owner.THERAPIST:
        return ("in" if row.others == "as own" else row.others,)
    return ("in",)


def test_a_fragment_obeys_as_its_page_does(clinic_of_all: World, sessions: dict[Owner, str]):
    role, met = Owner.THERAPIST, []
    for pattern, method in product(PATTERNS, ("GET", "POST")):
        row = ROWS[pattern.name]
        if row.others == "reason" and role in _able(row, method):
            address = partial(_address, pattern, clinic_of_all, Whose.OTHER, role)
            met.append(_met(sessions[role], method, address, {}, **HTMX))
    assert len(met) > 30 and set(met) == {"reason"}


def test_who_is_not_signed_in_is_sent_to_sign_in(clinic_of_all: World):
    for pattern in PATTERNS:
        row = ROWS[pattern.name]
        if "public" not in (row.reads, row.sends):
            address = _address(pattern, clinic_of_all, Whose.OWN, Owner.LEAD)
            with transaction.atomic():
                answers = [Client().get(address), Client().post(address)]
                transaction.set_rollback(True)
            assert all(answer.url.startswith("/sign-in/") for answer in answers), row.name


def test_a_row_of_another_record_is_not_found_behind_ones_own(clinic_of_all: World, sessions: dict[Owner, str]):
    """The key of a finding of a colleague's patient after the code of one's own episode, and so on."""
    foreign = clinic_of_all.keys[Whose.OTHER]
    for pattern in PATTERNS:
        row = ROWS[pattern.name]
        if "pk" in foreign.get(row.name, {}):
            own = clinic_of_all.names(row.name, row.holds, Whose.OWN, Owner.THERAPIST)
            address = partial(reverse, row.name, kwargs={**own, **foreign[row.name]})
            assert _met(sessions[Owner.THERAPIST], "POST", address, {}) == "404", row.name


@pytest.mark.parametrize("whose", [Whose.OWN, Whose.OTHER])
def test_whom_a_form_names_is_asked_too(clinic_of_all: World, sessions: dict[Owner, str], whose):
    """The booking list sends what it is about in its form."""
    sent = clinic_of_all.sent(whose)
    assert sent.keys() == IN_FORMS
    for name, said in sent.items():
        met = {role: _met(sessions[role], "POST", partial(reverse, name), said) for role in Owner}
        assert met[Owner.ADMIN] == met[Owner.LEAD] == "in", name
        assert (met[Owner.THERAPIST] == "in") is (whose is Whose.OWN), name
