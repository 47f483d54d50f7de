"""Two leads at the same moment: the database tells one that the name is taken, and one lead is left."""

import pytest

from caseload.actions import people
from caseload.models import Staff
from caseload.timetable.terms import Owner
from tests.record.at_once import at_once
from tests.scenario import by

NEW = {"username": "rosa", "name": "Rosa Brook", "roles": {Owner.ADMIN}}


def leads() -> list[Staff]:
    made = [Staff.objects.create(username=name, name=name, is_lead=True) for name in ("lena", "noor")]
    Staff.objects.update(password="argon2$not-a-hash")
    return made


@pytest.mark.django_db(transaction=True)
def test_two_leads_at_once_invite_one_person_and_do_not_both_take_the_role_from_the_other():
    one, other = leads()
    answers = at_once(*[lambda lead=lead: people.invite(by=by(lead), **NEW) for lead in (one, other)])
    assert answers.count("username-taken") == 1 and Staff.objects.filter(username="rosa").count() == 1
    pairs = [[Staff.objects.get(pk=each.pk) for each in pair] for pair in ((one, other), (other, one))]
    acts = [lambda a=a, b=b: people.change(b, by=by(a), roles={Owner.ADMIN}) for a, b in pairs]
    assert at_once(*acts).count("last-lead") == 1 and Staff.objects.filter(is_lead=True).count() == 1
