"""Who is to be told of an appointment, as rows of a list: fifty of them are half the page if a template draws them."""

from html import escape
from uuid import uuid4

from caseload.models import Notice
from caseload.reads.untold import Untold
from caseload.timetable.terms import Outcome
from caseload.web import marks
from caseload.web.links import href, patient_href
from caseload.wording import label, say_date
from caseload.wording.appointments import say_time
from caseload.wording.notices import say_news_sent

SAID = (("told", "Told"), ("message-left", "Message left"), ("no-answer", "No answer"))
RING = f'<small><span class="tag alarm">{marks.shape("tri")}ring today</span></small>'
BUTTONS = "".join(
    f'<button type="submit" class="link" name="said" value="{value}">{said}</button> ' for value, said in SAID
)


def untold_row(each: Untold, sent_to: str, token: str) -> str:
    """`sent_to` is the address of what is said of it, `token` that of the forms of this page."""
    appointment = each.appointment
    patient, phone = escape(str(appointment.patient)), escape(appointment.patient.phone) or "no telephone number"
    written = f"<small>{_written(each.notice)}</small>" if each.notice else ""
    since = say_date(appointment.untold_since_on) if appointment.untold_since_on else ""
    return (
        f'<tr><th scope="row"><a class="who-is" href="{patient_href(appointment.patient.code)}">{patient}</a>'
        f"<small>{phone}</small></th>"
        f"<td>{marks.whole(news(each))}</td>"
        f"<td>{marks.whole(since)}{written}{RING if each.overdue else ''}</td>"
        f'<td class="span"><form method="post" action="{escape(sent_to)}" class="row"'
        f' aria-label="{patient}, {escape(say_time(appointment))}">'
        f'<input type="hidden" name="csrfmiddlewaretoken" value="{token}">'
        f'<input type="hidden" name="key" value="{uuid4()}">'
        f'<input type="hidden" name="appointment" value="{appointment.code}">'
        f'<input type="hidden" name="version" value="{appointment.version}">'
        f"{BUTTONS}</form></td></tr>"
    )


def news(each: Untold) -> str:
    """`Moved from Thu 2 Apr 2026 to Tue 7 Apr 2026, 09:20.`"""
    appointment, time = each.appointment, say_time(each.appointment)
    if not appointment.live:
        why = f" ({appointment.ended_why})" if appointment.ended_why else ""
        return f"{label(Outcome(appointment.outcome)).capitalize()}: {time}{why}."
    return f"Moved from {say_date(each.before_on)} to {time}." if each.before_on else f"Booked for {time}."


def _written(notice: Notice) -> str:
    address = href("letter-batch", notice.batch.code) if notice.batch else href("notice", notice.code)
    return f'<a href="{address}">{marks.whole(say_news_sent(notice))}</a>'
