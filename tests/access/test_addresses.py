"""What each address is for, as a table by itself; that the pages do so is tests/web/test_policy.py."""

import pytest

from caseload.access.acts import Act
from caseload.access.addresses import ADDRESSES, LOOK, OF_A_PATIENT, Address, Answer, Thing
from caseload.access.roles import ALLOWED
from caseload.timetable.terms import Owner

THERAPIST, ADMIN = frozenset({Owner.THERAPIST}), frozenset({Owner.ADMIN})


def test_every_address_answers_to_something():
    assert all(row.read or row.send for row in ADDRESSES.values())


def test_reading_and_sending_each_go_by_their_own_act():
    row = Address(Thing.MONTH, (LOOK,), (Act.MONTH_FILE,))
    assert row.admits(ADMIN, "GET") and row.admits(ADMIN, "HEAD") and not row.admits(ADMIN, "POST")


def test_who_may_press_one_of_several_buttons_gets_in():
    row = Address(send=(Act.SESSIONS_LOSE, Act.FEED_MAKE))
    assert row.admits(THERAPIST, "POST") and row.admits(ADMIN, "POST")


def test_plain_looking_is_for_the_roles_of_the_row():
    row = Address(read=(LOOK,), roles=ADMIN)
    assert row.admits(ADMIN, "GET") and not row.admits(THERAPIST, "GET")


def test_nobody_gets_in_with_a_method_that_a_row_does_not_answer():
    row = Address(read=(LOOK,))
    assert row.methods == ["GET", "HEAD"] and not row.able("POST") and not row.able("DELETE")
    assert Address(send=(LOOK,)).methods == ["POST"] and not Address(send=(LOOK,)).able("GET")


@pytest.mark.parametrize("thing", Thing)
def test_what_is_of_a_patient_asks_for_a_reason_and_what_is_of_a_person_is_not_there(thing):
    answer = {Thing.JOB: Answer.NOT_FOUND, Thing.OWN_KEY: Answer.NOT_FOUND}.get(thing, Answer.AS_OWN)
    assert Address(thing).other is (Answer.REASON if thing in OF_A_PATIENT else answer)


def test_only_signing_in_probing_and_calendar_programs_need_no_person():
    public = {name for name, row in ADDRESSES.items() if row.public}
    probes = {"livez", "readyz", "metrics", "feed-file"}
    signing_in = {"sign-in", "account_login", "mfa_authenticate", "mfa_login_webauthn", "forgotten", "set-password"}
    assert public == probes | signing_in | {"sign-out"}


def test_a_form_is_not_shown_to_whom_it_would_refuse():
    forms = (row for row in ADDRESSES.values() if row.read and row.send and LOOK not in row.read)
    assert all(row.able("GET") >= row.able("POST") for row in forms)
    assert ADDRESSES["episode-close"].able("GET") == ALLOWED[Act.EPISODE_CLOSE]
