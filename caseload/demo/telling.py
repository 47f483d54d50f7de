"""Telling the story of one patient's surgery, day by day, through the acts that the pages call.

A story is written in the order in which things happen and knows nothing of today: it is told until the last day of the
stage and then breaks off with Over, wherever it is. So a hand operated last week has a short story and an old one ends
with its discharge.

Stories are generators. One that must know what is due waits (`yield`) until what was done so far is settled: that way
hundreds of them are told side by side and settled together, which takes a third of the time.
"""

from collections.abc import Generator, Sequence
from datetime import date, timedelta
from random import Random
from typing import Any, NamedTuple, TypeVar

from caseload.actions import appointments, contacts, episodes, findings, patients, referrals, visits
from caseload.actions.act import By
from caseload.actions.visits import Look
from caseload.booking.clock import local_of
from caseload.booking.offers import Offer
from caseload.demo.examining import BEFORE, OPEN_WOUND, TAUGHT, Examination
from caseload.demo.measuring import Hand
from caseload.demo.stage import Stage
from caseload.models import (
    Appointment,
    Episode,
    Finding,
    FollowUp,
    How,
    Patient,
    Reached,
    Referral,
    ReferralEnd,
    Staff,
    Told,
    Visit,
)
from caseload.reads.openings import need_of
from caseload.timetable.calendar import OpenDays
from caseload.timetable.terms import AfterVisit, Ending, FollowUpKind, Outcome, Source, Way

Answer = TypeVar("Answer")
Part = Generator[None, None, Answer]
"""A part of a story, with what it comes to."""
Story = Part[None]
ON_TARGET = 0.7
"""So often the best place is taken; otherwise it is another one of the window."""
PLACES_WEIGHED = 12
"""So many of the best places are there to choose from."""
BEGUN = (FollowUpKind.THERAPY_REVIEW,)
"""Visits that always say what may begin: scar work is taught at them."""
SOMETHING_BEGUN = 0.15
"""So often another one does."""


class Over(Exception):
    """The story has reached today, or its end."""


class Cut(NamedTuple):
    """What ends a story before its time, and when."""

    on: date
    how: Ending
    received_by: str = ""


class Booked(NamedTuple):
    appointment: Appointment
    kind: FollowUpKind
    episodes: tuple[int, ...]


def _at_once(rows: list[FollowUp]) -> list[FollowUp]:
    """What one visit can serve, the first to end first: one digit may have healed weeks after the other."""
    last = min((row.latest_on for row in rows), default=date.max)
    return [row for row in rows if row.earliest_on <= last]


class Telling:
    """`day` is how far the story has come. `episodes` are those of one surgery date, one for each digit. In a `smooth`
    story nothing is left to chance: visits are kept, stitches come out, wounds close.
    """

    def __init__(self, stage: Stage, rng: Random, site: str, surgery_on: date) -> None:
        self.stage, self.rng, self.surgery_on = stage, rng, surgery_on
        self.until = stage.until
        self.site = stage.sites[site]
        self.calendar: OpenDays = stage.calendars[self.site.pk]
        self.admin, self.lead = stage.admin(site), stage.lead
        self.therapist: Staff = rng.choice(stage.therapists(site))
        self.day, self.minute, self.smooth = date.min, 0, False
        self.episodes: list[Episode] = []
        self.cut: Cut | None = None
        self.patient: Patient
        self._hand = Hand(Random(rng.random()))
        self._examination: Examination | None = None
        self.referral: Referral | None = None

    # How time passes

    def go(self, day: date) -> None:
        """On to a day, if it is later. Raises Over beyond the last day, and where the story is cut."""
        if self.cut and self.cut.on <= min(max(day, self.day), self.until):
            self._cut(self.cut)
        if day > self.until:
            raise Over
        if day > self.day:
            self.day, self.minute = day, self.rng.randrange(0, 240)

    def later(self, days: int) -> None:
        """On to the first open day so many days later."""
        self.go(self.open_from(self.day + timedelta(days=days)))

    def open_from(self, day: date) -> date:
        """This day, or the first open one after it; the day itself where the holiday data end."""
        return day if self.calendar.is_open(day) else self.calendar.first_after(day) or day

    def chance(self, share: float) -> bool:
        return not self.smooth and self.rng.random() < share

    def by(self, person: Staff) -> By:
        self.minute += self.rng.randrange(1, 12)
        return self.stage.by(person, self.day, self.minute)

    # Who and what it is about

    @property
    def examination(self) -> Examination:
        if self._examination is None:
            self._examination = Examination(self._hand, self.patient.born_on, self.surgery_on)
        return self._examination

    def meet(self, fields: dict[str, Any]) -> Patient:
        self.patient = patients.add(by=self.by(self.admin), **fields)
        return self.patient

    def refer(self, **fields: Any) -> None:
        received_on = min(self.day, self.open_from(self.surgery_on - timedelta(days=self.rng.randrange(0, 12))))
        self.referral = referrals.add(self.patient, by=self.by(self.admin), received_on=received_on, **fields)

    def end_referral(self, person: Staff, how: ReferralEnd) -> None:
        if self.referral:
            by = self.by(person)
            referrals.correct(self.referral, by=by, version=None, ended_on=self.day, ended_how=how)

    def open(self, **facts: Any) -> Episode:
        own: dict[str, Any] = {"site": self.site, "therapist": self.therapist, "referral": self.referral}
        own["surgery_on"] = self.surgery_on
        episode = episodes.open_episode(self.patient, by=self.by(self.admin), **(own | facts))
        self.episodes.append(episode)
        return episode

    def open_after(self, old: Episode, **facts: Any) -> Episode:
        """The episode of a second operation on the same digit; the old one is closed with it."""
        own: dict[str, Any] = {"site": self.site, "therapist": self.therapist, "surgery_on": self.surgery_on}
        episode = episodes.reoperate(
            old, by=self.by(self.therapist), version=None, on=self.surgery_on, **(own | facts)
        )  # fmt: skip
        self.episodes.append(episode)
        return episode

    def correct(self, **changes: Any) -> None:
        for episode in self.episodes:
            episodes.correct(episode, by=self.by(self.admin), version=None, **changes)

    # Booking

    def due(self, *kinds: FollowUpKind) -> Part[list[FollowUp]]:
        yield
        found = []
        for episode in self.episodes:
            for row in self.stage.due.of(episode.pk, kinds):
                row.episode, row.patient = episode, self.patient
                found.append(row)
        return found

    def book(
        self,
        kind: FollowUpKind,
        *,
        on: date | None = None,
        told: str = Told.TOLD,
        approved_by: str = "",
        in_person: bool = False,
    ) -> Part[Booked]:
        """Book one visit for all that is due of a kind. Raises Over where no place is known any more."""
        rows = _at_once((yield from self.due(kind)))
        by = self.by(self.admin)
        way = Way.IN_PERSON if in_person else self._way(rows)
        offer = self._place(rows, way, on, by)
        appointment = appointments.book(
            rows, by=by, session=self.stage.room.take(offer), start=offer.start, way=way, told=told,
            interpreter_told=not self.chance(0.3), approved_by=approved_by,
            approved_why="away in the week it was planned for" if approved_by else "",
        )  # fmt: skip
        return Booked(appointment, kind, tuple(row.episode_id for row in rows))

    def _way(self, rows: Sequence[FollowUp]) -> Way:
        """A wound check that need not be seen is sometimes a call."""
        return Way.TELEPHONE if not any(row.in_person for row in rows) and self.chance(0.2) else Way.IN_PERSON

    def _place(self, rows: Sequence[FollowUp], way: Way, on: date | None, by: By) -> Offer:
        """On a day, where one is given; else mostly the best place, sometimes another one of the window."""
        room, need = self.stage.room, need_of(rows)
        today, minute = local_of(by.at, self.site.zone)
        if on is not None:
            found = room.on(need, way, on, today, minute)
        else:
            found = room.best(need, way, today + timedelta(days=1), 0, PLACES_WEIGHED)
        if not found:
            raise Over
        return self.rng.choice(found) if on is None and self.chance(1 - ON_TARGET) else found[0]

    def ended(self, booked: Booked, outcome: Outcome, why: str = "") -> None:
        appointments.end(booked.appointment, by=self.by(self.admin), outcome=outcome, why=why)
        if outcome is not Outcome.ATTENDED:
            self.stage.room.give_back(booked.appointment)

    def tell(self, booked: Booked, told: str = Told.TOLD) -> None:
        appointments.tell(booked.appointment, by=self.by(self.admin), told=told)

    def ring(self, reached: Reached, text: str, how: How = How.PHONE) -> None:
        by, about = self.by(self.admin), self.episodes[0]
        contacts.log(self.patient, by=by, how=how, reached=reached, text=text, episode=about)

    # What is found, and how it ends

    def attended(self, booked: Booked, looks: Sequence[Look]) -> Visit:
        """The visit of an appointment. For one by telephone a picture was sent before, and is vouched for at once."""
        seen = booked.appointment.way == Way.IN_PERSON
        self.examination.heed(looks)
        closed = self.examination.whole(look.episode for look in looks)
        begins = seen and (booked.kind in BEGUN or self.chance(SOMETHING_BEGUN))
        looks = self.examination.complete(
            booked.kind, looks, booked.appointment.on, seen=seen, begins=begins,
            whole=closed and len(looks) == len(self.episodes),
        )  # fmt: skip
        visit = visits.record(
            self.patient, by=self.by(self.therapist), on=booked.appointment.on, looks=looks,
            source=Source.SEEN if seen else Source.PHOTO, appointment=booked.appointment,
            taught=TAUGHT[booked.kind] if closed else OPEN_WOUND,
        )  # fmt: skip
        if not seen:
            self.vouch(visit)
        return visit

    def see(self, looks: Sequence[Look], source: Source = Source.SEEN, **said: Any) -> Visit:
        """A visit without appointment: somebody who came by, a picture, a call, a report."""
        if source == Source.SEEN:
            self.examination.heed(looks)
        return visits.record(self.patient, by=self.by(self.therapist), on=self.day, looks=looks, source=source, **said)

    def see_before(self) -> Visit:
        """In the morning of the operation, before it."""
        self.go(self.surgery_on)
        return self.measure_before("Seen in the morning, before the operation.")

    def measure_before(self, note: str) -> Visit:
        """What the hand is to be compared with."""
        look = self.examination.measured(Look(self.episodes[0], AfterVisit.CONTINUE), BEFORE, self.day)
        return self.see([look], note=note)

    def found(self, finding: dict[str, Any], source: Source = Source.SEEN, **said: Any) -> Finding:
        """A visit at which one thing was found of the first episode."""
        visit = self.see([Look(self.episodes[0], AfterVisit.CONTINUE, findings=[finding])], source, **said)
        return visit.findings.get()

    def vouch(self, visit: Visit) -> None:
        for finding in visit.findings.all():
            findings.countersign(finding, by=self.by(self.therapist))

    def close(self, how: Ending, received_by: str = "") -> None:
        for episode in self.episodes:
            episode.refresh_from_db(fields=["ended_on", "ended_how"])  # who died had everything closed with the first
            if episode.ended_on:
                continue
            by = self.by(self.therapist)
            episodes.close(episode, by=by, version=None, how=how, on=self.day, received_by=received_by)
        if how is not Ending.DIED:
            for row in Appointment.objects.filter(patient=self.patient, told=Told.UNTOLD):
                appointments.tell(row, by=self.by(self.admin), told=Told.TOLD)

    def _cut(self, cut: Cut) -> None:
        self.cut = None
        self.day, self.minute = max(self.day, cut.on), self.rng.randrange(0, 240)
        if cut.how is not Ending.REOPERATION:  # that is closed when the next episode is opened
            self.close(cut.how, cut.received_by)
        raise Over
