"""The trail, played forward, is what was done in its order, and adds up to what is stored."""

import ast
from collections import defaultdict
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import replace
from datetime import timedelta
from pathlib import Path
from random import Random
from typing import Any

import pytest
from django.db import models, transaction

from caseload.access import Act
from caseload.actions.act import By, plain
from caseload.errors import Refusal
from caseload.models import Appointment, Episode, Look, Site, Staff, TrailEntry
from tests.record.acts import CALLS
from tests.record.test_random_lives import Life
from tests.scenario import Fernhollow, by


@pytest.fixture
def able(clinic: Fernhollow, settings) -> Fernhollow:
    """The clinic with a lead who holds every role."""
    settings.MAIL_URL = "folder:"
    clinic.lead.is_therapist = clinic.lead.is_admin = True
    clinic.lead.save()
    return clinic


def call(number: int, clinic: Fernhollow) -> By:
    return replace(by(clinic.lead), origin=f"call {number}", at=by().at + timedelta(seconds=number))


def name_of(act: Any) -> str:
    return f"{act.__module__}.{act.__name__}"


def elsewhere(clinic: Fernhollow, number: int) -> Fernhollow:
    """The same with a site and a therapist of its own, so that no call finds the diary of another full."""
    site = Site.objects.create(name=f"Site {number}", region=clinic.site.region)
    therapist = Staff.objects.create(username=f"t{number}", name="T", password=None, is_therapist=True)
    return replace(clinic, site=site, therapist=therapist)


def test_the_trail_names_what_was_done_in_its_order_with_who_when_and_from_where(able):
    """Acts in an order of chance; a few find nothing to do beside the others."""
    calls, done = Random(4).sample(sorted(CALLS, key=name_of), 25), {}
    for number, act in enumerate(calls):
        with suppress(Refusal), transaction.atomic():
            CALLS[act](elsewhere(able, number), call(number, able))
            done[number] = act
    entries = list(TrailEntry.objects.filter(origin__startswith="call").order_by("id"))
    assert entries == sorted(entries, key=lambda entry: entry.at)
    left = defaultdict(set)
    for row in sorted([*entries, *Look.objects.filter(origin__startswith="call")], key=lambda row: row.at):
        number = int(row.origin.removeprefix("call "))
        assert (row.by, row.at) == (able.lead, call(number, able).at)
        left[number].add(row.act if isinstance(row, TrailEntry) else Act.LIST_EXPORT)
    assert len(done) > 20
    assert [name_of(act) for number, act in done.items() if act.act not in left[number]] == []
    assert list(left) == list(done)


def forward(model: type[models.Model]) -> Iterator[tuple[models.Model, dict[str, Any]]]:
    """Each row, and its columns as the trail's `changed` set them one after the other; a break in between fails."""
    columns, held = {field.name for field in model._meta.concrete_fields}, defaultdict(dict)
    for entry in TrailEntry.objects.filter(subject=model._meta.model_name).order_by("id"):
        state = held[entry.subject_id]
        for field in columns & entry.changed.keys():
            was, now = entry.changed[field]
            assert field not in state or state[field] == was, (entry.act, field)
            state[field] = now
    for row in model._base_manager.all():
        yield row, held[row.pk]


@pytest.mark.parametrize("seed", [1, 2])
def test_what_the_trail_says_of_episodes_and_appointments_adds_up_to_what_is_stored(clinic, seed):
    life = Life(clinic, seed)
    for _ in range(80):
        life.step()
    for model in (Episode, Appointment):
        compared = 0
        for row, state in forward(model):
            assert {field: plain(getattr(row, field)) for field in state} == state
            compared += len(state)
        assert compared


def test_whoever_acts_says_from_where():
    """Every `By` that is made anywhere has an origin; one that is only read with needs none."""
    nowhere = []
    for file in Path("caseload").rglob("*.py"):
        for call in ast.walk(ast.parse(file.read_text())):
            if isinstance(call, ast.Call) and getattr(call.func, "id", "") == "By":
                said = len(call.args) > 4 or any(keyword.arg == "origin" for keyword in call.keywords)
                nowhere += [] if said else [str(file)]
    assert nowhere == ["caseload/web/list_files.py"]
