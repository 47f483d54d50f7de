"""Role × act × whose record, as one table. Checked against the design of this service; no published table fits it."""

import pytest

from caseload.access.acts import Act
from caseload.access.objects import ABOUT_NO_PATIENT, OF_AN_OPEN_EPISODE, TABLE, Says, Whose, says
from caseload.access.roles import ALLOWED, may
from caseload.timetable.terms import Owner

THERAPIST, ADMIN, LEAD = (frozenset({role}) for role in (Owner.THERAPIST, Owner.ADMIN, Owner.LEAD))


def test_every_role_act_and_object_has_one_answer():
    assert len(TABLE) == len(Owner) * len(Act) * len(Whose)
    assert ALLOWED.keys() == set(Act)


def test_a_therapist_gives_a_reason_for_anothers_patient_and_none_for_their_own():
    assert says(THERAPIST, Act.VISIT_RECORD, Whose.OTHER) is Says.REASON
    assert says(THERAPIST, Act.VISIT_RECORD, Whose.OWN) is Says.YES


@pytest.mark.parametrize("act", Act)
@pytest.mark.parametrize("roles", [ADMIN, LEAD])
def test_nothing_is_anothers_to_an_admin_or_a_lead(roles, act):
    assert says(roles, act, Whose.OTHER) is says(roles, act, Whose.OWN)


@pytest.mark.parametrize("act", Act)
@pytest.mark.parametrize("roles", [THERAPIST, ADMIN, LEAD, THERAPIST | ADMIN])
def test_what_a_role_may_not_do_it_may_do_to_nobody(roles, act):
    assert all((says(roles, act, whose) is Says.NO) is not may(roles, act) for whose in Whose)


def test_roles_add_up():
    both = THERAPIST | ADMIN
    assert says(both, Act.CONTACT_LOG, Whose.OTHER) is Says.YES
    assert says(both, Act.VISIT_RECORD, Whose.OTHER) is Says.REASON
    assert says(frozenset(), Act.CONTACT_LOG, Whose.OWN) is Says.NO


@pytest.mark.parametrize("act", sorted(OF_AN_OPEN_EPISODE))
def test_what_needs_an_open_episode_is_shut_on_a_closed_one(act):
    assert says(frozenset(Owner), act, Whose.CLOSED) is Says.SHUT and act not in ABOUT_NO_PATIENT


def test_a_reason_is_asked_of_a_therapist_for_every_act_about_a_patient_but_two():
    asked = {act for act in Act if says(THERAPIST, act, Whose.OTHER) is Says.YES}
    assert asked - ABOUT_NO_PATIENT == {Act.PATIENT_ADD, Act.PATIENT_OPEN}
