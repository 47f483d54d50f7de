"""What every form that books or moves has in common: what a visit is for, and the places it is offered."""

import re
from typing import Any

from django import forms
from django.utils.html import format_html
from django.utils.safestring import SafeString, mark_safe

from caseload.booking.offers import Offer
from caseload.booking.slots import clock
from caseload.models import FollowUp, Session
from caseload.reads.names import Names
from caseload.timetable.terms import FollowUpKind, Way
from caseload.web import marks
from caseload.wording import label, say_date
from caseload.wording.booking import say_offer
from caseload.wording.record import say_hand

SLOT = re.compile(r"([\w-]{1,12})/([0-9]{1,4})", re.ASCII)


def name_of(row: FollowUp) -> str:
    """What names a follow-up in a form: its episode and its key."""
    return f"{row.episode.code}/{row.key}"


def say_what(row: FollowUp) -> str:
    """What a follow-up is and in which days it belongs."""
    window = f"{say_date(row.earliest_on)} to {say_date(row.latest_on)}"
    return f"{label(FollowUpKind(row.kind))}, {say_hand(row.episode)}: {window}"


def place_of(offer: Offer, about: FollowUp, names: Names) -> tuple[str, SafeString]:
    """The place as a choice: its value; the day with its number and the time, and under it with whom, and why."""
    value, time, why = place_in_words(offer, about, names)
    return value, format_html('{} <br><small class="soft">{}</small>', time, why)


def place_in_words(offer: Offer, about: FollowUp, names: Names) -> tuple[str, str, SafeString]:
    """The same in three: its value, when, and with whom and why."""
    surgery_on = about.episode.surgery_on
    day = f" · day {(offer.on - surgery_on).days}" if surgery_on else ""
    time = f"{say_date(offer.on)}{day}, {clock(offer.start)} to {clock(offer.start + offer.minutes)}"
    outside = mark_safe(marks.shape("tri")) if offer.days_late or offer.days_early else ""
    why = format_html("{}{}: {}", outside, names.therapist(offer.therapist), say_offer(offer))
    return f"{offer.code}/{offer.start}", time, why


def way_of(said: Any) -> Way:
    """The way that was chosen so far; in person where that is none."""
    return Way(said) if said in list(Way) else Way.IN_PERSON


class SlotField(forms.CharField):
    """`SESSION/MINUTE`, cleaned to the session and the minute."""

    widget = forms.RadioSelect

    def clean(self, value: Any) -> tuple[Session, int]:
        found = SLOT.fullmatch(super().clean(value) or "")
        session = found and Session.objects.select_related("site__region").filter(code=found[1]).first()
        if not found or session is None:
            raise forms.ValidationError("Choose one of the times that are shown.", code="slot")
        return session, int(found[2])
