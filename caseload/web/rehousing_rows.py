"""The rows of those who need another place: where they were, their days, what is proposed and what it breaches."""

from collections.abc import Collection, Iterable
from html import escape

from django.utils.safestring import SafeString, mark_safe

from caseload.booking.slots import clock
from caseload.models import FollowUp
from caseload.reads.rehousing import Rehoused
from caseload.timetable.terms import FollowUpKind
from caseload.web import marks
from caseload.web.diary_rows import breach_words
from caseload.web.rows import Teller, full_name
from caseload.wording.booking import say_none, say_offer

Ticked = Collection[str] | None


def rehousing_rows(found: Iterable[Rehoused], tell: Teller, ticked: Ticked = None) -> SafeString:
    """`ticked` are the values of the boxes as they were sent; None is a page that nobody has touched."""
    return mark_safe("".join(_row(each, tell, ticked) for each in found))


def _row(each: Rehoused, tell: Teller, ticked: Ticked) -> str:
    return row_of(each, tell, _tick(each, ticked), "was")


def row_of(each: Rehoused, tell: Teller, first: str, word: str) -> str:
    """One row; `first` is its first cell, `word` says on narrow screens what its day until now is."""
    appointment = each.appointment
    patient = appointment.patient
    what = "".join(f"<div>{_purpose(row, tell)}</div>" for row in each.rows)
    on, at = tell.whole_date(appointment.on), clock(appointment.start_minute or 0)
    was = f'<span class="narrow-only">{word} </span>{on}<small>{at}</small>'
    who = tell.who(each.rows[0].episode.code, patient.family, patient.given, patient.born_on)
    return (
        f'<tr><td class="span">{first}</td>'
        f'<th scope="row" class="span">{who}<small>{escape(patient.phone)}</small></th>'
        f'<td class="span">{what}</td><td>{was}</td><td>{_window(each, tell)}</td>'
        f'<td class="span">{_proposal(each, tell)}</td></tr>'
    )


def _purpose(row: FollowUp, tell: Teller) -> str:
    episode = row.episode
    return f"{tell.say.label(FollowUpKind(row.kind))}<small>{tell.hand(episode.side, episode.digit)}</small>"


def _window(each: Rehoused, tell: Teller) -> str:
    if each.need is None:
        return "–"
    until = "provisional" if each.need.provisional else f"to {tell.whole_date(each.last_day)}"
    label = '<span class="narrow-only">window </span>'
    return f"{label}{tell.whole_date(each.first_day)}<small>{until}</small>"


def _tick(each: Rehoused, sent: Ticked) -> str:
    """Ticked where the place keeps the window; a breach is for somebody to accept."""
    offer, patient = each.offer, each.appointment.patient
    if offer is None:
        return ""
    value = f"{each.appointment.code}/{offer.code}/{offer.start}"
    said = f"accept for {full_name(patient.family, patient.given)}"
    wanted = not each.breach if sent is None else value in sent
    ticked = " checked" if wanted else ""
    return (
        f'<input type="hidden" name="place" value="{value}">'
        f'<label><input type="checkbox" name="accept" value="{value}"{ticked}>'
        f'<span class="unseen">{said}</span></label>'
    )


def _proposal(each: Rehoused, tell: Teller) -> str:
    offer = each.offer
    if offer is None:
        why = each.refusal or (say_none(each.why_none, tell.say) if each.why_none else "")
        return f"{marks.shape('tri')}<b>no place</b><small>{escape(why)}</small>"
    place = tell.whole_date(offer.on, offer.start)
    with_whom = tell.therapists.get(offer.therapist, "")
    if each.breach and each.need:
        breach = breach_words(offer.on, each.need.earliest, each.need.latest, tell.say)
        return f'{marks.shape("aside")}{place}<small>{with_whom} · <b class="alarm">{breach}</b></small>'
    return f"{marks.shape('ring')}{place}<small>{with_whom} · {escape(say_offer(offer, tell.say))}</small>"
