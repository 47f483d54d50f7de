"""Who works here and how they sign in; what somebody who leaves has in hand, for others to take over."""

from datetime import date, datetime
from typing import Any, Final, NamedTuple

from allauth.mfa.models import Authenticator
from allauth.usersessions.models import UserSession
from django.contrib.sessions.models import Session as SignedIn
from django.db.models import Count, Exists, OuterRef, Q, QuerySet, Subquery
from django.db.models.functions import Coalesce

from caseload.models import Absence, Episode, Session, Staff, WeeklySession
from caseload.reads.passwords import FACTORS
from caseload.reads.weeks import in_force_from

SHOWN: Final = 20
"""So many sessions are named; the others are counted."""


class Person(NamedTuple):
    staff: Staff
    second_factor: bool


class Left(NamedTuple):
    """What somebody who no longer works here still has: open episodes, and sessions to come."""

    staff: Staff
    episodes: int
    sessions: int


class People(NamedTuple):
    here: list[Person]
    gone: list[Person]


class SigningIn(NamedTuple):
    """`app`: codes from an app are set up; `passkeys` and `sessions` are how many."""

    app: bool
    passkeys: int
    sessions: int

    @property
    def second_factor(self) -> bool:
        return self.app or self.passkeys > 0


class InHand(NamedTuple):
    """Open episodes and those whose surgery is still planned, weekly sessions, dated sessions to come with how many
    visits are `booked` in each, and absences of others that this person covers."""

    episodes: int
    planned: int
    weeks: list[WeeklySession]
    sessions: list[Session]
    covers: list[Absence]

    def __bool__(self) -> bool:
        return any(self)

    @property
    def staying(self) -> list[Session]:
        """Those that do not follow their week, with visits or held otherwise than it says, in order of time."""
        staying = [row for row in self.sessions if row.booked or row.changed]  # type: ignore[attr-defined]
        return sorted(staying, key=lambda row: (row.on, row.start_minute))

    @property
    def named(self) -> list[Session]:
        return self.staying[:SHOWN]

    @property
    def more(self) -> int:
        return len(self.staying) - len(self.named)


def people() -> People:
    """Everybody who ever worked here, in one query."""
    held = Exists(Authenticator.objects.filter(user=OuterRef("pk"), type__in=FACTORS))
    rows = [Person(staff, staff.held) for staff in Staff.objects.annotate(held=held)]
    return People([row for row in rows if row.staff.is_active], [row for row in rows if not row.staff.is_active])


def left_behind(today: date) -> list[Left]:
    """Whoever left and still has something, in one query."""
    rows = Staff.objects.filter(is_active=False).annotate(
        of_episodes=_counted(Episode.objects.open()),
        of_sessions=_counted(Session.objects.filter(live=True, on__gte=today)),
    )
    return [
        Left(row, row.of_episodes, row.of_sessions) for row in rows.filter(Q(of_episodes__gt=0) | Q(of_sessions__gt=0))
    ]


def _counted(rows: QuerySet[Any]) -> Coalesce:
    """How many of `rows` have a member of staff as their therapist."""
    own = rows.filter(therapist=OuterRef("pk")).order_by().values("therapist")
    return Coalesce(Subquery(own.annotate(many=Count("pk")).values("many")), 0)


def signing_in_of(staff: Staff, at: datetime) -> SigningIn:
    kinds = list(Authenticator.objects.filter(user=staff, type__in=FACTORS).values_list("type", flat=True))
    live = SignedIn.objects.filter(expire_date__gt=at).values("session_key")
    sessions = UserSession.objects.filter(user=staff, session_key__in=live).count()
    return SigningIn(Authenticator.Type.TOTP in kinds, kinds.count(Authenticator.Type.WEBAUTHN), sessions)


def in_hand_of(staff: Staff, today: date) -> InHand:
    """Four queries."""
    booked = Count("appointments", filter=Q(appointments__live=True, appointments__outcome=""))
    sessions = Session.objects.filter(therapist=staff, live=True, on__gte=today).annotate(booked=booked)
    open_ = Episode.objects.open().filter(therapist=staff)
    own = open_.aggregate(every=Count("pk"), planned=Count("pk", filter=Q(surgery_on__gt=today)))
    return InHand(
        own["every"] - own["planned"],
        own["planned"],
        list(WeeklySession.objects.filter(in_force_from(today), therapist=staff).select_related("site", "therapist")),
        list(sessions.select_related("site")),
        list(Absence.objects.filter(cover=staff, ends_on__gte=today).select_related("therapist")),
    )
