"""The patients behind a figure of the waits as a table: its columns, its rows as joined strings, its file."""

from datetime import date
from html import escape

from caseload.parsing import Priority
from caseload.reads.wait_patients import Row
from caseload.timetable.terms import Suture
from caseload.waits.terms import Clock, End
from caseload.web import marks
from caseload.web.links import episode_href, patient_href
from caseload.web.rows import Teller, full_name
from caseload.web.tables import ListTable, exported, shown
from caseload.wording import label
from caseload.wording.waits import say_end

SHAPES = {End.WAITING: "ring", End.SEEN: "tick"}
ENDED = "dash"


class WaitTable(ListTable):
    name = "wait-patients"
    caption = "Waits"
    sort = "-days"

    patient = shown("Patient", "patient__search_key")
    days = shown("Days", "days", "num")
    began = shown("Began", "began")
    state = shown("How it stands", ("how", "stop"))
    due = shown("Target day", "due")
    hand = shown("Finger", ("episode__side", "episode__digit"))
    people = shown("Therapist and site", ("therapist__name", "site__name"))
    surgeon = shown("Surgeon", "surgeon")


class WaitExport(WaitTable):
    clock = Clock.FIRST_VISIT

    family = exported("Family name")
    given = exported("Given name")
    born_on = exported("Born")
    wait = exported("Wait", "id")
    began_on = exported("Began", "began")
    entered_on = exported("Came to us on")
    due_on = exported("Target day", "due")
    stopped_on = exported("Stopped", "stop")
    ended = exported("How it stands", "how")
    lasted = exported("Days", "days")
    side = exported("Hand")
    digit = exported("Finger")
    suture = exported("Stitches")
    priority = exported("Priority")
    site = exported("Site", "site_id")
    therapist_name = exported("Therapist", "therapist_id")
    of_surgeon = exported("Surgeon", "surgeon")

    def value_wait(self, record: Row) -> str:
        return label(self.clock)

    def value_ended(self, record: Row) -> str:
        return say_end(record.how, self.clock)

    def value_priority(self, record: Row) -> str:
        return label(Priority(record.priority)) if record.priority else ""


def wait_row(row: Row, clock: Clock, last: date, tell: Teller) -> str:
    """A wait as it stood on the last day of the period, and what came of it since."""
    href = episode_href(row.episode) if row.episode else patient_href(row.patient)
    who = (
        f'<a class="who-is" href="{href}">{full_name(row.family, row.given)}</a><small>{tell.born(row.born_on)}</small>'
    )
    came = f"<small>with us since {tell.whole_date(row.entered_on)}</small>" if row.entered_on else ""
    therapist = tell.therapists.get(row.therapist_id or 0, "no therapist")
    return (
        f'<tr><th scope="row">{who}</th>'
        f'<td class="num">{row.days}{_narrow(" days")}</td>'
        f"<td>{_narrow('from ')}{tell.whole_date(row.began)}{came}</td>"
        f"<td>{_state(row, clock, last, tell)}</td>"
        f"<td>{_narrow('target ')}{tell.whole_date(row.due) if row.due else 'none'}</td>"
        f"<td>{tell.hand(row.side, row.digit) if row.episode else ''}<small>{_of(row, tell)}</small></td>"
        f"<td>{therapist}<small>{tell.sites.get(row.site_id or 0, '')}</small></td>"
        f"<td>{_narrow('surgeon ')}{escape(row.surgeon) or 'not known'}</td></tr>"
    )


def _narrow(words: str) -> str:
    """What the head of the column says, where there is no room for heads."""
    return f'<span class="narrow-only">{words}</span>'


def _state(row: Row, clock: Clock, last: date, tell: Teller) -> str:
    """How it ended by the last day; one that ended later was still waiting, and says what came then."""
    if row.stop is None:
        return _marked(End.WAITING, clock)
    on = tell.whole_date(row.stop)
    if row.stop > last:
        return f"{_marked(End.WAITING, clock)}<small>later: {escape(say_end(row.how, clock))} {on}</small>"
    return f"{_marked(End(row.how), clock)}<small>{on}</small>"


def _marked(end: End, clock: Clock) -> str:
    return f"{marks.shape(SHAPES.get(end, ENDED))}{escape(say_end(end, clock))}"


def _of(row: Row, tell: Teller) -> str:
    words = [tell.say.label(Suture(row.suture))] if row.suture else []
    return ", ".join([*words, *([tell.say.label(Priority(row.priority))] if row.priority else [])])
