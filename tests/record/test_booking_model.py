"""Random mixes of booking, held against a model: two small tables, of slots and of follow-ups, and the rules as words.

The model knows nothing of the code: a slot holds one or none, a follow-up has one booking or none, what is over or lost
cannot be moved. The same must succeed and the same be refused, and the same slots be taken, at every step.
"""

from collections import Counter
from dataclasses import dataclass, field, replace
from datetime import date, datetime, time, timedelta
from random import Random
from zoneinfo import ZoneInfo

import pytest

from caseload.actions import appointments, holds, rehousing, undoing
from caseload.actions.act import By
from caseload.actions.rederive import rederive
from caseload.errors import Refusal
from caseload.models import Appointment, Seat, Slot
from caseload.timetable.terms import Outcome
from tests.scenario import by

LONDON = ZoneInfo("Europe/London")
DAYS = (date(2026, 4, 1), date(2026, 4, 2), date(2026, 4, 7))
PATIENTS, STEPS = 4, 60
Place = tuple[int, int]


@dataclass(frozen=True)
class Visit:
    """An appointment of the model. `before` is what undoing leads back to, `None` for one only just booked."""

    patient: int
    place: Place
    state: str = "to come"
    before: "Visit | None" = None


@dataclass
class Model:
    visits: dict[int, Visit] = field(default_factory=dict)
    held: set[Place] = field(default_factory=set)
    lost: set[int] = field(default_factory=set)

    def taken(self) -> set[Place]:
        return {visit.place for visit in self.visits.values() if visit.state == "to come"}

    def free(self, place: Place) -> bool:
        return place not in self.taken() | self.held and place[0] not in self.lost

    def unbooked(self, patient: int) -> bool:
        return all(each.patient != patient or each.state != "to come" for each in self.visits.values())

    def book(self, pk: int, patient: int, place: Place) -> bool:
        return self.unbooked(patient) and self.free(place) and self._put(pk, Visit(patient, place))

    def move(self, pk: int, place: Place) -> bool:
        was = self.visits[pk]
        return was.state == "to come" and self.free(place) and self._put(pk, replace(was, place=place, before=was))

    def end(self, pk: int, state: str) -> bool:
        was = self.visits[pk]
        return was.state == "to come" and self._put(pk, replace(was, state=state, before=was))

    def rehouse(self, pk: int, place: Place) -> bool:
        was = self.visits[pk]
        fits = was.state == "lost" and self.unbooked(was.patient) and self.free(place)
        return fits and self._put(pk, replace(was, place=place, state="to come", before=None))

    def lose(self, session: int) -> None:
        self.lost.add(session)
        for pk, visit in self.visits.items():
            if visit.place[0] == session and visit.state == "to come":
                self.visits[pk] = replace(visit, state="lost")

    def undo(self, pk: int) -> bool:
        """Leads one step back, if the place there is still free for it and its patient booked nowhere else."""
        now = self.visits.pop(pk)
        was = now.before
        if was is None:
            return True
        if was.state == "to come" and not (self.free(was.place) and self.unbooked(was.patient)):
            self.visits[pk] = now
            return False
        return self._put(pk, replace(was, before=None))

    def _put(self, pk: int, visit: Visit) -> bool:
        self.visits[pk] = visit
        return True


class Mix:
    """The model and the planner side by side. `undoable` is the appointment of the very last act, if it has one."""

    def __init__(self, clinic, seed: int) -> None:
        self.chance, self.clinic, self.model = Random(seed), clinic, Model()
        self.sessions = [clinic.session(day, start=600, end=660) for day in DAYS]
        self.rows = [clinic.episode().follow_ups.get(key="stitches-out") for _ in range(PATIENTS)]
        self.places = [(number, minute) for number in range(len(DAYS)) for minute in (600, 620, 640)]
        self.minutes, self.undoable, self.tried = 0, None, Counter()

    def by(self) -> By:
        """Each act a moment after the one before, before the first session begins."""
        self.minutes += 1
        at = datetime.combine(DAYS[0], time(8), tzinfo=LONDON) + timedelta(minutes=self.minutes)
        return By(self.clinic.lead, at, DAYS[0])

    def step(self) -> None:
        known = list(self.model.visits)
        acts = [self.book] * 5 + [self.hold]
        acts += [self.move, self.move, self.cancel, self.miss, self.rehouse] if known else []
        acts += [self.undo] * 3 if self.undoable in self.model.visits else []
        acts += [self.lose] if len(self.model.lost) < 2 and self.chance.random() < 0.3 else []
        act = self.chance.choice(acts)
        expected, really = act(self.chance.choice(known) if known else None, self.chance.choice(self.places))
        self.tried[act.__name__, really] += 1
        assert expected == really, (act.__name__, self.model)

    def book(self, _: int | None, place: Place) -> tuple[bool, bool]:
        patient = self.chance.randrange(PATIENTS)
        made = self._really(lambda: appointments.book([self.rows[patient]], by=self.by(), **self._at(place)))
        pk = made.pk if made else -1
        expected = self.model.book(pk, patient, place)
        self.undoable = pk if made else self.undoable
        return expected, bool(made)

    def move(self, pk: int, place: Place) -> tuple[bool, bool]:
        done = self._really(lambda: appointments.move(self._row(pk), by=self.by(), **self._at(place)))
        return self._after(pk, self.model.move(pk, place), done)

    def cancel(self, pk: int, _: Place) -> tuple[bool, bool]:
        done = self._end(pk, self.chance.choice([Outcome.CANCELLED_BY_PATIENT, Outcome.CANCELLED_BY_CLINIC]))
        return self._after(pk, self.model.end(pk, "over"), done)

    def miss(self, pk: int, _: Place) -> tuple[bool, bool]:
        """Not before its day has come."""
        today = self.model.visits[pk].place[0] == 0
        done = self._end(pk, Outcome.DID_NOT_ATTEND)
        return self._after(pk, today and self.model.end(pk, "over"), done)

    def rehouse(self, pk: int, place: Place) -> tuple[bool, bool]:
        done = self._really(lambda: rehousing.rehouse(self._row(pk), by=self.by(), **self._at(place)))
        expected = self.model.rehouse(pk, place)
        self.undoable = None if done else self.undoable
        return expected, bool(done)

    def undo(self, *_: object) -> tuple[bool, bool]:
        pk = self.undoable
        done = self._really(lambda: undoing.undo(self._row(pk), by=self.by()))
        self.undoable = None if done else pk
        return self.model.undo(pk), bool(done)

    def hold(self, _: int | None, place: Place) -> tuple[bool, bool]:
        slots = Slot.objects.filter(session=self.sessions[place[0]], minute=place[1])
        if place in self.model.held:
            there = place[0] not in self.model.lost
            self.model.held -= {place} if there else set()
            return there, bool(self._really(lambda: holds.release(slots, by=self.by()) or True))
        expected = self.model.free(place)
        done = bool(self._really(lambda: holds.hold(slots, by=self.by(), why="kept") or True))
        if expected:
            self.model.held.add(place)
        return expected, done

    def lose(self, _: int | None, place: Place) -> tuple[bool, bool]:
        rehousing.call_off([self.sessions[place[0]]], by=self.by(), why="illness")
        self.model.lose(place[0])
        self.undoable = None
        return True, True

    def _end(self, pk: int, outcome: Outcome) -> Appointment | None:
        return self._really(lambda: appointments.end(self._row(pk), by=self.by(), outcome=outcome))

    def _after(self, pk: int, expected: bool, done: object) -> tuple[bool, bool]:
        self.undoable = pk if done else self.undoable
        return expected, bool(done)

    def _really(self, do):
        try:
            return do()
        except Refusal:
            return None

    def _row(self, pk: int) -> Appointment:
        return Appointment.objects.get(pk=pk)

    def _at(self, place: Place) -> dict:
        return {"session": self.sessions[place[0]], "start": place[1]}

    def occupancy(self) -> set[Place]:
        keys = [session.pk for session in self.sessions]
        seats = Seat.objects.filter(appointment__outcome="").values_list("slot__session", "slot__minute")
        return {(keys.index(session), minute) for session, minute in seats}


@pytest.mark.parametrize("seed", range(6))
def test_random_mixes_succeed_and_are_refused_as_the_model_says_and_take_the_same_slots(clinic, seed):
    mix = Mix(clinic, seed)
    for _ in range(STEPS):
        mix.step()
        assert mix.occupancy() == mix.model.taken()
    assert rederive(by=by(), mend=False).moved == {}
    assert {done for _, done in mix.tried} == {True, False}
