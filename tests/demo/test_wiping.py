"""`demo` and `demo --wipe` where the demo is loaded."""

import pytest
from allauth.mfa.models import Authenticator
from django.apps import apps
from django.contrib.auth.hashers import check_password
from django.core.management import CommandError

from caseload.demo.people import PASSWORD
from caseload.models import Patient, Staff
from tests.demo.saying import make_real, say

TABLES = [*apps.get_app_config("caseload").get_models(), Authenticator]


def test_a_second_time_it_says_that_it_is_here_already(built):
    assert "here already" in say()
    assert Patient.objects.count() == built.patients


def test_wiping_leaves_nothing(built):
    Authenticator.objects.create(user=Staff.objects.first(), type="totp", data={"secret": ""})
    assert f"{built.episodes} episodes, {built.patients} patients, 8 staff" in say("--wipe", "--yes")
    left = {table.__name__: table.objects.count() for table in TABLES}
    assert {name: count for name, count in left.items() if count} == {}


def test_wiping_asks_first_and_needs_an_answer(built):
    with pytest.raises(CommandError, match="--yes"):
        say("--wipe")
    assert Patient.objects.exists()


@pytest.mark.parametrize("what", ["patients", "staff"])
def test_wiping_refuses_where_anything_is_real(built, what):
    make_real(what)
    with pytest.raises(CommandError, match=f"1 {what} of a real service. Nothing was wiped"):
        say("--wipe", "--yes")
    assert Patient.objects.filter(demo=True).exists()


def test_every_demo_person_signs_in_with_the_one_password(built):
    hashes = set(Staff.objects.values_list("password", flat=True))
    assert len(hashes) == 1 and check_password(PASSWORD, hashes.pop())
