"""What holds for every act: stored equals derived, the trail names it, its role is asked for, a key counts once."""

import pkgutil
from dataclasses import replace
from datetime import date
from importlib import import_module
from inspect import isfunction
from uuid import uuid4

import pytest

from caseload import actions
from caseload.access import ALLOWED, Act
from caseload.actions import referrals
from caseload.actions.act import By, Repeated
from caseload.actions.rederive import rederive
from caseload.errors import Refusal
from caseload.models import Look, Staff, Submission, TrailEntry
from tests.record.acts import CALLS
from tests.scenario import TODAY, Fernhollow, by


@pytest.fixture(autouse=True)
def mail(settings) -> None:
    settings.MAIL_URL = "folder:"


def every_act():
    names = [module.name for module in pkgutil.iter_modules(actions.__path__)]
    modules = [import_module(f"caseload.actions.{name}") for name in names]
    found = {
        value for module in modules for value in vars(module).values() if isfunction(value) and hasattr(value, "act")
    }
    return sorted((value for value in found if not value.__module__.endswith(("intake", "confirming"))), key=name_of)


def name_of(function) -> str:
    return f"{function.__module__.rsplit('.', 1)[-1]}.{function.__name__}"


def able(act: Act) -> Staff:
    role = min(ALLOWED[act])
    return Staff.objects.create(username=f"{role}-who-can", name="Able", **{f"is_{role}": True})


class Referring(Fernhollow):
    """The clinic whose episodes all have a referral, so that its waits can drift too."""

    def episode(self, patient=None, **facts):
        patient, said = patient or self.patient(), {"received_on": date(2026, 3, 2), "source": "hand surgery"}
        return super().episode(patient, **{"referral": referrals.add(patient, by=by(self.admin), **said)} | facts)


@pytest.mark.parametrize("function", every_act(), ids=name_of)
def test_after_an_act_stored_equals_derived_and_the_trail_names_it(clinic, function):
    somebody = replace(by(able(function.act)), origin="192.0.2.7")
    CALLS[function](Referring(**vars(clinic)), somebody)
    assert rederive(by=by(), mend=False).moved == {}
    said = {"by": somebody.staff, "at": somebody.at, "origin": "192.0.2.7"}
    if function.act == Act.LIST_EXPORT:
        assert Look.objects.filter(**said).exists()
    else:
        assert TrailEntry.objects.filter(act=function.act, **said).exists()


def test_the_same_key_again_does_nothing_and_says_where_the_first_landed(clinic):
    episode = clinic.episode()
    once = By(clinic.therapist, by().at, TODAY, uuid4())
    from caseload.actions import episodes

    def close():
        return episodes.close(
            episode, by=once, version=None, how="transferred", on=TODAY, received_by="Another hand clinic"
        )

    close()
    with pytest.raises(Repeated) as repeated:
        close()
    assert repeated.value.outcome == episode.code
    assert TrailEntry.objects.filter(act=Act.EPISODE_CLOSE).count() == 1


def test_an_act_that_is_refused_leaves_its_key_free(clinic):
    from caseload.actions import patients

    once = By(clinic.admin, by().at, TODAY, uuid4())
    with pytest.raises(Refusal):
        patients.add(given="Ivo", family="Harrow", nhs_number="123", by=once)
    assert not Submission.objects.exists()
    patients.add(given="Ivo", family="Harrow", by=once)


def test_a_key_taken_by_somebody_else_is_refused(clinic):
    from caseload.actions import patients

    key = uuid4()
    patients.add(given="Ivo", family="Harrow", by=By(clinic.admin, by().at, TODAY, key))
    with pytest.raises(Refusal, match="sent before"):
        patients.add(given="Ivo", family="Harrow", by=By(clinic.lead, by().at, TODAY, key))


def test_a_change_on_top_of_somebody_elses_is_refused(clinic):
    from caseload.actions import episodes

    episode = clinic.episode()
    episodes.correct(episode, by=by(clinic.admin), version=1, surgeon="Dr Vane")
    with pytest.raises(Refusal) as refusal:
        episodes.correct(episode, by=by(clinic.lead), version=1, surgeon="Dr Weld")
    assert refusal.value.code == "changed-meanwhile"
