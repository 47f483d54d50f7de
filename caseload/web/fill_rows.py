"""The rows of a plan that fills the diary: who, what for, when it should be, what is so now, what is proposed, at what
cost; and those who have no place, with what would place them."""

from collections.abc import Iterable, Mapping
from html import escape
from typing import NamedTuple
from urllib.parse import urlencode

from django.utils.safestring import SafeString, mark_safe

from caseload.booking.offers import Offer
from caseload.booking.slots import clock
from caseload.models import Told
from caseload.reads.fill_plans import Fate, Line, reasons_of
from caseload.timetable.terms import FollowUpKind
from caseload.web import marks
from caseload.web.links import address, href
from caseload.web.paging import Paging, read_paging, with_changes
from caseload.web.rows import Teller, full_name
from caseload.wording import filling
from caseload.wording.booking import say_fault, say_reasons

SHAPES = {Fate.ACCEPTED: "tick", Fate.DECLINED: "dash", Fate.OVERTAKEN: "tri"}
TOLD = {Told.UNTOLD: "to be told", Told.MESSAGE: "message left", Told.TOLD: "told"}
PER_PAGE = 100


class Pages(NamedTuple):
    """Which lines of a plan are shown, and the addresses of the others."""

    paging: Paging
    asked: Mapping[str, str]

    @property
    def steps(self) -> list[tuple[int | None, str]]:
        return [(page, with_changes(self.asked, page=page)) for page in self.paging.named]


def pages_of(asked: Mapping[str, str], total: int) -> Pages:
    return Pages(read_paging({"per": str(PER_PAGE), "page": asked.get("page", "")}, total), asked)


def placed_rows(lines: Iterable[Line], tell: Teller, may: bool) -> SafeString:
    """`may` is whether the reader may accept: then each line that can be taken has a box."""
    return mark_safe("".join(_placed(line, tell, may) for line in lines))


def unplaced_rows(lines: Iterable[Line], tell: Teller, may: bool) -> SafeString:
    return mark_safe("".join(_unplaced(line, tell, may) for line in lines))


def _placed(line: Line, tell: Teller, may: bool) -> str:
    return (
        f'<tr><td class="span">{_state(line, tell, may)}</td>{_who(line, tell)}'
        f'<td class="nowrap">{_what(line, tell)}</td><td>{_window(line, tell)}</td>'
        f'<td class="span">{_now(line, tell)}</td><td class="span">{_proposed(line, tell)}</td>'
        f'<td class="span">{_cost(line, tell)}</td></tr>'
    )


def _unplaced(line: Line, tell: Teller, may: bool) -> str:
    why = filling.say_why(reasons_of(line.row.why)[0], tell.say)
    return (
        f'<tr><td class="span">{_state(line, tell, may)}</td>{_who(line, tell)}'
        f'<td class="nowrap">{_what(line, tell)}</td><td>{_window(line, tell)}</td>'
        f'<td class="span">{_now(line, tell)}</td><td class="span">{marks.shape("hole")}{escape(why)}</td>'
        f'<td class="span">{_remedy(line, tell)}</td></tr>'
    )


def is_ticked_first(line: Line) -> bool:
    """Ticked are places on their days of what still stands as it was planned; all else is for somebody to decide."""
    return line.stands and not (line.late or line.row.why or line.same_name)


def _state(line: Line, tell: Teller, may: bool) -> str:
    """The box, or what became of the line."""
    row, fate = line.row, line.fate
    if fate in SHAPES:
        words = f"{marks.shape(SHAPES[fate])}{escape(str(filling.FATES[fate]))}"
        return f"{words}<small>{escape(row.decided_by.name)}</small>" if row.decided_by else words
    if not (may and line.can_be_taken):
        return ""
    ticked = " checked" if is_ticked_first(line) else ""
    said = f"accept for {full_name(row.patient.family, row.patient.given)}"
    return (
        f'<input type="hidden" name="line" value="{row.number}">'
        f'<label><input type="checkbox" name="chosen" value="{row.number}"{ticked}>'
        f'<span class="unseen">{said}</span></label>'
    )


def _who(line: Line, tell: Teller) -> str:
    patient, code = line.row.patient, line.row.names[0].split("/")[0]
    same = '<span class="tag alarm">same name: check the birth date</span>' if line.same_name else ""
    who = tell.who(code, patient.family, patient.given, patient.born_on)
    return f'<th scope="row">{who}<small>{escape(patient.phone)}</small>{same}</th>'


def _what(line: Line, tell: Teller) -> str:
    if not line.follow_ups:
        return "not to be found any more"
    return "".join(
        f"<div>{tell.say.label(FollowUpKind(each.kind))}"
        f"<small>{tell.hand(each.episode.side, each.episode.digit)}</small></div>"
        for each in line.follow_ups
    )


def _window(line: Line, tell: Teller) -> str:
    if not line.follow_ups:
        return "–"
    until = "provisional" if line.provisional else f"to {tell.say.date(line.latest)}"
    return f'<span class="nowrap">{tell.say.date(line.earliest)}</span><small class="nowrap">{until}</small>'


def _now(line: Line, tell: Teller) -> str:
    """What is so now, whatever the plan says."""
    booked, label = line.booked, '<span class="narrow-only">now </span>'
    if booked is None:
        gone = "" if line.stands or line.fate is Fate.ACCEPTED else "<small>not due any more</small>"
        return f"{label}nothing booked{gone}"
    amiss = " ".join(escape(say_fault(fault, tell.say)) for fault in line.faults())
    return f"{label}{tell.whole_date(booked.on, booked.start_minute)}<small>{amiss or TOLD[Told(booked.told)]}</small>"


def _place(line: Line, tell: Teller) -> str:
    """Day and time, and with whom; struck out where nothing comes of it."""
    row = line.row
    assert row.session and row.on and row.start_minute is not None
    people = tell.therapists.get(row.session.therapist_id, "")
    site = f", {tell.sites.get(row.session.site_id, '')}" if len(tell.sites) > 1 else ""
    when = f"{tell.say.date(row.on)}, {clock(row.start_minute)}"
    if line.fate in (Fate.DECLINED, Fate.OVERTAKEN):
        when = f"<s>{when}</s>"
    return f'<span class="nowrap">{when}</span><small>{people}{site}</small>'


def _proposed(line: Line, tell: Teller) -> str:
    late = ""
    if line.late:
        late = f'<small><b class="alarm">{tell.say.days(line.row.days_late)} after its last day</b></small>'
    shape = marks.shape("aside" if line.late else "ring")
    return f"{shape}{_place(line, tell)}{late}{_overtaken(line, tell)}"


def _cost(line: Line, tell: Teller) -> str:
    row, say = line.row, tell.say
    why = escape(say_reasons(reasons_of(row.reasons), say))
    parts = escape(filling.say_cost(row.parts, say))
    points = filling.say_points(sum(row.parts.values()), say)
    dearer = escape(filling.say_next(row.next_best, say))
    return f"{why}<small>{points}{f': {parts}' if parts else ''}; {dearer}</small>"


def overtaken_items(lines: Iterable[Line], why: Mapping[int, str], tell: Teller) -> SafeString:
    """Those who were refused just now, each with why and with new places; `why` is by line."""
    items = (
        f"<li><b>{full_name(line.row.patient.family, line.row.patient.given)}</b>: {marks.whole(why[line.row.pk])}"
        f"{_new_places(line, tell)}</li>"
        for line in lines
    )
    return mark_safe("".join(items))


def _overtaken(line: Line, tell: Teller) -> str:
    """Why it could not be carried out, and new places."""
    if line.fate is not Fate.OVERTAKEN:
        return ""
    return f"<small>{marks.whole(line.row.overtaken)}</small>{_new_places(line, tell)}"


def _new_places(line: Line, tell: Teller) -> str:
    """The best places as the diary is now, each leading to the booking page."""
    links = " · ".join(_offer(line, offer, tell) for offer in line.offers)
    return f'<div class="no-print">New places: {links}</div>' if links else ""


def _offer(line: Line, offer: Offer, tell: Teller) -> str:
    asked = [("slot", f"{offer.code}/{offer.start}"), ("back", href("fill-plan", line.row.plan.code))]
    if line.booked:
        page = href("appointment-move", line.booked.code)
    else:
        page = href("appointment-new", line.follow_ups[0].episode.code)
        asked += [("for", f"{row.episode.code}/{row.key}") for row in line.follow_ups]
    late = f", {tell.say.days(offer.days_late)} after its last day" if offer.days_late else ""
    where = f"{page}?{urlencode(asked)}"
    return f'<a href="{escape(where)}">{tell.whole_date(offer.on, offer.start)}{late}</a>'


def _remedy(line: Line, tell: Teller) -> str:
    """The cheapest things that would place it, and where they are done."""
    row, said = line.row, []
    if row.session:
        said.append(f"<div>{_proposed(line, tell)}</div>")
    if row.session_on and line.follow_ups:
        site = line.follow_ups[0].episode.site
        asked = escape(urlencode({"on": row.session_on.isoformat(), "site": site.code}))
        words = marks.whole(filling.say_session(row.session_on, site.name))
        said.append(f'<div>{words} <a class="no-print" href="{address("diary")}?{asked}">Diary</a></div>')
    listed = escape(f"{address('to-book')}?{urlencode({'row': row.names[0]})}")
    said.append(f'<div class="no-print"><a href="{listed}">Its row under To book</a></div>')
    return "".join(said)
