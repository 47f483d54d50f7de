"""The rows of the diary: one body of the table for each session, in order of time; a state is a word and a shape."""

from collections.abc import Callable, Iterable
from datetime import date
from functools import cache
from html import escape
from typing import NamedTuple

from django.urls import reverse
from django.utils import timezone
from django.utils.safestring import SafeString, mark_safe

from caseload.booking.slots import clock
from caseload.models import Told
from caseload.reads.diary import Page, Run, Served, Sitting, Visit
from caseload.timetable.plan import Reason
from caseload.timetable.terms import FollowUpKind, Outcome, Way
from caseload.web import marks
from caseload.web.links import episode_href, patient_href
from caseload.web.rows import Teller, full_name
from caseload.wording.sessions import WEEKDAYS
from caseload.wording.speech import Speech

COLUMNS = 6
TOLD = {Told.UNTOLD: "not told yet", Told.MESSAGE: "message left"}


class Free(NamedTuple):
    """A free start as its row shows it."""

    sitting: Sitting
    minute: int


class Shown(NamedTuple):
    """How the rows of one page are drawn: `free` draws a free start; `moving` is the code of what is being moved."""

    tell: Teller
    now: dict[int, tuple[date, int]]
    """The local day and minute of each site."""
    sites: dict[int, str]
    free: Callable[[Free], str]
    moving: str = ""
    may_call_off: bool = False


def day_rows(page: Page, shown: Shown) -> SafeString:
    bodies = [_body(sitting, shown) for sitting in page.sittings]
    if page.beside:
        rows = "".join(_visit_row(visit, visit.start, shown) for visit in page.beside)
        bodies.append(_part("Without a session", f"{len(page.beside)} · walk-ins, and days noted by hand", "", rows))
    return mark_safe("".join(bodies))


def breach_words(on: date, earliest: date, latest: date, say: Speech) -> str:
    """How far a day lies outside a window; empty inside it."""
    if on > latest:
        return f"{say.days((on - latest).days)} after its last day"
    return f"{say.days((earliest - on).days)} before its first day" if on < earliest else ""


def closed_words(why: Reason) -> str:
    """Why a site is shut on a day."""
    if why.code == "holiday":
        return f"public holiday, {why.values[0]}"
    if why.code == "closure":
        return str(why.values[0] or "closed that day")
    if why.code == "weekday":
        return f"not open on {WEEKDAYS[int(str(why.values[0]))]}s"
    return "its holiday list does not reach so far"


def _body(sitting: Sitting, shown: Shown) -> str:
    hours = f"{clock(sitting.start)} to {clock(sitting.end)}"
    head = f"{hours} · {escape(sitting.therapist)}, {shown.sites[sitting.site_id]}"
    if not sitting.live:
        return _part(f"<s>{head}</s>", _lost(sitting), "", "")
    rows = "".join(_run_row(sitting, run, shown) for run in sitting.runs)
    rows += "".join(_visit_row(visit, visit.start, shown) for visit in sitting.missed)
    return _part(head, f"slots: {counts(sitting)}{_takes(sitting, shown)}", _tools(sitting, shown), rows)


def _part(head: str, says: str, tools: str, rows: str) -> str:
    title = f'<h2>{head} <span class="soft">{says}</span>{tools}</h2>'
    return (
        f'<tbody><tr class="part"><th class="span" colspan="{COLUMNS}" scope="rowgroup">{title}</th></tr>{rows}</tbody>'
    )


def counts(sitting: Sitting) -> str:
    held = f"{sitting.held} held back · " if sitting.held else ""
    return f"{len(sitting.free)} free · {held}{sitting.booked} booked"


def _takes(sitting: Sitting, shown: Shown) -> str:
    if not sitting.takes:
        return ""
    return " · only " + ", ".join(shown.tell.say.label(FollowUpKind(kind)).lower() for kind in sitting.takes)


def _lost(sitting: Sitting) -> str:
    left = f'<a href="{reverse("rehousing")}?session={sitting.code}">{sitting.to_rehouse} still to be rehoused</a>'
    return f"called off: {escape(sitting.lost_why)}" + (f" · {left}" if sitting.to_rehouse else "")


def _tools(sitting: Sitting, shown: Shown) -> str:
    today, _ = shown.now[sitting.site_id]
    if shown.moving or not shown.may_call_off or sitting.on < today:
        return ""
    return f' <span class="small no-print">{_link("session-call-off", sitting.code, "Call off")}</span>'


def _run_row(sitting: Sitting, run: Run, shown: Shown) -> str:
    if run.visit and run.visit.taken:
        return _taken_row(sitting, run.visit, run, shown)
    if run.visit:
        return _visit_row(run.visit, run.start, shown, run.end)
    until = "" if run.end - run.start <= 20 else f" to {clock(run.end)}"
    when = f'<td class="tight">{clock(run.start)}{until}</td>'
    if run.held_why:
        first = "" if shown.moving else _link("slot", f"{sitting.code}", "Release", run.start)
        said = f"{marks.shape('shut')}held back: {escape(run.held_why)}"
        return f'<tr>{when}<td colspan="4" class="span">{said}</td><td class="no-print">{first}</td></tr>'
    starts = " ".join(shown.free(Free(sitting, slot)) for slot in run.slots)
    said = f'<div class="row"><span>{marks.shape("clear")}free</span><span class="row no-print">{starts}</span></div>'
    return f'<tr>{when}<td colspan="5" class="span">{said}</td></tr>'


def _taken_row(sitting: Sitting, visit: Visit, run: Run, shown: Shown) -> str:
    """A place that somebody else's patient has: for what kind of visit and how long, but not who."""
    when = f'<td class="tight">{clock(run.start)}<small>to {clock(run.end)}</small></td>'
    what = f"{_purposes(visit, shown.tell)}, {run.end - run.start} minutes{_way(visit, shown.tell)}"
    said = f'<td colspan="4" class="span">{marks.shape("shut")}Taken: {what}</td>'
    opens = f'Open with a reason<span class="unseen">: {clock(run.start)}, {escape(sitting.therapist)}</span>'
    more = "" if shown.moving else _link("slot", sitting.code, opens, run.start)
    return f'<tr>{when}{said}<td class="no-print">{more}</td></tr>'


def _link(name: str, code: str, said: str, minute: int | None = None) -> str:
    return f'<a href="{address(name, code, minute)}">{said}</a>'


def address(name: str, code: str, minute: int | None = None) -> str:
    """The address of a page about a session or an appointment; `minute` names a slot."""
    if minute is None:
        return _pattern(name).replace("CODE", code, 1)
    return _pattern(name, 0).removesuffix("0/").replace("CODE", code, 1) + f"{minute}/"


@cache
def _pattern(name: str, *minute: int) -> str:
    """The address resolved once, not for each row."""
    return reverse(name, args=["CODE", *minute])


def _visit_row(visit: Visit, start: int | None, shown: Shown, end: int | None = None) -> str:
    tell = shown.tell
    when = "" if start is None else clock(start)
    until = f"<small>to {clock(end or (start or 0) + visit.minutes)}</small>" if start is not None else ""
    here = ' aria-current="true"' if visit.code == shown.moving else ""
    return (
        f'<tr id="v-{visit.code}"{here}><td class="tight">{when}{until}</td>'
        f'<th scope="row">{_who(visit, tell)}{_mind(visit)}</th>'
        f"<td>{''.join(_hands(visit, tell)) or '–'}</td>"
        f"<td>{_purposes(visit, tell)}{_way(visit, tell)}</td>"
        f"<td>{_state(visit, shown)}</td>"
        f'<td class="no-print span">{_acts(visit, shown)}</td></tr>'
    )


def _who(visit: Visit, tell: Teller) -> str:
    href = episode_href(visit.served[0].episode) if visit.served else patient_href(visit.patient)
    name = f'<a class="who-is" href="{href}">{full_name(visit.family, visit.given)}</a>'
    return f"{name}<small>{tell.born(visit.born_on)}</small>"


def _mind(visit: Visit) -> str:
    said = []
    if visit.same_name:
        said.append('<span class="tag alarm">same name today: check the birth date</span>')
    if visit.interpreter_told is not None:
        language = f": {escape(visit.language)}" if visit.language else ""
        said.append(f'<span class="tag">interpreter{language}</span>')
    return f'<div class="tags">{"".join(said)}</div>' if said else ""


def _hands(visit: Visit, tell: Teller) -> list[str]:
    """Each finger once, with the number of the day of the visit."""
    return list(dict.fromkeys(_hand(each, visit.on, tell) for each in visit.served))


def _hand(each: Served, on: date, tell: Teller) -> str:
    number = f"day {(on - each.surgery_on).days}" if each.surgery_on else "day ?"
    return f"{tell.hand(each.side, each.digit)}<small>{number}</small>"


def _purposes(visit: Visit, tell: Teller) -> str:
    return ", ".join(dict.fromkeys(tell.say.label(FollowUpKind(each.kind)) for each in visit.served)) or (
        "seen without an appointment" if visit.walk_in else "–"
    )


def _way(visit: Visit, tell: Teller) -> str:
    return "" if visit.way == Way.IN_PERSON else f"<small>{tell.say.label(Way(visit.way))}</small>"


def _state(visit: Visit, shown: Shown) -> str:
    said = [_outcome(visit, shown)]
    if not visit.outcome:
        outside = {each for row in visit.served if not row.provisional and (each := _outside(row, visit, shown))}
        said += [f"{marks.shape('aside')}{each}" for each in sorted(outside)]
        told = None if visit.arrived_at else TOLD.get(Told(visit.told))
        said += [f"{marks.shape('still')}{told}"] if told else []
        said += [f"{marks.shape('still')}interpreter not told yet"] if visit.interpreter_told is False else []
    return "".join(f"<div>{each}</div>" for each in said)


def _outside(row: Served, visit: Visit, shown: Shown) -> str:
    return breach_words(visit.on, row.earliest_on, row.latest_on, shown.tell.say)


def _outcome(visit: Visit, shown: Shown) -> str:
    if visit.walk_in:
        return f"{marks.shape('tick')}walk-in, attended"
    if visit.outcome == Outcome.ATTENDED:
        return f"{marks.shape('tick')}attended"
    if visit.outcome == Outcome.DID_NOT_ATTEND:
        return f"{marks.shape('dash')}did not attend"
    if visit.arrived_at:
        return f"{marks.shape('half')}arrived {timezone.localtime(visit.arrived_at).strftime('%H:%M')}"
    if visit.on < shown.tell.today:
        return f"{marks.shape('box')}no outcome recorded"
    return f"{marks.shape('disc')}booked"


def _acts(visit: Visit, shown: Shown) -> str:
    """Where a row can lead, while nothing is being moved and its outcome is not recorded.

    Of somebody who has come there is only the outcome: there is nothing left to move or to tell.
    """
    if visit.outcome or shown.moving:
        return "being moved" if visit.code == shown.moving else ""
    links = []
    if visit.session_id and visit.on >= shown.tell.today and not visit.arrived_at:
        links.append(f'<a href="?on={visit.on.isoformat()}&amp;moving={visit.code}#moving">Move</a>')
    if visit.on == shown.tell.today and not visit.arrived_at:
        links.append(_pressed("appointment-arrive", visit.code, "Arrived"))
    links.append(_link("appointment-end", visit.code, "Outcome"))
    if not visit.arrived_at:
        links.append(_link("appointment-tell", visit.code, "Told"))
    name = escape(f"{visit.family}, {visit.given}")
    return f'<span class="row small" role="group" aria-label="{name}">{"".join(links)}</span>'


def _pressed(name: str, code: str, said: str) -> str:
    """A button of the one form of the page for acts that need nothing more."""
    return f'<button class="link" form="pressed" formaction="{address(name, code)}">{said}</button>'


def in_short(sittings: Iterable[Sitting], shown: Shown) -> SafeString:
    """The sessions of a day in a week: hours, whose, counts, and the patients in short."""
    return mark_safe("".join(_short(sitting, shown) for sitting in sittings))


def _short(sitting: Sitting, shown: Shown) -> str:
    hours = f"{clock(sitting.start)} to {clock(sitting.end)}"
    whose = f"{escape(sitting.therapist)}<small>{shown.sites[sitting.site_id]}</small>"
    if not sitting.live:
        lost = f'<td colspan="2" class="span">{_lost(sitting)}</td>'
        return f'<tr><td class="tight"><s>{hours}</s></td><th scope="row"><s>{whose}</s></th>{lost}</tr>'
    seen = "; ".join(f"{clock(run.start)}\N{NO-BREAK SPACE}{_name(run.visit)}" for run in sitting.runs if run.visit)
    return (
        f'<tr><td class="tight">{hours}</td><th scope="row">{whose}</th>'
        f'<td class="tight"><span class="narrow-only">slots: </span>{counts(sitting)}</td>'
        f'<td class="span">{seen or "nobody booked"}</td></tr>'
    )


def _name(visit: Visit) -> str:
    return "taken" if visit.taken else full_name(visit.family, visit.given)
