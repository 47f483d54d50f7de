"""What keeps the activities of many hands locked, for lists: in two queries, by the same code that derives."""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from datetime import date
from typing import Any, Final, NamedTuple

from django.db.models import FilteredRelation, Q, QuerySet

from caseload.models import Episode
from caseload.reads.facts import Ordered, instruction
from caseload.reads.findings import Findings, standing_findings
from caseload.reads.prepared import Prepared
from caseload.reads.rules import rules_of_digest
from caseload.timetable import facts
from caseload.timetable.activities import Locks, locks_of
from caseload.timetable.hand import restrict_locks
from caseload.timetable.terms import Suture, Technique

NOBODY: Final = [0]  # no row has this key


class Person(NamedTuple):
    """An episode with its patient, as rows of lists show them and as the locks of its hand hang on them."""

    id: int
    code: str
    side: str
    digit: str
    suture: str
    stitches_in: int | None
    surgery_on: date | None
    raised_risk: bool
    therapist_id: int | None
    technique: str
    for_therapy: bool
    ended_on: date | None
    rules: str
    patient_id: int
    family: str
    given: str
    born_on: date | None
    language: str
    interpreter: bool
    dressing_allergy: str
    search_key: str

    def is_on_caseload(self, today: date) -> bool:
        """As `Episode.objects.on_caseload` has it."""
        return self.ended_on is None and (self.surgery_on is None or self.surgery_on <= today)


_PERSON: Final = (
    "id", "code", "side", "digit", "suture", "stitches_in", "surgery_on", "raised_risk", "therapist_id", "technique",
    "for_therapy", "ended_on", "rules__digest", "patient_id", "patient__family", "patient__given", "patient__born_on",
    "patient__language", "patient__interpreter", "patient__dressing_allergy", "patient__search_key",
)  # fmt: skip
Orders = Mapping[int, tuple[facts.Instruction, ...]]


class Hands(NamedTuple):
    """By episode: what keeps its activities locked, the findings that say so, and whom they are of."""

    locks: dict[int, Locks]
    findings: Findings
    people: dict[int, Person]


def locks_of_hands(patients: Iterable[int], today: date, episodes: Iterable[int] = ()) -> Hands:
    """The locks of every open episode of these patients by its id, as the other digits of the hand leave them. Of the
    `episodes` named besides, open or not, it is told whom they are of."""
    people, orders = _people([*patients] or NOBODY, [*episodes] or NOBODY, today)
    hands = _by_hand(person for person in people.values() if person.is_on_caseload(today))
    findings = standing_findings([each.id for hand in hands for each in hand])
    own = {each.id: _locks(each, findings, orders) for hand in hands for each in hand}
    locks = {each.id: restrict_locks(own[each.id], *_others(each, hand, own)) for hand in hands for each in hand}
    return Hands(locks, findings, people)


def _people(patients: Sequence[int], episodes: Sequence[int], today: date) -> tuple[dict[int, Person], Orders]:
    people: dict[int, Person] = {}
    orders: dict[int, tuple[facts.Instruction, ...]] = defaultdict(tuple)
    own = len(_PERSON)
    for row in _PEOPLE(patients, episodes, today):
        person = people[row[0]] = Person(*row[:own])
        if row[own]:
            orders[person.id] += (instruction(Ordered(*row[own:]), person),)
    return people, orders


def _operated(patients: Sequence[int], episodes: Sequence[int], today: date) -> QuerySet[Episode, Any]:
    """A row for each episode, and for each further instruction that stands for it."""
    theirs = Episode.objects.on_caseload(today).filter(patient__in=patients) | Episode.objects.filter(pk__in=episodes)
    standing = FilteredRelation("instructions", condition=Q(instructions__withdrawn_at__isnull=True))
    rows = theirs.annotate(ordered=standing).order_by("id", "ordered__recorded_at", "ordered__id")
    return rows.values_list(*_PERSON, *(f"ordered__{name}" for name in Ordered._fields))


_PEOPLE: Final = Prepared(_operated)


def _by_hand(people: Iterable[Person]) -> list[list[Person]]:
    hands: dict[tuple[int, str], list[Person]] = defaultdict(list)
    for person in people:
        hands[person.patient_id, person.side].append(person)
    return list(hands.values())


def _locks(person: Person, findings: Findings, orders: Orders) -> Locks:
    own = facts.EpisodeFacts(
        surgery_on=person.surgery_on,
        suture=Suture(person.suture),
        technique=Technique(person.technique),
        raised_risk=person.raised_risk,
        therapy_referral=person.for_therapy,
        stitches_in=person.stitches_in,
        born_on=person.born_on,
        findings=findings[person.id],
        instructions=orders[person.id],
    )
    return locks_of(own, rules_of_digest(person.rules))


def _others(own: Person, hand: Sequence[Person], locks: Mapping[int, Locks]) -> tuple[list[Locks], list[Locks]]:
    """Those of the same hand, and of the same digit; where the side is not known yet, nobody can say which it is."""
    if not own.side:
        return [], []
    others = [other for other in hand if other.id != own.id]
    return [locks[other.id] for other in others], [locks[each.id] for each in others if each.digit == own.digit != ""]
