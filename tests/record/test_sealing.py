"""The trail is sealed block by block, nothing is missed, and whatever is altered afterwards is named."""

from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from io import StringIO

import pytest
from django.core.management import CommandError, call_command
from django.db import DatabaseError, connection, transaction

from caseload.actions import triggers
from caseload.actions.sealing import GAPS_OPEN, SETTLING, let_go, seal
from caseload.actions.wiping import wipe
from caseload.exchange.seals import FIRST, Fault, Wrong
from caseload.models import Gone, Look, Patient, Seal, Site, Staff, TrailEntry
from caseload.reads.proof import prove

NINE = datetime(2026, 4, 1, 9, tzinfo=UTC)
LATER = NINE + SETTLING


def acts(count: int = 1, at: datetime = NINE, **said) -> list[TrailEntry]:
    made = [
        TrailEntry(at=at, act="visit.record", subject="visit", changed={"n": [0, 1.5]}, **said) for _ in range(count)
    ]
    return TrailEntry.objects.bulk_create(made)


@pytest.fixture
def lead(db) -> Staff:
    return Staff.objects.create(username="lena", name="Lena Marsh", is_lead=True)


@pytest.fixture
def blocks(lead) -> list[Seal]:
    """Three blocks: two acts and a look, three acts, two acts."""
    acts(2)
    Look.objects.create(at=NINE, by=lead, route="caseload", rows=3)
    made = [seal(LATER)]
    for number, count in ((1, 3), (2, 2)):
        acts(count, NINE + timedelta(minutes=5 * number))
        made.append(seal(LATER + timedelta(minutes=5 * number)))
    return made


@contextmanager
def unguarded():
    """What whoever holds the database can do: take the triggers away, and put them back."""
    triggers.remove()
    yield
    triggers.install()


def key_of(block: Seal, place: int = 0, table: str = "entries") -> int:
    return block.spans[table][0][0] + place


def test_blocks_follow_one_another_and_hold_every_row_once(blocks):
    assert [block.before for block in blocks] == [FIRST, blocks[0].digest, blocks[1].digest]
    assert [block.rows for block in blocks] == [3, 3, 2]
    proof = prove()
    assert (proof.blocks, proof.rows, proof.unsealed, proof.faults) == (3, 8, 0, [])
    assert proof.digest == blocks[-1].digest


def test_what_is_younger_than_a_few_minutes_waits_and_an_empty_block_is_not_made(blocks):
    assert seal(LATER + timedelta(minutes=15)) is None
    acts(1, NINE + timedelta(minutes=20))
    assert seal(NINE + timedelta(minutes=20)) is None
    assert prove().unsealed == 1
    assert seal(LATER + timedelta(minutes=20)).rows == 1


def test_of_two_who_seal_at_once_one_does(blocks, monkeypatch):
    acts(1, LATER)
    monkeypatch.setattr(Seal.objects.none().__class__, "last", lambda rows: blocks[1])
    assert seal(LATER + SETTLING) is None
    assert Seal.objects.count() == 3


def test_number_and_digest_go_into_the_log_once_they_are_committed(lead, caplog, django_capture_on_commit_callbacks):
    acts()
    with caplog.at_level("INFO", logger="caseload.seals"), django_capture_on_commit_callbacks(execute=True):
        block = seal(LATER)
        assert not caplog.messages
    assert caplog.messages == [f"Block 1 of the trail is sealed: 1 rows, {block.digest}"]


def test_a_row_that_turns_up_in_a_gap_goes_into_a_later_block(lead):
    first, late, third = acts(3)
    kept = TrailEntry(**{name: getattr(late, name) for name in ("id", "at", "act", "subject", "changed")})
    with unguarded():
        TrailEntry.objects.filter(pk=late.pk).delete()
    assert seal(LATER).spans["entries"] == [(first.pk, first.pk), (third.pk, third.pk)]
    kept.save(force_insert=True)
    assert prove().unsealed == 1 and not prove().faults
    assert seal(LATER + timedelta(hours=9)).spans["entries"] == [(late.pk, late.pk)]
    assert (prove().rows, prove().unsealed, prove().faults) == (3, 0, [])


@pytest.mark.skipif(connection.vendor != "postgresql", reason="SQLite has one writer at a time")
@pytest.mark.django_db(transaction=True)
def test_of_two_transactions_the_one_that_ends_later_is_not_missed():
    other = connection.copy("other")
    try:
        other.set_autocommit(False)
        with other.cursor() as cursor:
            own = "at, act, subject, changed, origin, why"
            cursor.execute(
                f"INSERT INTO caseload_trailentry ({own}) VALUES (%s, 'a', '', '{{}}', '', '') RETURNING id", [NINE]
            )
            early = cursor.fetchone()[0]
        acts()
        assert seal(LATER).spans["entries"] == [(early + 1, early + 1)]
        other.commit()
        assert seal(LATER + timedelta(minutes=5)).spans["entries"] == [(early, early)]
    finally:
        other.close()
    assert (prove().rows, prove().unsealed, prove().faults) == (2, 0, [])


def test_more_than_a_block_holds_is_sealed_block_by_block(lead, monkeypatch):
    monkeypatch.setattr("caseload.actions.sealing.MOST", 2)
    acts(5)
    assert [seal(LATER).rows for _ in range(3)] == [2, 2, 1]
    assert prove().rows == 5 and not prove().faults


def test_a_changed_row_is_named(blocks):
    row = key_of(blocks[1], 2)
    with unguarded():
        TrailEntry.objects.filter(pk=row).update(changed={"n": [0, 2.5]})
    assert prove().faults == [Fault(2, Wrong.CHANGED, "entries", row)]


@pytest.mark.parametrize("column", ["at", "by_id", "act", "patient_id", "subject", "subject_id", "origin", "why"])
def test_no_column_of_an_act_can_be_changed_unseen(blocks, lead, column):
    other = {"at": NINE, "by_id": lead.pk, "patient_id": Patient.objects.create(given="Ivo", family="Harrow").pk}
    row = key_of(blocks[2])
    with unguarded():
        TrailEntry.objects.filter(pk=row).update(**{column: other.get(column, 7 if column == "subject_id" else "x")})
    assert prove().first == Fault(3, Wrong.CHANGED, "entries", row)


@pytest.mark.parametrize("column", ["at", "by_id", "patient_id", "route", "rows", "origin", "why"])
def test_no_column_of_a_look_can_be_changed_unseen(blocks, column):
    whole = {"rows": 4, "at": LATER, "by_id": Staff.objects.create(username="x", name="X", is_admin=True).pk}
    whole["patient_id"] = Patient.objects.create(given="Ivo", family="Harrow").pk
    row = key_of(blocks[0], table="looks")
    with unguarded():
        Look.objects.filter(pk=row).update(**{column: whole.get(column, "x")})
    assert prove().first == Fault(1, Wrong.CHANGED, "looks", row)


def test_a_missing_row_is_named(blocks):
    row = key_of(blocks[1], 1)
    with unguarded():
        TrailEntry.objects.filter(pk=row).delete()
    assert prove().faults == [Fault(2, Wrong.MISSING, "entries", row)]


def test_a_row_put_among_sealed_ones_is_named_and_never_sealed(lead):
    rows = acts(3)
    with unguarded():
        TrailEntry.objects.filter(pk=rows[1].pk).delete()
    seal(LATER)
    acts(1, LATER + GAPS_OPEN)
    seal(LATER + GAPS_OPEN + SETTLING)
    acts(1, LATER + 2 * GAPS_OPEN)
    TrailEntry.objects.create(pk=rows[1].pk, at=NINE, act="forged")
    assert seal(LATER + 2 * GAPS_OPEN + SETTLING).rows == 1
    assert prove().faults == [Fault(1, Wrong.ADDED, "entries", rows[1].pk)]


@pytest.mark.parametrize(
    "changes",
    [
        {"rows": 2}, {"marks": "0" * 48}, {"at": NINE}, {"spans": {"entries": [[1, 10**9]], "looks": []}},
        {"spans": []}, {"upto": {"entries": 1, "looks": 1}}, {"upto": {}}, {"digest": "0" * 64},
    ],
)  # fmt: skip
def test_a_changed_seal_is_named(blocks, changes):
    with unguarded():
        Seal.objects.filter(number=2).update(**changes)
    proof = prove()
    if "marks" in changes:
        assert not proof.faults, "marks only help to find a row; the digest is over the rows"
    else:
        assert (proof.first.block, proof.first.wrong in (Wrong.SEAL, Wrong.CHANGED)) == (2, True)


def test_a_block_sealed_anew_over_a_changed_row_breaks_the_chain(blocks):
    with unguarded():
        TrailEntry.objects.filter(pk=key_of(blocks[1])).update(act="forged")
        Seal.objects.filter(number__gte=2).delete()
        again = seal(LATER + timedelta(minutes=5))
        Seal.objects.filter(number=2).update(rows=again.rows)
        blocks[2].pk = None
        blocks[2].save(force_insert=True)
    assert prove().first.block in (2, 3)
    assert Wrong.CHAIN in {fault.wrong for fault in prove().faults if fault.block == 3}


def test_a_block_that_is_missing_breaks_the_chain(blocks):
    with unguarded():
        Seal.objects.filter(number=2).delete()
    assert prove().first == Fault(3, Wrong.CHAIN)


def test_a_trail_that_was_sealed_anew_from_the_start_is_not_the_one_that_was_noted(blocks):
    with unguarded():
        TrailEntry.objects.filter(pk=key_of(blocks[0])).update(act="forged")
        Seal.objects.all().delete()
    while seal(LATER + timedelta(minutes=15)):
        pass
    assert not prove().faults
    assert prove({1: blocks[0].digest}).first == Fault(1, Wrong.EXPECTED)
    assert prove({9: FIRST}).faults == [Fault(9, Wrong.EXPECTED)]


def test_a_row_that_went_with_its_record_leaves_its_digest_and_the_seal_holds(blocks):
    row = key_of(blocks[1], 1)
    assert let_go(TrailEntry.objects.filter(pk=row), Look.objects.all(), NINE) == 2
    assert not TrailEntry.objects.filter(pk=row).exists() and not Look.objects.exists()
    assert Gone.objects.count() == 2
    assert (prove().rows, prove().faults) == (8, [])


def test_a_row_said_to_be_gone_that_is_there_or_was_another_is_named(blocks):
    row = key_of(blocks[1], 1)
    Gone.objects.create(table="entries", row=row, digest="0" * 64, at=NINE)
    assert {fault.wrong for fault in prove().faults} == {Wrong.ADDED, Wrong.CHANGED}
    TrailEntry.objects.filter(pk=row).delete()
    assert prove().faults == [Fault(2, Wrong.CHANGED, "entries", row)]


@pytest.mark.parametrize("model", [TrailEntry, Look, Seal, Gone])
def test_nothing_of_it_is_changed_or_deleted(blocks, model):
    Gone.objects.create(table="entries", row=10**9, digest=FIRST, at=NINE)
    for attempt in (lambda: model.objects.update(at=LATER), lambda: model.objects.all()._raw_delete("default")):
        with pytest.raises(DatabaseError, match="append-only"), transaction.atomic():
            attempt()


def test_the_demo_is_wiped_with_its_trail_and_its_seals(lead):
    with unguarded():
        Staff.objects.update(demo=True)
    acts(2, by=lead)
    seal(LATER)
    wipe()
    assert not any(model.objects.exists() for model in (TrailEntry, Seal, Site))
    assert prove().blocks == 0


def test_the_command_says_what_holds_and_ends_with_one_where_something_does_not(blocks):
    said = StringIO()
    call_command("verify_trail", expect=[f"3:{blocks[2].digest}"], stdout=said)
    assert said.getvalue().startswith("3 blocks, 8 rows, the last digest ") and "Everything fits." in said.getvalue()
    row = key_of(blocks[1], 1)
    with unguarded():
        TrailEntry.objects.filter(pk=row).update(act="forged")
    with pytest.raises(SystemExit) as left:
        call_command("verify_trail", stdout=said)
    assert left.value.code == 1 and f"Block 2: act {row} is not as it was sealed." in said.getvalue()


def test_the_command_refuses_what_is_no_block(db):
    with pytest.raises(CommandError, match="is not a block"):
        call_command("verify_trail", expect=["3"])
