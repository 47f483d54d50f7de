"""Whom to ring, and whose referrer may be written to, as rows of lists: a template takes longest over their fifty."""

from datetime import date
from html import escape
from typing import NamedTuple
from uuid import uuid4

from caseload.models import Notice, Patient, Reached, Standing
from caseload.reads.call_list import Call
from caseload.timetable.terms import Way
from caseload.web import marks
from caseload.web.links import episode_href, href, patient_href
from caseload.web.templatetags.record import counted
from caseload.wording import label, say_date
from caseload.wording.appointments import say_time
from caseload.wording.dates import say_instant
from caseload.wording.notices import say_error
from caseload.wording.record import say_hand

SAID = {
    Reached.SPOKE: "Spoke to them", Reached.MESSAGE: "Message left", Reached.NO_ANSWER: "No answer",
    Reached.WRONG: "Wrong number",
}  # fmt: skip
SAME_NAME = '<span class="tag alarm">same name: check the birth date</span>'
CHILD = '<span class="tag">under 16: speak to the adult responsible</span>'


class Sent(NamedTuple):
    """What the forms of a page send along: the token that they are its own, and where to go back to."""

    token: str
    back: str

    def fields(self) -> str:
        return (
            f'<input type="hidden" name="csrfmiddlewaretoken" value="{self.token}">'
            f'<input type="hidden" name="key" value="{uuid4()}">'
            f'<input type="hidden" name="back" value="{escape(self.back)}">'
        )


def call_row(each: Call, sent: Sent) -> str:
    """Where others have the name, the birth date stands out, and is confirmed before anything is recorded."""
    patient = each.notice.patient
    birth = f"<b>{born(patient.born_on)}</b>" if each.same_name else born(patient.born_on)
    return (
        f'<tr><th scope="row"><a class="who-is" href="{patient_href(patient.code)}">{escape(str(patient))}</a>'
        f"<small>{birth}</small><div>{escape(patient.phone) or 'no telephone number'}</div>{_tags(each, patient)}</th>"
        f'<td>{_of(each.notice)}</td><td>{_tries(each)}</td><td class="span no-print">{_record(each, sent)}</td></tr>'
    )


def born(on: date | None) -> str:
    return f"born {marks.whole(say_date(on))}" if on else "born not known"


def _tags(each: Call, patient: Patient) -> str:
    tags = (SAME_NAME if each.same_name else "") + (CHILD if each.child else "")
    if patient.interpreter:
        tags += f'<span class="tag">interpreter: {escape(patient.language) or "language not known"}</span>'
    return f'<div class="tags">{tags}</div>' if tags else ""


def _of(notice: Notice) -> str:
    """The appointment, and why it is not an e-mail."""
    appointment = notice.appointment
    assert appointment, "a reminder is of an appointment"
    way = "" if appointment.way == Way.IN_PERSON else f", {escape(label(Way(appointment.way)))}"
    why = f"<small>by e-mail: {escape(say_error(notice.error))}</small>" if notice.error else ""
    return f"{marks.whole(say_time(appointment))}<small>{escape(str(appointment.site))}{way}</small>{why}"


def _tries(each: Call) -> str:
    if not each.tries:
        return '<span class="soft">not tried yet</span>'
    last, times = each.tries[0], "once" if len(each.tries) == 1 else f"{len(each.tries)} times"
    when = marks.whole(say_instant(last.at))
    return f"tried {times} <small>{escape(str(Reached(last.reached).label))}, {when}</small>"


def _record(each: Call, sent: Sent) -> str:
    notice = each.notice
    name = escape(str(notice.patient))
    unseen, form = f'<span class="unseen">: {name}</span>', href("notice-call", notice.code)
    if each.same_name:
        return f'<a href="{form}">Record the call{unseen}</a>'
    buttons = " ".join(
        f'<button type="submit" class="link" name="reached" value="{value}">{said}{unseen}</button>'
        for value, said in SAID.items()
    )
    time = escape(say_time(notice.appointment)) if notice.appointment else ""
    return (
        f'<form method="post" action="{href("notice-rung", notice.code)}" class="row" aria-label="{name}, {time}">'
        f'{sent.fields()}{buttons} <a href="{form}">With a note{unseen}</a></form>'
    )


def proposal_row(row: Standing) -> str:
    """An episode whose referrer may be written to."""
    episode = row.episode
    name, hand = escape(str(episode.patient)), escape(say_hand(episode))
    referrer = escape(episode.referral.source if episode.referral else episode.surgeon or "not known")
    unseen = f'<span class="unseen">: {name}, {hand}</span>'
    return (
        f'<tr><th scope="row"><a class="who-is" href="{episode_href(episode.code)}">{name}</a>'
        f"<small>{born(episode.patient.born_on)}</small></th>"
        f"<td>{hand}</td><td>{counted(row.from_on, episode.surgery_on)}</td><td>{referrer}</td>"
        f'<td class="no-print"><a href="{href("referrer-letter", episode.code)}">Read the letter{unseen}</a></td></tr>'
    )
