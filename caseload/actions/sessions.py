"""Sessions of the diary: made, changed, held back."""

from collections.abc import Iterable
from datetime import date

from django.db import IntegrityError, transaction

from caseload.access import Act
from caseload.actions.act import By, act, trail
from caseload.booking.slots import slots_in
from caseload.errors import Refusal
from caseload.models import Session, Site, Slot, Staff
from caseload.timetable.terms import FollowUpKind, Way
from caseload.wording.dates import say_date


@act(Act.SESSION_ADD)
def add_session(
    *,
    by: By,
    therapist: Staff,
    site: Site,
    on: date,
    start: int,
    end: int,
    takes: Iterable[FollowUpKind] = (),
    ways: Iterable[Way] = tuple(Way),
) -> Session:
    """A session on one day only. Raises Refusal `two-places` where the therapist holds another at that time."""
    session = Session(
        therapist=therapist, site=site, on=on, start_minute=start, end_minute=end, changed=True,
        takes=sorted(takes), ways=sorted(ways),
    )  # fmt: skip
    open_session(session)
    trail(Act.SESSION_ADD, session, by=by, patient_id=None, changed={"on": (None, on)})
    return session


def open_session(session: Session) -> None:
    """Store a session with its slots."""
    try:
        with transaction.atomic():
            session.save()
            Slot.objects.bulk_create(
                Slot(session=session, therapist_id=session.therapist_id, on=session.on, minute=minute)
                for minute in slots_in(session.start_minute, session.end_minute)
            )
    except IntegrityError:
        raise Refusal(
            "two-places", f"{session.therapist} holds another session at that time on {say_date(session.on)}. Choose "
            "other hours.", field="start",
        ) from None  # fmt: skip
