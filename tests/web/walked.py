"""The planted patient through every page, form, job, mail, file and fault, and what was seen of it on the way."""

import base64
import tempfile
from contextlib import AbstractContextManager
from datetime import date
from io import StringIO
from typing import Any
from unittest import mock
from uuid import uuid4

import time_machine
from django.conf import settings
from django.contrib.sessions.backends.db import SessionStore as Plain
from django.contrib.sessions.models import Session as SignedIn
from django.core import mail
from django.core.management import call_command
from django.db import connection
from django.test import Client, override_settings
from django.urls import get_resolver, reverse

from caseload.access.addresses import ADDRESSES, Thing
from caseload.actions import (
    feeds,
    jobs,
    letters,
    rederive,  # noqa: F401  importing registers the job
)
from caseload.exchange.writing import write_xlsx
from caseload.models import (
    FillPlan,
    Finding,
    Instruction,
    IntakeBatch,
    Job,
    LetterBatch,
    Measurement,
    Notice,
    Session,
    SetReview,
    Staff,
)
from caseload.outreach.post import send_due
from caseload.web import list_files
from caseload.web.sealed_sessions import SessionStore
from caseload.web.views import patient as patient_view
from tests.intake.pages import post_file
from tests.planted import FACTS, NHS_NUMBER, WORD, Planted, found_in
from tests.record.acts import CALLS
from tests.scenario import by
from tests.signed_in import session_of
from tests.web.noticed import Seen, listening
from tests.web.posting import held

OF_NOBODY = (
    "mfa_", "account_", "usersessions_", "set-password", "unlock", "rule", "filing", "need", "person", "people", "week",
    "absence", "closure", "help", "livez", "readyz", "sign-out",
)  # fmt: skip
"""How names of addresses begin whose pages show no patient."""
QUICK = "django.contrib.auth.hashers.MD5PasswordHasher"


def no_pdf() -> AbstractContextManager[object]:
    """A second or two less: what is typeset is the page that was read already."""
    return mock.patch.multiple("caseload.outreach.pdf", available=lambda: True, make_pdf=str.encode)


def walk(planted: Planted) -> Seen:
    """Everything once, as somebody in all three roles."""
    seen, client = Seen(), Client(raise_request_exception=False)
    client.cookies[settings.SESSION_COOKIE_NAME] = session_of(planted.lead)
    measured = [*settings.MIDDLEWARE[:7], "caseload.web.metrics.measured", *settings.MIDDLEWARE[7:]]
    with (
        listening(seen),
        no_pdf(),
        override_settings(MIDDLEWARE=measured, METRICS_TOKEN="a token", PASSWORD_HASHERS=[QUICK]),
    ):
        key = prepare(planted)
        for name, address in sorted(addresses(planted, key).items()):
            seen.take(client.get(address), name)
        fill_in(planted, client, seen)
        go_wrong(planted, client, seen)
        send_and_say(planted, seen)
        seen.metrics = Client().get("/metrics", headers={"Authorization": "Bearer a token"}).content.decode()
    seen.tables = tables()
    rows = SignedIn.objects.values_list("session_data", flat=True)
    seen.sessions = [(str(Plain().decode(row)), str(SessionStore().decode(row))) for row in rows]
    return seen


def prepare(planted: Planted) -> str:
    """What some addresses need beside the patient; the key of a calendar."""
    lead = by(planted.lead)
    CALLS[letters.print_batch](planted, lead)
    untold = planted.episode().follow_ups.get(key="stitches-out")
    planted.book([untold], date(2026, 4, 9), told="untold")
    Session.objects.update(therapist=planted.lead)
    return feeds.make(by=lead)


def addresses(planted: Planted, key: str) -> dict[str, str]:
    """An address of every name, about the planted patient wherever it is about one."""
    asked = [name for name in ADDRESSES if not name.startswith(OF_NOBODY)]
    routes = {name: choices[0][0][0][1] for name, choices in get_resolver().reverse_dict.lists() if name in asked}
    codes, rows = codes_of(planted), rows_of()
    found = {}
    for name, arguments in routes.items():
        row = rows.get(name.split("-")[0])
        of = getattr(row, str(ADDRESSES[name].holds), None)
        code = of.code if of else codes.get(ADDRESSES[name].holds, "nothing")
        given = {"code": code, "pk": row.pk if row else 1, "key": key, "minute": 540}
        if name == "follow-up-done":
            given["key"] = "stitches-out"
        found[name] = reverse(name, kwargs={argument: given[argument] for argument in arguments})
    return found


def codes_of(planted: Planted) -> dict[Thing, str]:
    patient = planted.patient()
    to_come = patient.appointments.filter(live=True, outcome="", start_minute=540)
    first = {
        Thing.EPISODE: patient.episodes, Thing.REFERRAL: patient.referrals, Thing.VISIT: patient.visits,
        Thing.APPOINTMENT: to_come, Thing.NOTICE: patient.notices, Thing.INTAKE: IntakeBatch.objects,
        Thing.JOB: Job.objects.filter(kind="patient-file"), Thing.PLAN: FillPlan.objects,
        Thing.SESSION: Session.objects.filter(appointments__in=to_come), Thing.LETTERS: LetterBatch.objects,
    }  # fmt: skip
    return {thing: rows.earliest("pk").code for thing, rows in first.items()} | {Thing.PATIENT: patient.code}


def rows_of() -> dict[str, Any]:
    """Rows that an address names by a key, by the first word of its name."""
    first = {"finding": Finding, "red": Finding, "instruction": Instruction, "measurement": Measurement,
             "review": SetReview}  # fmt: skip
    found = {word: model._base_manager.earliest("pk") for word, model in first.items()}
    return found | {"red": Finding.objects.filter(kind="red-flag").earliest("pk")}


def fill_in(planted: Planted, client: Client, seen: Seen) -> None:
    """Forms with the marks in them: saved, refused, half typed; lists narrowed, searched and taken away as files."""
    patient, episode = planted.patient(), planted.patient().episodes.open().latest("pk")
    for text in (FACTS["family"], FACTS["phone"], NHS_NUMBER, f"{WORD} nobody"):
        seen.take(client.post(reverse("search"), {"text": text}))
        seen.take(client.post(reverse("search"), {"text": text, "kind": "csv"}))
    seen.take(client.post(reverse("caseload"), {"name": WORD}))
    seen.take(client.get(reverse("caseload")))
    for name in ("caseload", "overdue", "to-book"):
        seen.take(client.post(reverse(name), {"kind": "xlsx"}))
    with mock.patch.object(list_files, "AT_ONCE", 0):
        seen.take(client.post(reverse("caseload"), {"kind": "csv"}))
    form = client.get(reverse("patient-correct", args=[patient.code])).context["form"]
    for typed in ({"born_on": WORD}, {"phone": "07700 900988"}, {"phone": "07700 900989"}):
        seen.take(client.post(reverse("patient-correct", args=[patient.code]), held(form) | typed | {"key": uuid4()}))
    seen.take(client.post(reverse("patient-new"), {"given": FACTS["given"], "family": f"{WORD}other"}))
    seen.take(client.post(reverse("visit-new", args=[episode.code]), {"note": f"{WORD} half typed"}))
    seen.take(
        client.post(reverse("patient-contact", args=[patient.code]), {"how": "phone", "reached": "spoke", "text": WORD})
    )
    seen.take(post_file(client, write_xlsx(["Surname", "First name", "Surgery date"], [[WORD, WORD, "2026-03-21"]])))
    jobs.run_due_jobs(9)


def go_wrong(planted: Planted, client: Client, seen: Seen) -> None:
    """Faults, addresses that are not there, people who may not: their pages and lines say nothing of anybody."""
    code, colleague = planted.patient().code, Client()
    broken = mock.Mock(side_effect=ValueError(f"{WORD} is in the row"))
    with mock.patch.object(patient_view, "patient_page", broken):
        seen.take(client.get(reverse("patient", args=[code])))
    for address in (f"/patients/{WORD}/", f"/{WORD}/", f"/caseload/?therapist={WORD}&per={WORD}"):
        answer = client.get(address)
        answer.content = b"" if answer.status_code == 200 else answer.content
        seen.take(answer)
    seen.take(client.get(f"/patients/{code}/?file={WORD}"))
    seen.take(client.put(reverse("patient", args=[code]), WORD))
    seen.take(client.post(reverse("patient-correct", args=[code]), {"key": WORD}))
    someone = Staff.objects.create(username="someone", name="Some One", password=None, is_therapist=True)
    colleague.cookies[settings.SESSION_COOKIE_NAME] = session_of(someone)
    planted.patient().episodes.update(therapist=planted.lead)
    for name in ("patient", "patient-correct"):
        seen.take(colleague.get(reverse(name, args=[code])), f"colleague {name}")
    seen.take(Client().post(reverse("sign-in"), {"username": FACTS["family"], "password": NHS_NUMBER}))


def send_and_say(planted: Planted, seen: Seen) -> None:
    """Mails on their way, and commands."""
    for notice in Notice.objects.filter(state="waiting", channel="email"):
        with time_machine.travel(notice.due_at, tick=False):
            send_due(9)
    seen.subjects = [f"{message.subject} {message.extra_headers}" for message in mail.outbox]
    said = StringIO()
    with tempfile.TemporaryDirectory() as folder:
        why = ["--by", planted.lead.username, "--why", "asked"]
        call_command("patient_file", planted.patient().code, f"{folder}/file", *why, stdout=said, stderr=said)
    for command in (["retention"], ["verify_trail"]):
        call_command(*command, stdout=said, stderr=said)
    seen.said = said.getvalue()


def tables() -> dict[str, set[str]]:
    """The marks in each table, as whoever takes the database away reads them."""
    found = {}
    for table in connection.introspection.table_names():
        with connection.cursor() as cursor:
            cursor.execute(f"SELECT * FROM {connection.ops.quote_name(table)}")  # noqa: S608
            text = "\n".join(opened(value) for row in cursor for value in row)
        if marks := found_in(text):
            found[table] = marks
    return found


def opened(value: Any) -> str:
    """A value as text; what is only packed in base 64, as the cache is, unpacked as well."""
    text = str(value)
    try:
        return text + base64.b64decode(text, validate=True).decode("utf-8", "replace")
    except ValueError:
        return text
