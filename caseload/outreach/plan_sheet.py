"""The plan sheet of one episode: what it says to the patient, as sentences. How it looks is for the templates.

Decided here:
- Every visit booked for the patient stands on it, whichever finger it is for; those still to be booked are this one's.
- A day that hangs on something not recorded yet always says so, a booked one too.
- What is over is left out; gentle bending goes on as shown once its first phase is over.
- The cautions until the wound has closed stay while any operated finger of the hand has a wound that is not recorded as
  closed. When to get medical help always stays.
- Under 16 today, it speaks to the adult who is responsible.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from typing import NamedTuple

from django.utils.text import capfirst
from django.utils.translation import gettext as _

from caseload.errors import Refusal
from caseload.models import Appointment, Episode
from caseload.outreach.days import Days, days_of
from caseload.reads.rules import rules_of
from caseload.reads.timetables import Hand, hand_of
from caseload.reads.to_come import visits_to_come
from caseload.timetable.activities import is_child
from caseload.timetable.evidence import read_evidence
from caseload.timetable.plan import Activity, FollowUp
from caseload.timetable.terms import ActivityKind, Anchor, Digit, FollowUpKind, Lock, Mark, Way
from caseload.wording import label
from caseload.wording import patient as say
from caseload.wording.record import say_hand

ROOM = 1_750
"""Letters of sentences beside which one A4 page has room for the day line, as tried on paper."""


class Item(NamedTuple):
    """Something to do: what, and how, or from when."""

    what: str
    more: str


class Waiting(NamedTuple):
    """Things that wait for the same: what for, as a sentence, which is empty where it is the day alone."""

    until: str
    items: tuple[Item, ...]


@dataclass(frozen=True, slots=True)
class PlanSheet:
    """Sentences in the language that was spoken when it was made; `until_closed` is empty once the wound has closed.

    `provisional` says that some day on it may change, `booked` that some visit of this episode is booked;
    `marks` is what staff must know of its timetable.
    """

    child: bool
    to_whom: str
    born: str
    hand: str
    surgery: str
    today: str
    visits: tuple[str, ...]
    to_book: tuple[str, ...]
    no_visit: str
    days: Days | None
    now: tuple[Item, ...]
    waiting: tuple[Waiting, ...]
    until_closed: tuple[str, ...]
    ring: str
    provisional: bool
    booked: bool
    marks: tuple[Mark, ...]

    @property
    def title(self) -> str:
        return _(say.TITLE[self.child])

    @property
    def visits_title(self) -> str:
        return _(say.VISITS[self.child])

    @property
    def now_title(self) -> str:
        return _(say.NOW[self.child])

    @property
    def help_at_once(self) -> list[str]:
        return [_(caution) for caution in say.HELP_AT_ONCE]

    @property
    def besides(self) -> list[str]:
        return [_(said) for said in say.BESIDES]

    @property
    def has_room(self) -> bool:
        """Whether the paper has room for the day line too: the words come first."""
        items = [*self.now, *(item for waiting in self.waiting for item in waiting.items)]
        said = [*self.visits, *self.to_book, *self.until_closed, *self.help_at_once, *self.besides, self.ring]
        said += [waiting.until for waiting in self.waiting] + [part for item in items for part in item]
        return sum(map(len, said)) < ROOM


def plan_sheet(episode: Episode, *, today: date) -> PlanSheet:
    """The sheet as it stands today, in a constant number of queries. Raises Refusal `episode-closed`."""
    if episode.ended_on:
        raise Refusal("episode-closed", "The episode is closed, so there is no plan sheet for it.")
    hand, visits = hand_of(episode, today=today), visits_to_come(episode.patient, today=today)
    speaker = Speaker(episode, hand, today, is_child(episode.patient.born_on, today))
    served = {row.follow_up.key for visit in visits for row in visit.serving if row.follow_up.episode_id == episode.pk}  # type: ignore[attr-defined]
    to_book = [row for row in hand.own.follow_ups if row.is_due and row.minutes and row.key not in served]
    to_book.sort(key=lambda row: (row.earliest_on, row.latest_on))
    name, surgery_on = episode.patient.full_name, episode.surgery_on
    return PlanSheet(
        child=speaker.child,
        to_whom=say.say_to_whom(name, speaker.child),
        born=say.say_born(episode.patient.born_on),
        hand=capfirst(say_hand(episode)) if episode.side and episode.digit else "",
        surgery=say.say_surgery(surgery_on, today),
        today=say.say_today(surgery_on, today),
        visits=tuple(speaker.visit(row) for row in visits),
        to_book=tuple(speaker.to_book(row) for row in to_book),
        no_visit="" if visits or to_book else say.say_no_visit(surgery_on),
        days=days_of(surgery_on, today, sorted({row.on for row in visits}), to_book),
        now=speaker.now(),
        waiting=speaker.waiting(),
        until_closed=tuple(_(said) for said in say.UNTIL_CLOSED) if speaker.wound_open else (),
        ring=say.say_ring(episode.site.name, episode.site.telephone),
        provisional=speaker.provisional,
        booked=bool(served),
        marks=hand.own.marks,
    )


class Speaker:
    """What is said about one episode on one day. The hand decides what may be done, as `hand_of` leaves it."""

    def __init__(self, episode: Episode, hand: Hand, today: date, child: bool) -> None:
        self.episode, self.today, self.child = episode, today, child
        self.thumb = episode.digit == Digit.THUMB
        self.follow_ups = {row.key: row for row in hand.own.follow_ups}
        self.activities = [row for row in hand.own.activities if not self._is_over(row)]
        facts = hand.facts
        choice = rules_of(episode.rules).choice_of(facts)
        applied = (*choice.steady, *(each for _place, each in choice.hanging))
        self.notes = {each.rule.kind: each.rule.note for each in applied}
        gated = any(Lock.WOUND_CLOSED in row.locks or Lock.TRIMMED in row.locks for row in hand.own.activities)
        self.wound_open = gated or read_evidence(facts).closed is None

    def _is_over(self, activity: Activity) -> bool:
        until, goes_on = activity.until_on, activity.kind is ActivityKind.GENTLE_BENDING
        return until is not None and until < self.today and not goes_on

    @property
    def provisional(self) -> bool:
        """Whether some day that is still to come may change."""
        due = (row.provisional for row in self.follow_ups.values() if row.is_due and row.minutes)
        return any(due) or any(row.provisional for row in self.activities if row.locked_by(self.today))

    def visit(self, appointment: Appointment) -> str:
        served = [row.follow_up for row in appointment.serving]  # type: ignore[attr-defined]
        what = dict.fromkeys(self._served(row.kind, row.episode) for row in served)
        where = appointment.site.name if appointment.way == Way.IN_PERSON else label(Way(appointment.way))
        said = say.say_visit(appointment.on, appointment.start_minute, where, what)
        own = [row.key for row in served if row.episode_id == self.episode.pk and row.key in self.follow_ups]
        doubts = dict.fromkeys(self._doubt(self.follow_ups[key]) for key in own)
        for row in served:
            if row.episode_id != self.episode.pk and row.provisional:
                doubts[say.say_may_change(Anchor(row.anchor))] = None
        return " ".join(filter(None, (said, *doubts)))

    def _served(self, kind: str, episode: Episode) -> str:
        what = _(say.VISIT_FOR[FollowUpKind(kind)])
        return what if episode.pk == self.episode.pk else f"{what} ({say_hand(episode)})"

    def to_book(self, row: FollowUp) -> str:
        said = say.say_to_book(row.kind, row.earliest_on, row.latest_on, self.today, provisional=row.provisional)
        ordered = say.say_asked(self.child) if _gives(row, "ordered-window") else ""
        return " ".join(filter(None, (said, ordered, self._doubt(row))))

    def _doubt(self, row: FollowUp) -> str:
        """That the days of a follow-up may change, where they may."""
        if _gives(row, "ordered-unconfirmed"):
            return say.say_unconfirmed()
        return say.say_may_change(row.anchor) if row.provisional else ""

    def now(self) -> tuple[Item, ...]:
        return tuple(self._may(row) for row in self.activities if not row.locked_by(self.today))

    def _may(self, activity: Activity) -> Item:
        how = say.say_how(self.notes.get(activity.kind, ""), self.thumb)
        if activity.until_on and activity.until_on < self.today:
            how = _(say.GO_ON)
        ordered = say.say_asked(self.child) if _gives(activity, "ordered-day") else ""
        return Item(say.say_doing(activity.kind, self.thumb), " ".join(filter(None, (how, ordered))))

    def waiting(self) -> tuple[Waiting, ...]:
        """What may not be done yet, those that wait for the same together; what waits for its day alone comes first."""
        groups: dict[str, list[Item]] = {}
        for row in sorted(self.activities, key=lambda row: (len(row.locks), row.from_on)):
            if row.locked_by(self.today):
                groups.setdefault(self._until(row), []).append(self._not_yet(row))
        return tuple(Waiting(until, tuple(items)) for until, items in groups.items())

    def _until(self, activity: Activity) -> str:
        gates = [lock for lock in activity.locks if lock is not Lock.INSTRUCTION]
        said = say.say_wait(gates, Lock.INSTRUCTION in activity.locks, self.child)
        return " ".join(filter(None, [said, *map(say.say_because, _other_fingers(activity))]))

    def _not_yet(self, activity: Activity) -> Item:
        more = []
        if self.today < activity.from_on:
            asked, provisional = _gives(activity, "ordered-day"), activity.provisional
            how = {"gated": bool(activity.locks), "provisional": provisional, "asked": asked, "child": self.child}
            more.append(say.say_not_before(activity.from_on, self.today, **how))
        if _gives(activity, "ordered-unconfirmed"):
            more.append(say.say_unconfirmed())
        return Item(say.say_doing(activity.kind, self.thumb), " ".join(more))


def _gives(row: Activity | FollowUp, code: str) -> bool:
    return any(reason.code == code for reason in row.reasons)


def _other_fingers(activity: Activity) -> Iterable[str]:
    return [str(reason.values[0]) for reason in activity.reasons if reason.code == "other-digit"]
