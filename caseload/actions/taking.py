"""Rows of a theatre list written to the record: what is new in bulk, what is corrected through the acts for it."""

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from typing import Any, NamedTuple

from django.db import transaction

from caseload.access import Act
from caseload.actions import episodes, patients, referrals
from caseload.actions.act import By, entry
from caseload.actions.rewriting import insert, insert_keyed
from caseload.actions.settle import save_new
from caseload.actions.wiping import invented
from caseload.errors import Refusal
from caseload.models import Episode, Identifier, IntakeBatch, IntakeRow, Patient, Referral, RuleSet, Site, TrailEntry
from caseload.parsing import Identifier as Number
from caseload.reads.matching.entry import Entry
from caseload.reads.matching.match import Match, OperationMatch
from caseload.reads.matching.on_record import OnRecord
from caseload.reads.timetables import with_sources

AT_ONCE = 1000
"""Episodes derived and written before the next are made: bounds the memory."""
Progress = Callable[[int, int], None]


class Taken(NamedTuple):
    """A row to be taken, what it says, and what the record says to it."""

    row: IntakeRow
    entry: Entry
    match: Match


@dataclass
class Taking:
    """The work of one confirmation. `people` are the newcomers by their first row, `made` the new episodes."""

    batch: IntakeBatch
    by: By
    rules: RuleSet
    record: OnRecord
    progress: Progress = lambda done, of: None
    people: dict[int, Patient] = field(default_factory=dict)
    referrals: dict[tuple[object, ...], Referral] = field(default_factory=dict)
    made: dict[tuple[object, ...], Episode] = field(default_factory=dict)
    patients_on_record: dict[str, Patient] = field(default_factory=dict)

    def patient_of(self, taken: Taken) -> Patient:
        if taken.match.new_of is not None:
            return self.people[taken.match.new_of]
        return self.patients_on_record[taken.match.patient]


def take(taken: Sequence[Taken], taking: Taking) -> dict[int, str]:
    """Write the rows; give back the sentence of each row that the record refused after all, by its number.

    Corrections come first, each row's in a savepoint of its own, so that a refused row leaves nothing behind.
    """
    taking.patients_on_record = {known.patient.code: known.patient for known in taking.record.known.values()}
    refused = dict(_corrections(taken, taking))
    left = [each for each in taken if each.row.number not in refused]
    _add_people(left, taking)
    _add_referrals(left, taking)
    _open_episodes(left, taking)
    for each in left:
        _mark(each, taking)
    return refused


def _corrections(taken: Sequence[Taken], taking: Taking) -> Iterator[tuple[int, str]]:
    last = _last_rows(taken)
    for each in taken:
        wanted = [one for one in each.match.operations if one.changes and last[_meant(each, one)] == each.row.number]
        if each.match.person or wanted:
            kept = dict(taking.referrals)
            try:
                with transaction.atomic():
                    _correct(each, wanted, taking)
            except Refusal as refusal:
                taking.referrals = kept  # what was saved in the savepoint is not there any more
                yield each.row.number, refusal.message


def _last_rows(taken: Sequence[Taken]) -> dict[tuple[object, ...], int]:
    """For each operation, the last row that means it: one that somebody accepted in place of an earlier one."""
    return {_meant(each, operation): each.row.number for each in taken for operation in each.match.operations}


def _meant(each: Taken, operation: OperationMatch) -> tuple[object, ...]:
    value = each.entry.value
    return each.match.patient, each.match.new_of, value.side, operation.digit, value.surgery_on


def _correct(each: Taken, operations: Sequence[OperationMatch], taking: Taking) -> None:
    by = replace(taking.by, key=None)
    if each.match.person:
        patient = Patient.objects.get(code=each.match.patient)
        numbers = each.match.numbers
        patients.correct(patient, by=by, version=None, numbers=numbers, **each.match.person_facts)
    for operation in operations:
        _correct_operation(operation, each, taking, by)


def _correct_operation(operation: OperationMatch, each: Taken, taking: Taking, by: By) -> None:
    episode = with_sources(Episode.objects.select_related("patient", "referral")).get(code=operation.episode)
    facts = dict(operation.facts)
    if operation.referral.get("new"):
        referral = _referral(each, episode.patient, taking)
        facts["referral"] = referral if referral.pk else _save_referral(referral, by)
    elif operation.referral and episode.referral:
        referrals.correct(episode.referral, by=by, version=None, **operation.referral)
    if facts:
        episodes.correct(episode, by=by, version=None, **facts)


def _save_referral(referral: Referral, by: By) -> Referral:
    referral.save()
    _trail([(Act.REFERRAL_ADD, referral, referral.patient_id, {})], by)
    return referral


def _add_people(taken: Sequence[Taken], taking: Taking) -> None:
    numbers: dict[Number, Patient] = {}
    demo = invented(taking.by)
    for each in taken:
        if each.match.new_of is not None:
            patient = taking.people.setdefault(each.match.new_of, Patient(demo=demo))
            _complete(patient, each.entry)
            for number in filter(None, (each.entry.value.nhs_number, each.entry.value.hospital_number)):
                numbers.setdefault(number, patient)
    insert_keyed(list(taking.people.values()))
    insert([Identifier(patient=patient, **number._asdict()) for number, patient in numbers.items()])
    _trail(((Act.PATIENT_ADD, patient, patient.pk, {}) for patient in taking.people.values()), taking.by)


def _complete(patient: Patient, said: Entry) -> None:
    """What the row says of a new person, where no earlier row of the list said it."""
    value, key = said.value, said.key
    told = {
        "given": value.given, "family": value.family, "born_on": value.born_on, "email": value.email,
        "language": value.language, "interpreter": value.interpreter,
        "search_key": f"{key.family} {key.given}"[: patients.LONGEST_KEY],
        "phone": value.phone.as_typed if value.phone else "", "phone_key": value.phone.value if value.phone else "",
    }  # fmt: skip
    for name, now in told.items():
        if not getattr(patient, name):
            setattr(patient, name, now)


def _add_referrals(taken: Sequence[Taken], taking: Taking) -> None:
    for each in taken:
        if _wants_referral(each.entry) and any(not operation.episode for operation in each.match.operations):
            _referral(each, taking.patient_of(each), taking)
    new = [referral for referral in taking.referrals.values() if not referral.pk]
    insert_keyed(new)
    _trail(((Act.REFERRAL_ADD, referral, referral.patient_id, {}) for referral in new), taking.by)


def _wants_referral(said: Entry) -> bool:
    return said.value.for_therapy or said.value.referral_received_on is not None


def _referral(each: Taken, patient: Patient, taking: Taking) -> Referral:
    """One referral of a person for each day of receipt; without a day, a running one on record, or the list's day."""
    value = each.entry.value
    key = (patient.pk, value.referral_received_on)
    if key not in taking.referrals:
        running = taking.record.referrals.get(patient.pk, ())
        same = (row for row in running if value.referral_received_on in (None, row.received_on))
        taking.referrals[key] = next(same, None) or Referral(
            patient=patient,
            received_on=value.referral_received_on or taking.batch.uploaded_on,
            source=value.surgeon or taking.batch.source.name,
            priority=value.priority,
            recorded_at=taking.by.at,
        )
    return taking.referrals[key]


def _open_episodes(taken: Sequence[Taken], taking: Taking) -> None:
    for each in taken:
        for operation in each.match.operations:
            if not operation.episode:
                # A later row that somebody accepted stands for the same operation in place of an earlier one.
                taking.made[_meant(each, operation)] = _episode(each, operation, taking)
    new = list(taking.made.values())
    for start in range(0, len(new), AT_ONCE):
        chunk = new[start : start + AT_ONCE]
        moved = save_new(chunk)
        _trail(((Act.EPISODE_OPEN, row, row.patient_id, moved[row.pk]) for row in chunk), taking.by)
        taking.progress(start + len(chunk), len(new))


def _episode(each: Taken, operation: OperationMatch, taking: Taking) -> Episode:
    value, patient = each.entry.value, taking.patient_of(each)
    return Episode(
        patient=patient,
        referral=_referral(each, patient, taking) if _wants_referral(each.entry) else None,
        site=_site(each.entry, taking.record),
        surgeon=value.surgeon,
        surgery_on=value.surgery_on,
        side=value.side,
        digit=operation.digit,
        technique=value.technique,
        suture=value.suture,
        stitches_in=value.stitches_in,
        material=value.material,
        risks=[str(risk) for risk in value.risks],
        raised_risk=value.raised_risk,
        for_therapy=value.for_therapy,
        notes=value.notes,
        rules=taking.rules,
        recorded_at=taking.by.at,
        recorded_on=taking.by.today,
    )


def _site(said: Entry, record: OnRecord) -> Site:
    site = record.site_named(said.value.site) or record.site
    assert site, "a row without a site is refused"
    return site


def _mark(each: Taken, taking: Taking) -> None:
    each.row.patient = taking.patient_of(each)
    each.row.episodes = {
        operation.digit: operation.episode or taking.made[_meant(each, operation)].code
        for operation in each.match.operations
    }
    each.row.taken_at = taking.by.at


def _trail(entries: Iterable[tuple[Act, Any, int, dict[str, Any]]], by: By) -> None:
    insert(
        [
            TrailEntry(**entry(act, row, by=by, patient_id=patient_id, changed=changed))
            for act, row, patient_id, changed in entries
        ]
    )
