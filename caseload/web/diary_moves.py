"""An appointment that is being moved: where it is, what it needs, and which free starts of a page are long enough."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from html import escape

from caseload.booking.needs import Need
from caseload.booking.slots import clock, slots_for
from caseload.models import Appointment, FollowUp, Purpose
from caseload.reads.diary import Sitting
from caseload.reads.openings import need_of
from caseload.web.diary_rows import Free, Shown, breach_words
from caseload.wording.speech import speech


@dataclass(frozen=True)
class Moving:
    """`need` is one visit for everything the appointment is for."""

    appointment: Appointment
    rows: list[FollowUp]
    need: Need

    def is_early(self, on: date) -> bool:
        return on < self.need.earliest and not self.need.provisional

    def breach(self, on: date) -> str:
        if self.need.provisional:
            return ""
        return breach_words(on, self.need.earliest, self.need.latest, speech())

    def fits(self, free: Free) -> bool:
        """Whether the visit can begin here; the slots that it holds itself count as free."""
        sitting, need = free.sitting, self.need
        if sitting.site_id != need.site or self.appointment.way not in sitting.ways:
            return False
        if sitting.takes and not {str(kind) for kind in need.kinds} <= set(sitting.takes):
            return False
        own = slots_for(self.appointment.start_minute or 0, self.appointment.minutes)
        left = set(sitting.free) | (set(own) if sitting.id == self.appointment.session_id else set())
        return left.issuperset(slots_for(free.minute, need.minutes))

    def can_begin(self, free: Free, shown: Shown) -> bool:
        """Whether it can still be moved to here."""
        return (free.sitting.on, free.minute) > shown.now[free.sitting.site_id] and self.fits(free)

    def has_start(self, sittings: Iterable[Sitting], shown: Shown) -> bool:
        """Whether there is any start to press among these sessions."""
        starts = (Free(sitting, minute) for sitting in sittings if sitting.live for minute in sitting.free)
        return any(self.can_begin(free, shown) for free in starts)

    def start(self, free: Free, shown: Shown) -> str:
        """A free start: a button where the visit fits, else its time alone."""
        sitting, minute = free
        if not self.can_begin(free, shown):
            return f'<span class="soft">{clock(minute)}</span>'
        breach = self.breach(sitting.on)
        said = f"{clock(minute)}, {breach}" if breach else clock(minute)
        words = f'<span class="unseen">to here, {escape(sitting.therapist)}, </span>{said}'
        value = f"{sitting.code}/{minute}"
        return f'<button class="button quiet" form="moving" name="to" value="{value}">{words}</button>'


def moving_of(code: str) -> Moving | None:
    """The appointment of this code, if nobody has come for it and its outcome is not recorded."""
    rows = Appointment.objects.filter(code=code, live=True, outcome="", session__isnull=False, arrived_at=None)
    appointment = rows.select_related("patient", "site").first()
    if appointment is None:
        return None
    purposes = Purpose.objects.filter(appointment=appointment).select_related(
        "follow_up__episode__site", "follow_up__patient"
    )
    follow_ups = [purpose.follow_up for purpose in purposes]
    return Moving(appointment, follow_ups, need_of(follow_ups)) if follow_ups else None
