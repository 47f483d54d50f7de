"""What the database itself refuses, on SQLite and on PostgreSQL alike, whatever the code above it does."""

from datetime import UTC, date, datetime

import pytest
from django.db import DatabaseError, IntegrityError, transaction

from caseload.models import (
    Appointment,
    Closure,
    Episode,
    Finding,
    FollowUp,
    Identifier,
    Instruction,
    Purpose,
    RedFlagEscalation,
    Referral,
    Staff,
    Standing,
    TrailEntry,
)
from tests.scenario import NHS_NUMBERS, Fernhollow

NOW = datetime(2026, 4, 1, 9, tzinfo=UTC)


def refused(make) -> bool:
    try:
        with transaction.atomic():
            make()
    except IntegrityError:
        return True
    return False


def finding(episode: Episode, clinic: Fernhollow, **said) -> Finding:
    own = {"kind": "wound", "wound": "closed", "on": date(2026, 4, 1), "recorded_on": date(2026, 4, 1)}
    return Finding.objects.create(episode=episode, by=clinic.therapist, recorded_at=NOW, **(own | said))


def test_one_digit_has_one_episode_for_one_surgery_date(clinic):
    first = clinic.episode()
    assert refused(lambda: Episode.objects.filter(pk=first.pk).first().__class__.objects.create(**same(first)))


def same(episode: Episode) -> dict:
    names = ("patient_id", "site_id", "side", "digit", "surgery_on", "rules_id", "recorded_at", "recorded_on")
    return {name: getattr(episode, name) for name in names}


def test_a_digit_not_known_yet_does_not_collide(clinic):
    first = clinic.episode(digit="")
    assert not refused(lambda: Episode.objects.create(**same(first)))


def test_an_operation_not_done_leaves_room_for_the_real_one(clinic):
    first = clinic.episode()
    Episode.objects.filter(pk=first.pk).update(ended_on=date(2026, 4, 1), ended_how="operation-not-done")
    assert not refused(lambda: Episode.objects.create(**same(first)))


@pytest.mark.parametrize(
    "changes",
    [
        {"side": "both"},
        {"digit": "toe"},
        {"suture": ""},
        {"technique": "keyhole"},
        {"ended_on": date(2026, 4, 1)},
        {"ended_how": "discharged"},
        {"ended_on": date(2026, 4, 1), "ended_how": "vanished"},
        {"ended_on": date(2026, 4, 1), "ended_how": "transferred"},
        {"stitches_in": 61},
    ],
)
def test_an_episode_holds_only_known_words_and_a_whole_end(clinic, changes):
    episode = clinic.episode()
    assert refused(lambda: Episode.objects.filter(pk=episode.pk).update(**changes))


@pytest.mark.parametrize(
    "said",
    [
        {"wound": ""},
        {"wound": "healing"},
        {"kind": "stitches", "wound": ""},
        {"kind": "stitches", "wound": "", "stitches_out": 4},
        {"kind": "red-flag"},
        {"source": "reported"},
        {"source": "hearsay"},
        {"on": date(2026, 4, 2)},
        {"withdraws": True},
        {"stitches_out": 1, "stitches_left": 0},
    ],
)
def test_a_finding_says_one_whole_thing(clinic, said):
    episode = clinic.episode()
    assert refused(lambda: finding(episode, clinic, **said))


def test_a_finding_is_corrected_once(clinic):
    first = finding(clinic.episode(), clinic)
    finding(first.episode, clinic, corrects=first, first=first)
    assert refused(lambda: finding(first.episode, clinic, corrects=first, first=first))


def test_a_correction_names_the_head_of_its_chain(clinic):
    first = finding(clinic.episode(), clinic)
    assert refused(lambda: finding(first.episode, clinic, corrects=first))


@pytest.mark.parametrize("model", [Finding, TrailEntry])
def test_findings_and_the_trail_cannot_be_changed(clinic, model):
    finding(clinic.episode(), clinic)
    with pytest.raises(DatabaseError, match="append-only"), transaction.atomic():
        model.objects.update(**({"note": "other"} if model is Finding else {"act": "other"}))


def test_a_follow_up_stands_once_under_its_key_with_days_in_order(clinic):
    row = clinic.episode().follow_ups.get(key="stitches-out")
    again = {field.attname: getattr(row, field.attname) for field in FollowUp._meta.concrete_fields[1:]}
    assert refused(lambda: FollowUp.objects.create(**again))
    for changes in (
        {"earliest_on": date(2026, 5, 1)},
        {"latest_on": date(2026, 3, 21)},
        {"proposed_on": date(2026, 5, 1)},
        {"state": "done"},
        {"done_on": date(2026, 4, 1)},
        {"kind": "tea"},
    ):
        assert refused(lambda changes=changes: FollowUp.objects.filter(pk=row.pk).update(**changes)), changes


def test_a_follow_up_has_one_live_booking(clinic):
    episode = clinic.episode()
    row = episode.follow_ups.get(key="stitches-out")
    first, second = (booked(episode, clinic) for _ in range(2))
    Purpose.objects.create(appointment=first, follow_up=row)
    assert refused(lambda: Purpose.objects.create(appointment=second, follow_up=row))
    Purpose.objects.filter(appointment=first).update(live=False)
    assert not refused(lambda: Purpose.objects.create(appointment=second, follow_up=row))


def booked(episode: Episode, clinic: Fernhollow, **fields) -> Appointment:
    own = {"patient": episode.patient, "site": clinic.site, "on": date(2026, 4, 2), "minutes": 20, "booked_at": NOW}
    return Appointment.objects.create(**(own | fields))


@pytest.mark.parametrize(
    "fields",
    [
        {"outcome": "did-not-attend"},
        {"live": False},
        {"outcome": "attended", "live": False},
        {"minutes": 5},
        {"told": "untold"},
        {"untold_since_on": date(2026, 4, 1)},
        {"walk_in": True},
        {"walk_in": True, "outcome": "did-not-attend", "live": False},
        {"start_minute": 540},
        {"way": "by-post"},
        {"way": ""},
        {"minutes": None},
    ],
)
def test_an_appointment_is_live_until_it_falls_away(clinic, fields):
    episode = clinic.episode()
    assert refused(lambda: booked(episode, clinic, **fields))


def test_a_number_names_one_patient(clinic):
    one, other = clinic.patient(nhs_number=NHS_NUMBERS[0]), clinic.patient()
    number = {"scheme": "nhs-number", "value": NHS_NUMBERS[0], "as_typed": NHS_NUMBERS[0]}
    assert one.identifiers.count() == 1
    assert refused(lambda: Identifier.objects.create(patient=other, **number))


@pytest.mark.parametrize(
    "days",
    [
        {},
        {"earliest": 3},
        {"earliest": 5, "target": 4, "latest": 6},
        {"earliest": 1, "target": 2, "latest": 3, "from_day": 4},
        {"from_day": 3, "locked": True},
        {"from_day": 3, "by_whom": ""},
        {"from_day": 3, "why": ""},
    ],
)
def test_an_instruction_says_one_thing_and_who_and_why(clinic, days):
    own = {"episode": clinic.episode(), "item": "driving", "by_whom": "Surgeon", "why": "swelling"}
    row = own | {"recorded_by": clinic.therapist, "recorded_at": NOW} | days
    assert refused(lambda: Instruction.objects.create(**row))


def test_one_instruction_stands_for_an_item(clinic):
    row = {
        "episode": clinic.episode(), "item": "driving", "by_whom": "Surgeon", "why": "swelling", "from_day": 5,
        "recorded_by": clinic.therapist, "recorded_at": NOW,
    }  # fmt: skip
    Instruction.objects.create(**row)
    assert refused(lambda: Instruction.objects.create(**row))
    Instruction.objects.update(withdrawn_at=NOW)
    assert not refused(lambda: Instruction.objects.create(**row))


def test_standings_of_an_episode_do_not_begin_twice_and_are_in_order(clinic):
    row = clinic.episode().standings.first()
    again = {field.attname: getattr(row, field.attname) for field in Standing._meta.concrete_fields[1:]}
    assert refused(lambda: Standing.objects.create(**again))
    assert refused(lambda: Standing.objects.filter(pk=row.pk).update(until_on=row.from_on))
    assert refused(lambda: Standing.objects.filter(pk=row.pk).update(owner="admin" if not row.owner else ""))


def test_staff_hold_a_role_under_a_name_of_their_own(clinic):
    assert refused(lambda: Staff.objects.create(username="nobody", name="No Body"))
    assert refused(lambda: Staff.objects.create(username="THEA", name="Other", is_lead=True))


def test_a_referral_ends_whole_and_after_it_began(clinic):
    own = {"patient": clinic.patient(), "received_on": date(2026, 3, 1), "source": "hand surgery", "recorded_at": NOW}
    for fields in (
        {"ended_on": date(2026, 3, 2)},
        {"ended_how": "declined"},
        {"ended_on": date(2026, 2, 1), "ended_how": "declined"},
    ):
        assert refused(lambda fields=fields: Referral.objects.create(**(own | fields))), fields


def test_a_red_flag_is_passed_on_to_somebody(clinic):
    flag = finding(clinic.episode(), clinic, kind="red-flag", wound="", note="cold and blue")
    said = {"finding": flag, "by": clinic.therapist, "recorded_at": NOW}
    assert refused(lambda: RedFlagEscalation.objects.create(to="", **said))
    assert not refused(lambda: RedFlagEscalation.objects.create(to="Dr Wren", **said))


def test_a_closure_has_days_in_order_and_a_reason(clinic):
    own = {"starts_on": date(2026, 4, 2), "ends_on": date(2026, 4, 1), "reason": "flood"}
    assert refused(lambda: Closure.objects.create(**own))
    assert refused(lambda: Closure.objects.create(**(own | {"ends_on": date(2026, 4, 2), "reason": ""})))
