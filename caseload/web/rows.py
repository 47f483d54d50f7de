"""The quick way to a list: each row is escaped strings joined, because bound rows and templates are what costs."""

from datetime import date
from html import escape

from caseload.booking.slots import clock
from caseload.reads import caseload, overdue, search
from caseload.reads.away import Absent, Away
from caseload.reads.names import Names
from caseload.timetable.terms import Digit, FollowUpKind, Headline, Owner, Side, Suture
from caseload.web import dayline, marks
from caseload.web.links import episode_href, href, patient_href
from caseload.wording.advice import advise
from caseload.wording.speech import Speech, speech

RINGS = frozenset(Headline) - {Headline.NO_OUTCOME, Headline.MISSING_FACT, Headline.TASK_LATE, Headline.NO_NEXT_STEP}
"""The headlines that are settled by ringing the patient: their rows show the number."""


class Teller:
    """What the rows of one page need to speak: the words, today, and the names of sites and therapists."""

    def __init__(self, today: date, names: Names | None = None, absent: Absent | None = None) -> None:
        self.say: Speech = speech()
        self.today = today
        self._dates: dict[tuple[date, int | None], str] = {}
        self.sites = {site.id: escape(site.name) for site in names.sites} if names else {}
        self.therapists = {each.id: escape(each.name) for each in names.therapists} if names else {}
        self.away = {id: escape(say_away(away)) for id, away in absent.items()} if absent else {}

    def whole_date(self, on: date, minute: int | None = None) -> str:
        """A date, with its time where it has one, that does not break at the end of a line."""
        said = self._dates.get((on, minute))
        if said is None:
            words = self.say.date(on) if minute is None else f"{self.say.date(on)}, {clock(minute)}"
            said = self._dates[on, minute] = marks.whole(words)
        return said

    def born(self, on: date | None) -> str:
        return f"born {self.whole_date(on)}" if on else "birth date not known"

    def hand(self, side: str, digit: str) -> str:
        """`right ring finger`, or what is not known of it."""
        hand = self.say.label(Side(side)) if side else "hand?"
        return f"{hand} {self.say.label(Digit(digit)) if digit else 'finger?'}"

    def number(self, surgery_on: date | None) -> str:
        """The number of today, counted from surgery."""
        return str((self.today - surgery_on).days) if surgery_on else "?"

    def on_day(self, on: date | None, surgery_on: date | None) -> str:
        """`Thu 2 Apr 2026 · day 13`."""
        if on is None:
            return ""
        return f"{self.whole_date(on)} · day {(on - surgery_on).days}" if surgery_on else self.whole_date(on)

    def who(self, code: str, family: str, given: str, born_on: date | None) -> str:
        """The head of a row: the name leads to the episode, the birth date stands under it."""
        name = full_name(family, given)
        return f'<a class="who-is" href="{episode_href(code)}">{name}</a><small>{self.born(born_on)}</small>'


def say_away(away: Away) -> str:
    """Who is away, and who has what is theirs."""
    return f"{away.name} is away; {away.cover} covers" if away.cover_id else f"{away.name} is away; the lead has it"


def full_name(family: str, given: str) -> str:
    """A name as lists show it: FAMILY, Given."""
    return escape(f"{family.upper()}, {given}")


def caseload_row(row: caseload.Row, tell: Teller) -> str:
    since = tell.number(row.surgery_on)
    day = f'<span class="narrow-only"> · day {since}</span>'
    suture = tell.say.label(Suture(row.suture))
    therapist = tell.therapists.get(row.therapist_id or 0, "nobody yet")
    return (
        f'<tr><th scope="row">{tell.who(row.code, row.family, row.given, row.born_on)}</th>'
        f"<td>{tell.hand(row.side, row.digit)}{day}<small>{suture}</small></td>"
        f'<td class="num wide-only">{since}</td>'
        f'<td class="span">{dayline.small(row.line, tell.say)}</td>'
        f"<td>{step(row, tell)}</td>"
        f"<td>{state(row, tell)}</td>"
        f'<td class="wide-only">{therapist}<small>{tell.sites.get(row.site_id, "")}</small></td></tr>'
    )


def step(row: caseload.Row, tell: Teller) -> str:
    if not row.next_kind:
        return "none<small>nothing is due</small>"
    if row.next_kind == Headline.MISSING_FACT:
        return f"find the missing fact<small>{tell.say.label(Owner.ADMIN)}</small>"
    kind = tell.say.label(FollowUpKind(row.next_kind))
    return f"{kind}<small>{tell.on_day(row.next_on, row.surgery_on)}</small>"


def state(row: caseload.Row, tell: Teller) -> str:
    """The headline and whose it is; in hand, the next step is what somebody has."""
    if row.headline:
        late = f", {tell.say.days((tell.today - row.due_on).days)}" if row.due_on and row.due_on < tell.today else ""
        return f"{marks.headline(row.headline, tell.say)}<small>{tell.say.label(Owner(row.owner or ''))}{late}</small>"
    with_whom = f"<small>next with {tell.say.label(Owner(row.next_owner))}</small>" if row.next_owner else ""
    return f"{marks.headline(row.headline, tell.say)}{with_whom}"


def overdue_row(row: overdue.Row, tell: Teller) -> str:
    advice = advise(row.matter(tell.today), tell.say)
    also = ", ".join(tell.say.label(Headline(other)) for other in row.others)
    phone = f"<small>{escape(row.phone)}</small>" if row.phone and row.headline in RINGS else ""
    what = f"{marks.headline(row.headline, tell.say)}<small>{since(row, tell)}</small>"
    therapist = tell.away.get(row.therapist_id or 0) or tell.therapists.get(row.therapist_id or 0, "no therapist")
    people = f"{therapist}, {tell.sites.get(row.site_id, '')}"
    return (
        f'<tr><td class="tight span">{what}</td>'
        f'<th scope="row">{tell.who(row.code, row.family, row.given, row.born_on)}{phone}</th>'
        f'<td class="span">{marks.whole(advice.remedy)}<small>{marks.whole(advice.why)}</small>'
        f"{f'<small>Also: {also}.</small>' if also else ''}</td>"
        f'<td class="span">{tell.hand(row.side, row.digit)} · day {tell.number(row.surgery_on)}'
        f"{dayline.small(row.line, tell.say)}</td>"
        f"<td>{tell.say.label(Owner(row.owner))}<small>{people}</small></td></tr>"
    )


def since(row: overdue.Row, tell: Teller) -> str:
    """How long it has been due, or how long there is still."""
    if row.due_on is None:
        return ""
    late = (tell.today - row.due_on).days
    if late > 0:
        return f"for {tell.say.days(late)}"
    return "today" if late == 0 else f"{tell.say.days(-late)} left"


def match_row(match: search.Match, tell: Teller) -> str:
    """A patient who was found. Where another has the same name, the birth date stands out: it tells them apart."""
    same = '<span class="tag alarm">same name: check the birth date</span>' if match.same_name else ""
    birth = f"<b>{tell.born(match.born_on)}</b>" if match.same_name else tell.born(match.born_on)
    numbers = "".join(f"<div>{escape(number)}</div>" for number in match.numbers)
    episodes = "".join(f"<div>{found_hand(found, tell)}</div>" for found in match.episodes)
    name = full_name(match.family, match.given)
    return (
        f'<tr><th scope="row"><a class="who-is" href="{patient_href(match.code)}">{name}</a>'
        f"<small>{birth}</small>{same}</th>"
        f"<td>{numbers}</td><td>{escape(match.phone)}</td>"
        f'<td class="span">{episodes or "no episode"}</td></tr>'
    )


def other_row(other: search.Other) -> str:
    """Somebody else's patient who was named exactly: no name, and where to give a reason."""
    opens = f'<a href="{href("patient-open", other.code)}">Give a reason to open the record</a>'
    return f'<tr><th scope="row" class="span" colspan="4">A patient of a colleague. {opens}</th></tr>'


def found_hand(found: search.Hand, tell: Teller) -> str:
    """An episode of a patient who was found: open with its day, planned, or closed."""
    if found.ended_on:
        standing = f"closed {tell.whole_date(found.ended_on)}"
    elif found.surgery_on and found.surgery_on > tell.today:
        standing = f"planned for {tell.whole_date(found.surgery_on)}"
    else:
        standing = f"day {tell.number(found.surgery_on)}"
    hand = f'<a href="{episode_href(found.code)}">{tell.hand(found.side, found.digit)}</a>'
    return f'{hand} <span class="soft">{standing}</span>'
