"""The demo and a real service are never mixed, by whatever way somebody or something comes in.

That `demo` refuses a real service and wiping refuses a mixture: tests/demo; that a mixed backup is: tests/house.
"""

import io

import pytest
from django.core.management import CommandError, call_command

from caseload.actions import intake, patients, people
from caseload.actions.confirming import confirm
from caseload.actions.wiping import refuse_mixed
from caseload.errors import Refusal
from caseload.models import Patient, Site, Staff
from tests.intake.conftest import ORDINARY, listing
from tests.scenario import by

LIST = listing(ORDINARY)


@pytest.fixture
def demo(clinic):
    """The clinic as the demo's."""
    Staff.objects.update(demo=True)
    for person in (clinic.admin, clinic.lead, clinic.therapist):
        person.refresh_from_db()
    return clinic


def real() -> Staff:
    return Staff.objects.create(username="joan", name="Joan Petherick", is_admin=True)


def listed(clinic, who):
    confirm(intake.upload(LIST, file_name="list.csv", by=who, site=clinic.site), by=who, version=None)


def test_whoever_is_added_to_the_demo_is_invented(demo):
    patients.add(given="Ivo", family="Harrow", by=by(demo.admin))
    patients.add(given="Ida", family="Harrow", by=by())
    listed(demo, by())
    assert list(Patient.objects.values_list("demo", flat=True)) == [True] * 3


def test_whoever_is_added_to_a_service_is_real(clinic):
    patients.add(given="Ivo", family="Harrow", by=by(clinic.admin))
    patients.add(given="Ida", family="Harrow", by=by())
    listed(clinic, by())
    assert list(Patient.objects.values_list("demo", flat=True)) == [False] * 3


@pytest.mark.parametrize(
    "way",
    [
        lambda clinic, who: patients.add(given="Ivo", family="Harrow", by=who),
        lambda clinic, who: listed(clinic, who),
        lambda clinic, who: people.add_person("ann", name="Ann", roles={"lead"}, password="a long word and more"),
        lambda clinic, who: people.invite(by=by(), username="ann", name="Ann", roles={"lead"}),
    ],
    ids=["added", "in a list", "employed", "invited"],
)
def test_nobody_real_comes_into_the_demo(demo, way):
    with pytest.raises(Refusal) as refusal:
        way(demo, by(real()))
    assert refusal.value.code == "demo-database"
    assert not Patient.objects.exists() and not Staff.objects.filter(username="ann").exists()


def test_who_is_invited_by_somebody_of_the_demo_is_of_the_demo(demo):
    assert people.invite(by=by(demo.lead), username="ann", name="Ann", roles={"lead"}).demo


def test_no_site_is_added_to_the_demo_and_one_of_it_may_be_corrected(demo):
    with pytest.raises(CommandError, match="holds the demo"):
        call_command("add_site", "Riverside", "--region", "GB-ENG")
    assert not Site.objects.filter(name="Riverside").exists()
    call_command("add_site", "Fernhollow", "--region", "GB-ENG", "--telephone", "01632 960101", stdout=io.StringIO())
    assert Site.objects.get(name="Fernhollow").telephone == "01632 960101"


def test_a_mixture_is_seen_wherever_it_came_from(clinic):
    refuse_mixed()
    Patient.objects.filter(pk=clinic.patient().pk).update(demo=True)
    with pytest.raises(Refusal, match="mixed here"):
        refuse_mixed()
