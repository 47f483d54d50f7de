"""One random request after the other, and what must hold of every answer and of the database after some of them."""

from collections import Counter
from dataclasses import dataclass, field
from datetime import UTC, datetime
from random import Random
from typing import Any, Final

from django.conf import settings
from django.db import transaction
from django.http import HttpResponse
from django.test import Client
from django.urls import NoReverseMatch, URLPattern, get_resolver, reverse

from caseload.access.addresses import ADDRESSES, Thing
from caseload.access.objects import Whose
from caseload.actions.rederive import rederive
from caseload.models import Patient, Staff
from caseload.reads.reach import reached
from caseload.timetable.terms import Owner
from tests.fuzz.drawing import HEADERS, query, sent
from tests.scenario import TODAY, by
from tests.signed_in import session_of
from tests.web.policy_clinic import MISSING, World

PATTERNS: Final[list[URLPattern]] = get_resolver().url_patterns[0].url_patterns
MARKS: Final = ("Quillworth", "Tarnella")
"""Family and given name of a colleague's patient: nothing that is drawn holds them."""
METHODS: Final = (*["GET"] * 12, *["POST"] * 14, "PUT", "DELETE", "HEAD", "OPTIONS")
ROLES: Final = (Owner.THERAPIST, Owner.THERAPIST, Owner.ADMIN, Owner.LEAD, None)
TOGETHER: Final = 100
"""So many requests build on each other; then all is derived anew, compared, and undone."""
ALWAYS: Final = (
    "Content-Security-Policy", "X-Content-Type-Options", "Referrer-Policy", "X-Frame-Options", "Permissions-Policy",
    "Cross-Origin-Opener-Policy", "Cross-Origin-Resource-Policy",
)  # fmt: skip
NOW: Final = datetime(TODAY.year, TODAY.month, TODAY.day, 9, tzinfo=UTC)


class Wrong(AssertionError):
    """Something that must not be; it says which request of which seed."""


@dataclass
class Asked:
    """One request: who, by which method, where, with what."""

    role: Owner | None
    method: str
    name: str
    address: str
    sent: dict[str, Any]
    headers: dict[str, str]

    def __str__(self) -> str:
        return f"{self.role or 'nobody'} {self.method} {self.name} {self.address} {self.sent!r} {self.headers}"


@dataclass
class Fuzz:
    """`statuses` counts answers by role and status, `met` by address."""

    world: World
    seed: int
    roles: tuple[Owner | None, ...] = ROLES
    statuses: Counter[tuple[str, int]] = field(default_factory=Counter)
    met: Counter[str] = field(default_factory=Counter)
    clients: dict[Owner | None, Client] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.chance = Random(self.seed)
        code = self.world.behind[Whose.OTHER][ADDRESSES["patient"].holds]["code"]
        self.others = Patient.objects.get(code=code)
        self.others.family, self.others.given = MARKS
        self.others.save()

    def run(self, requests: int) -> None:
        """Raises Wrong at the first thing that is."""
        while (begun := self.statuses.total()) < requests:
            with transaction.atomic():
                self.clients = {role: self._client(role) for role in {*self.roles}}
                while self.statuses.total() < min(begun + TOGETHER, requests):
                    self._one(self.statuses.total())
                self._whole(begun)
                transaction.set_rollback(True)

    def _client(self, role: Owner | None) -> Client:
        client = Client(raise_request_exception=True)
        if role:
            client.cookies[settings.SESSION_COOKIE_NAME] = session_of(self.world.person(role))
        return client

    def _one(self, number: int) -> None:
        asked = self._drawn()
        form = None
        if asked.method == "POST" and self.chance.random() < 0.7:
            form = self._form(self._answer(asked.role, "GET", asked.address, {}, {}, number, asked))
        if asked.method == "POST":
            asked.sent = sent(self.chance, form)
        self._answer(asked.role, asked.method, asked.address, asked.sent, asked.headers, number, asked)
        self.met[asked.name] += 1

    def _drawn(self) -> Asked:
        role, pattern = self.chance.choice(self.roles), self.chance.choice(PATTERNS)
        method, headers = self.chance.choice(METHODS), dict(self.chance.choice(HEADERS))
        address = self._address(pattern, role or Owner.THERAPIST)
        return Asked(role, method, str(pattern.name), address, query(self.chance), headers)

    def _address(self, pattern: URLPattern, role: Owner) -> str:
        parts = pattern.pattern.converters or pattern.pattern.regex.groupindex  # type: ignore[union-attr]
        whose = self.chance.choice((*Whose, None))
        name = str(pattern.name)
        holds = ADDRESSES[name].holds
        # A passkey that no device made is a fault of whoever planted it.
        said = MISSING if holds is Thing.OWN_KEY else self.world.names(name, holds, whose or Whose.OWN, role)
        if whose is None or self.chance.random() < 0.05:
            said = said | {part: MISSING[part] for part in parts if part in MISSING}
        try:
            return reverse(pattern.name, kwargs={part: said[part] for part in parts})
        except NoReverseMatch:
            return f"/{name}/"

    def _answer(
        self, role: Owner | None, method: str, address: str, data: dict[str, Any], headers: dict[str, str], number: int,
        asked: Asked,
    ) -> HttpResponse:  # fmt: skip
        client, where = self.clients[role], f"seed {self.seed}, request {number}: {asked}"
        try:
            if method in ("GET", "HEAD", "POST"):
                answer = getattr(client, method.lower())(address, data, headers=headers)
            else:
                answer = client.generic(method, address, b"x=1", headers=headers)
        except Exception as fault:
            raise Wrong(where) from fault
        self.statuses[str(role or "nobody"), answer.status_code] += 1
        self._check(role, answer, where)
        self._stay(role)
        return answer

    def _check(self, role: Owner | None, answer: HttpResponse, where: str) -> None:
        body = b"".join(answer.streaming_content) if answer.streaming else answer.content
        if answer.status_code >= 500:
            raise Wrong(f"{answer.status_code} for {where}")
        missing = [name for name in ALWAYS if name not in answer.headers]
        if missing:
            raise Wrong(f"without {', '.join(missing)}: {where}")
        said = str(answer.headers)
        if any(mark in said for mark in MARKS) or b"Traceback (most recent" in body:
            raise Wrong(f"says too much: {where}")
        if any(mark.encode() in body or mark.upper().encode() in body for mark in MARKS) and not self._may_see(role):
            raise Wrong(f"shows a patient who is not theirs: {where}")

    def _may_see(self, role: Owner | None) -> bool:
        if role is None:
            return False
        staff = Staff.objects.get(pk=self.world.person(role).pk)
        return reached(staff, self.others.pk, NOW)

    def _stay(self, role: Owner | None) -> None:
        """Who was signed out, or left, by what was drawn comes back."""
        if role and "_auth_user_id" not in self.clients[role].session:
            self.clients[role] = self._client(role)

    def _form(self, answer: HttpResponse) -> Any:
        context = getattr(answer, "context", None)
        try:
            return context["form"] if context else None
        except KeyError:
            return None

    def _whole(self, start: int) -> None:
        """What is stored is what is derived, and nobody is lost: every open episode has a next step."""
        if moved := rederive(by=by(), mend=False).moved:
            raise Wrong(f"seed {self.seed}, requests from {start}: stored is not derived: {moved}")
