"""User names, and how somebody stands to signing in."""

import pytest

from caseload.access.people import Presence, presence_of, read_username
from caseload.errors import Refusal


@pytest.mark.parametrize("typed", ["", "noor vale", "-noor", "noor.", "noor@example.org", "n" * 61, "ñoor", "no\x00or"])
def test_a_user_name_that_not_everybody_can_type_is_refused(typed):
    with pytest.raises(Refusal):
        read_username(typed)


@pytest.mark.parametrize(("typed", "read"), [(" Noor.Vale ", "noor.vale"), ("N", "n"), ("n" * 60, "n" * 60)])
def test_a_user_name_is_in_small_letters(typed, read):
    assert read_username(typed) == read


def test_whoever_left_is_gone_whatever_they_could_sign_in_with():
    said = [presence_of(active=False, password=yes, came_before=no) for yes in (True, False) for no in (True, False)]
    assert set(said) == {Presence.GONE}


def test_without_a_password_somebody_is_invited_until_they_have_come_once():
    assert presence_of(active=True, password=False, came_before=False) is Presence.INVITED
    assert presence_of(active=True, password=False, came_before=True) is Presence.WITHOUT_PASSWORD
    assert presence_of(active=True, password=True, came_before=False) is Presence.ACTIVE
