"""Every page about a patient leaves one look, every page that names patients leaves one, every act leaves its entry
with who, when and from where."""

from collections.abc import Iterator
from datetime import UTC, datetime
from typing import Any

import pytest
import time_machine
from django.conf import settings
from django.db import transaction
from django.test import Client
from pytest_django import DjangoDbBlocker

from caseload.access import Act
from caseload.access.addresses import ADDRESSES, OF_A_PATIENT
from caseload.models import Look, TrailEntry
from tests.planted import Planted, found_in, lived
from tests.scenario import fernhollow
from tests.signed_in import session_of
from tests.web.walked import addresses, prepare

pytestmark = pytest.mark.django_db
NOW = datetime(2026, 4, 1, 9, tzinfo=UTC)


class Visited:
    """What a page answered, and the looks that it left."""

    def __init__(self, client: Client, address: str) -> None:
        last = Look.objects.order_by("pk").last()
        answer = client.get(address)
        self.status, self.names = answer.status_code, _names_somebody(answer)
        self.looks = list(Look.objects.filter(pk__gt=last.pk if last else 0).select_related("patient"))


def _names_somebody(answer: Any) -> bool:
    return not answer.streaming and bool(found_in(answer.content.decode("utf-8", "replace")))


@pytest.fixture(scope="module")
def visited(django_db_setup: None, django_db_blocker: DjangoDbBlocker) -> Iterator[tuple[Planted, dict[str, Visited]]]:
    """Every address once, as a lead, over a clinic with a row behind each."""
    with django_db_blocker.unblock(), transaction.atomic(), time_machine.travel(NOW, tick=False):
        planted = lived(fernhollow())
        key = prepare(planted)
        client = Client(raise_request_exception=False)
        client.cookies[settings.SESSION_COOKIE_NAME] = session_of(planted.lead)
        yield planted, {name: Visited(client, address) for name, address in sorted(addresses(planted, key).items())}
        transaction.set_rollback(True)


def test_each_page_about_a_patient_leaves_one_look_at_them_with_its_origin(visited):
    planted, pages = visited
    of_patient = {name: page for name, page in pages.items() if ADDRESSES[name].holds in OF_A_PATIENT}
    shown = {name: page for name, page in of_patient.items() if page.status == 200}
    assert len(shown) > 30
    left = {
        name: [(look.patient, look.route, look.by, look.origin) for look in page.looks] for name, page in shown.items()
    }
    assert left == {name: [(planted.one, name, planted.lead, "127.0.0.1")] for name in shown}


def test_each_page_that_names_a_patient_leaves_a_look(visited):
    _, pages = visited
    naming = {name for name, page in pages.items() if page.names}
    assert len(naming) > 40
    assert {name for name in naming if not pages[name].looks} == set()


def test_a_page_that_leads_to_nobody_leaves_none(visited):
    planted, _ = visited
    client = Client()
    client.cookies[settings.SESSION_COOKIE_NAME] = session_of(planted.lead)
    pages = [Visited(client, f"/{name}/") for name in ("help", "rules", "sessions", "jobs")]
    assert [(page.status, page.looks) for page in pages] == [(200, [])] * 4


def test_a_form_that_comes_back_is_no_further_look_but_one_that_nobody_opened_is(visited):
    planted, _ = visited
    client, episode = Client(), planted.one.episodes.earliest("pk")
    client.cookies[settings.SESSION_COOKIE_NAME] = session_of(planted.therapist)
    of_therapist = Look.objects.filter(by=planted.therapist, patient=planted.one, route="episode-close")
    for _ in range(2):
        assert client.post(f"/episodes/{episode.code}/close/", {}).status_code == 422
        assert of_therapist.count() == 1


def test_every_act_that_a_page_sends_leaves_its_entry_with_who_when_and_from_where(visited):
    planted, _ = visited
    client, code = Client(), planted.one.code
    client.cookies[settings.SESSION_COOKIE_NAME] = session_of(planted.admin)
    answer = client.post(
        f"/patients/{code}/contacts/new/", {"how": "phone", "reached": "no-answer"}, REMOTE_ADDR="192.0.2.7"
    )
    entry = TrailEntry.objects.latest("pk")
    assert answer.status_code == 302
    assert (entry.act, entry.by, entry.at, entry.origin) == (Act.CONTACT_LOG, planted.admin, NOW, "192.0.2.7")
    assert entry.patient == planted.one
