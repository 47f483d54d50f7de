"""A clinic that lives through random months by the real acts. `MONTHS` sets how many of them are played."""

from datetime import UTC, date, datetime, time, timedelta
from random import Random

from caseload.actions import (
    absences,
    appointments,
    episodes,
    findings,
    instructions,
    notices,
    patients,
    rehousing,
    reviews,
    service,
    sessions,
    undoing,
    weeks,
)
from caseload.actions.act import By
from caseload.errors import Refusal
from caseload.models import Absence, Appointment, Closure, Episode, FollowUp, Notice, Session, Staff, WeeklySession
from caseload.reads.openings import offers_for
from caseload.reads.rehousing import still_waiting
from caseload.timetable.terms import Digit, Ending, FindingKind, Outcome, Suture, WoundState
from tests.record.living import Living
from tests.scenario import TODAY, Fernhollow

TUESDAY, WEDNESDAY, FRIDAY = 1, 2, 4


class Months(Living):
    """One clinic, and the days that pass."""

    passing = (0, 0, 1, 1, 2)

    def __init__(self, clinic: Fernhollow, seed: int) -> None:
        super().__init__(clinic, Random(seed), TODAY)
        self.other = Staff.objects.create(username="joan", name="Joan Petherick", is_therapist=True)
        for therapist, site, weekday in (
            (clinic.therapist, clinic.site, TUESDAY), (clinic.therapist, clinic.site, FRIDAY),
            (self.other, clinic.site, WEDNESDAY), (self.other, clinic.quay, FRIDAY),
        ):  # fmt: skip
            weeks.save_week(
                by=self.by("lead"), therapist=therapist, site=site, weekday=weekday, start=540, end=640,
                from_on=self.today,
            )  # fmt: skip
        often = [self.open, self.book, self.book, self.book, self.book, self.end, self.end, self.move, self.find]
        self.acts = [*often, self.find, self.find, self.together, self.anywhere, self.tell, self.arrive, self.call_off,
                     self.rehouse, self.rehouse, self.away, self.back, self.shut, self.reopen, self.hold_again,
                     self.one_off, self.week, self.correct, self.person, self.review, self.complete, self.instruct,
                     self.undo, self.close, self.die, self.revive, self.background, self.post, self.post,
                     self.refuse]  # fmt: skip
        for _ in range(6):
            self.open()

    def by(self, who: str = "admin") -> By:
        """At eight in the morning, before any session."""
        return By(getattr(self.clinic, who), datetime.combine(self.today, time(7), tzinfo=UTC), self.today)

    def soon(self, most: int = 20) -> date:
        return self.today + timedelta(days=self.chance.randrange(most))

    def open(self) -> None:
        site = self.chance.choice([self.clinic.site, self.clinic.site, self.clinic.quay])
        therapist = self.chance.choice([self.clinic.therapist, self.other, None])
        patient = self.clinic.patient(**self.reach())
        surgery_on = self.today - timedelta(days=self.chance.randrange(-3, 20))
        for digit in self.chance.sample(list(Digit), self.chance.choice([1, 1, 2])):
            episodes.open_episode(
                patient, by=self.by(), rules=self.clinic.rules, site=site, therapist=therapist, side="right",
                digit=digit, suture=self.chance.choice([Suture.NON_ABSORBABLE, *Suture]), surgery_on=surgery_on,
                for_therapy=self.chance.random() < 0.5,
            )  # fmt: skip

    def episode(self) -> Episode:
        return self.pick(Episode.objects.open())

    def due(self) -> FollowUp:
        rows = FollowUp.objects.due().filter(minutes__gt=0, booked_on=None, episode__ended_on=None)
        return self.pick(rows.select_related("episode__site", "patient"))

    def live(self, **fields) -> Appointment:
        return self.pick(Appointment.objects.filter(live=True, outcome="", **fields))

    def place(self, rows):
        """One of the best places for some follow-ups."""
        offers = offers_for(rows, at=self.by().at, most=3)
        if not offers:
            raise Refusal("full", "No place.")
        offer = self.chance.choice(offers)
        return {"session": Session.objects.get(pk=offer.session), "start": offer.start}

    def told(self) -> str:
        return self.chance.choice(["told", "told", "untold"])

    def book(self) -> None:
        rows = [self.due()]
        appointments.book(rows, by=self.by(), told=self.told(), **self.place(rows))

    def together(self) -> None:
        first = self.due()
        rows = FollowUp.objects.due().filter(patient=first.patient_id, minutes__gt=0, booked_on=None)
        rows = list(rows.select_related("episode__site", "patient").order_by("pk")[:2])
        appointments.book(rows, by=self.by(), told=self.told(), **self.place(rows))

    def anywhere(self) -> None:
        """In any session, so also outside its window."""
        session = self.pick(Session.objects.filter(live=True, on__gte=self.today, on__lte=self.soon(30)))
        row = self.due()
        appointments.book([row], by=self.by(), session=session, start=self.chance.choice([540, 560, 600]))

    def move(self) -> None:
        appointment = self.live()
        rows = [each.follow_up for each in appointment.purposes.select_related("follow_up__episode__site",
                                                                               "follow_up__patient")]  # fmt: skip
        appointments.move(appointment, by=self.by(), told=self.told(), **self.place(rows))

    def end(self) -> None:
        past = self.chance.random() < 0.7
        appointment = self.live(**({"on__lte": self.today} if past else {}))
        appointments.end(appointment, by=self.by(), outcome=self.chance.choice(list(Outcome)))

    def tell(self) -> None:
        appointments.tell(self.live(), by=self.by(), told="told", interpreter_told=True)

    def arrive(self) -> None:
        appointments.arrive(self.live(on=self.today), by=self.by())

    def undo(self) -> None:
        undoing.undo(self.pick(Appointment.objects.filter(undo_step__at=self.by().at)), by=self.by("lead"))

    def call_off(self) -> None:
        rehousing.call_off([self.session()], by=self.by(), why="burst pipe")

    def rehouse(self) -> None:
        appointment = self.pick(still_waiting())
        rows = [each.follow_up for each in appointment.purposes.select_related("follow_up__episode__site",
                                                                               "follow_up__patient")]  # fmt: skip
        rehousing.rehouse(appointment, by=self.by(), **self.place(rows))

    def session(self, **fields) -> Session:
        own = {"live": True, "on__gte": self.today, "on__lte": self.today + timedelta(days=14)}
        return self.pick(Session.objects.filter(**(own | fields)))

    def hold_again(self) -> None:
        sessions.hold_again(self.session(live=False), by=self.by())

    def one_off(self) -> None:
        sessions.add_session(by=self.by(), therapist=self.other, site=self.clinic.site, on=self.soon(), start=780,
                             end=840, takes=self.chance.choice([[], ["stitches-out"]]))  # fmt: skip

    def week(self) -> None:
        row = self.pick(WeeklySession.objects.filter(ends_on=None))
        weeks.save_week(by=self.by("lead"), therapist=row.therapist, site=row.site, weekday=self.chance.randrange(5),
                        start=540, end=self.chance.choice([600, 640, 700]), from_on=self.soon(), weekly=row,
                        takes=self.chance.choice([[], [], ["stitches-out", "wound-check"]]))  # fmt: skip

    def away(self) -> None:
        first = self.soon()
        who, cover = self.chance.sample([self.clinic.therapist, self.other], 2)
        absences.add_absence(by=self.by(), therapist=who, starts_on=first, ends_on=first + timedelta(days=5),
                             reason="ill", cover=self.chance.choice([cover, None]))  # fmt: skip

    def back(self) -> None:
        absences.end_absence(self.pick(Absence.objects.filter(ends_on__gt=self.today)), by=self.by(), on=self.today)

    def shut(self) -> None:
        first = self.soon()
        site = self.chance.choice([self.clinic.site, self.clinic.quay, None])
        service.add_closure(by=self.by("lead"), site=site, starts_on=first, ends_on=first + timedelta(days=1),
                            reason="flood")  # fmt: skip

    def reopen(self) -> None:
        service.remove_closure(self.pick(Closure.objects.filter(ends_on__gte=self.today)), by=self.by("lead"))

    def background(self) -> None:
        """What was due too long ago is withdrawn."""
        notices.withdraw_expired(self.by().at)

    def post(self) -> None:
        """Something goes out."""
        notice = self.pick(Notice.objects.filter(state="waiting", due_at__lte=self.by().at))
        notices.record_sent(notice, by=By(None, self.by().at, self.today), to="rosa@example.org", text="Dear Rosa")

    def refuse(self) -> None:
        """Somebody does not want it to go out."""
        notices.withdraw(self.pick(Notice.objects.filter(state="waiting")), by=self.by(), why="rung already")

    def find(self) -> None:
        said = self.chance.choice([
            {"kind": FindingKind.STITCHES, "stitches_out": 4, "stitches_left": self.chance.choice([0, 0, 2])},
            {"kind": FindingKind.WOUND, "wound": self.chance.choice(list(WoundState))},
        ])  # fmt: skip
        findings.record(self.episode(), by=self.by("therapist"), on=self.today, source="seen", **said)

    def correct(self) -> None:
        moved = self.today - timedelta(days=self.chance.randrange(16))
        changes = self.chance.choice([{"surgery_on": moved}, {"suture": Suture.ABSORBABLE}, {"raised_risk": True},
                                      {"site": self.clinic.quay}, {"therapist": self.other}])  # fmt: skip
        episodes.correct(self.episode(), by=self.by(), version=None, **changes)

    def reach(self) -> dict[str, object]:
        """How somebody can be written to."""
        return {"email": "rosa@example.org", "email_consent": self.chance.random() < 0.4,
                "postal_address": self.chance.choice(["", "2 Quay Street"]),
                "interpreter": self.chance.random() < 0.3}  # fmt: skip

    def person(self) -> None:
        patients.correct(self.episode().patient, by=self.by(), version=None, **self.reach())

    def review(self) -> None:
        reviews.set_review(self.episode(), by=self.by("therapist"), on=self.today, in_days=self.chance.randrange(1, 30))

    def complete(self) -> None:
        reviews.complete(self.pick(FollowUp.objects.due()), by=self.by("therapist"), on=self.today)

    def instruct(self) -> None:
        instructions.give(self.episode(), by=self.by("therapist"), item="stitches-out", by_whom="Surgeon", why="thin",
                          earliest=10, target=18, latest=25)  # fmt: skip

    def close(self) -> None:
        how = self.chance.choice([Ending.DISCHARGED, Ending.TRANSFERRED, Ending.NOT_DONE])
        episodes.close(self.episode(), by=self.by("lead"), version=None, how=how, on=self.today, received_by="Other")

    def revive(self) -> None:
        closed = self.pick(Episode.objects.filter(ended_on__isnull=False))
        episodes.reopen(closed, by=self.by("lead"), version=None, why="not so")

    def die(self) -> None:
        if self.chance.random() < 0.3:
            episodes.close(self.episode(), by=self.by("lead"), version=None, how=Ending.DIED, on=self.today)
