"""The quick way to a list: each row is escaped strings joined, because bound rows and templates are what costs."""

from datetime import date

from django.utils.html import escape
from django.utils.safestring import SafeString, mark_safe

from caseload.reads import caseload, overdue, search
from caseload.reads.names import Names
from caseload.timetable.terms import Digit, FollowUpKind, Headline, Owner, Side, Suture
from caseload.web import dayline, marks
from caseload.web.links import episode_href, patient_href
from caseload.wording import label, say_date
from caseload.wording.advice import advise
from caseload.wording.dates import say_days

RINGS = frozenset(Headline) - {Headline.NO_OUTCOME, Headline.MISSING_FACT, Headline.TASK_LATE, Headline.NO_NEXT_STEP}
"""The headlines that are settled by ringing the patient: their rows show the number."""


def name(family: str, given: str) -> str:
    """A name as lists show it: FAMILY, Given."""
    return escape(f"{family.upper()}, {given}")


def born(on: date | None) -> str:
    return f"born {say_date(on)}" if on else "birth date not known"


def hand(side: str, digit: str) -> str:
    """`right ring finger`, or what is not known of it."""
    known = (label(Side(side)) if side else "hand?", label(Digit(digit)) if digit else "finger?")
    return escape(" ".join(known))


def day_number(surgery_on: date | None, today: date) -> str:
    return str((today - surgery_on).days) if surgery_on else "?"


def on_day(on: date | None, surgery_on: date | None) -> str:
    """`Thu 2 Apr 2026 · day 13`."""
    if on is None:
        return ""
    return f"{say_date(on)} · day {(on - surgery_on).days}" if surgery_on else say_date(on)


def who(code: str, family: str, given: str, born_on: date | None) -> str:
    """The head of a row: the name leads to the episode, the birth date stands under it."""
    return f'<a class="who-is" href="{episode_href(code)}">{name(family, given)}</a><small>{born(born_on)}</small>'


def caseload_row(row: caseload.Row, today: date, names: Names) -> str:
    since = day_number(row.surgery_on, today)
    suture = label(Suture(row.suture))
    return (
        f'<tr><th scope="row">{who(row.code, row.family, row.given, row.born_on)}</th>'
        f'<td>{hand(row.side, row.digit)}<span class="narrow-only"> · day {since}</span><small>{suture}</small></td>'
        f'<td class="num wide-only">{since}</td>'
        f'<td class="span">{dayline.small(row.line)}</td>'
        f"<td>{step(row)}</td>"
        f"<td>{state(row, today)}</td>"
        f'<td class="wide-only">{escape(names.therapist(row.therapist_id)) or "nobody yet"}'
        f"<small>{escape(names.site(row.site_id))}</small></td></tr>"
    )


def step(row: caseload.Row) -> str:
    if not row.next_kind:
        return "none<small>nothing is due</small>"
    if row.next_kind == Headline.MISSING_FACT:
        return f"find the missing fact<small>{escape(row.next_owner)}</small>"
    return f"{label(FollowUpKind(row.next_kind))}<small>{on_day(row.next_on, row.surgery_on)}</small>"


def state(row: caseload.Row, today: date) -> str:
    """The headline and whose it is; in hand, the next step is what somebody has."""
    if row.headline:
        since = f", {say_days((today - row.due_on).days)}" if row.due_on and row.due_on < today else ""
        return f"{marks.headline(row.headline)}<small>{label(Owner(row.owner or ''))}{since}</small>"
    with_whom = f"<small>next with {escape(row.next_owner)}</small>" if row.next_owner else ""
    return f"{marks.headline(row.headline)}{with_whom}"


def overdue_row(row: overdue.Row, today: date, names: Names) -> str:
    advice = advise(row.matter(today))
    also = f"<small>Also: {', '.join(label(Headline(other)) for other in row.others)}.</small>" if row.others else ""
    phone = f"<small>{escape(row.phone)}</small>" if row.phone and row.headline in RINGS else ""
    people = f"{escape(names.therapist(row.therapist_id)) or 'no therapist'}, {escape(names.site(row.site_id))}"
    return (
        f'<tr><td class="tight span">{marks.headline(row.headline)}<small>{since(row, today)}</small></td>'
        f'<th scope="row">{who(row.code, row.family, row.given, row.born_on)}{phone}</th>'
        f'<td class="span">{escape(advice.remedy)}<small>{escape(advice.why)}</small>{also}</td>'
        f'<td class="span">{hand(row.side, row.digit)} · day {day_number(row.surgery_on, today)}'
        f"{dayline.small(row.line)}</td>"
        f"<td>{label(Owner(row.owner))}<small>{people}</small></td></tr>"
    )


def since(row: overdue.Row, today: date) -> str:
    """How long it has been due, or how long there is still."""
    if row.due_on is None:
        return ""
    late = (today - row.due_on).days
    if late > 0:
        return f"for {say_days(late)}"
    return "today" if late == 0 else f"{say_days(-late)} left"


def match_row(match: search.Match, today: date) -> SafeString:
    """A patient who was found. Where another has the same name, the birth date stands out: it tells them apart."""
    same = '<span class="tag alarm">same name: check the birth date</span>' if match.same_name else ""
    birth = f"<b>{born(match.born_on)}</b>" if match.same_name else born(match.born_on)
    numbers = "".join(f"<div>{escape(number)}</div>" for number in match.numbers)
    episodes = "".join(f"<div>{found_hand(hand_, today)}</div>" for hand_ in match.episodes)
    return mark_safe(
        f'<tr><th scope="row"><a class="who-is" href="{patient_href(match.code)}">{name(match.family, match.given)}</a>'
        f"<small>{birth}</small>{same}</th>"
        f"<td>{numbers}</td><td>{escape(match.phone)}</td>"
        f'<td class="span">{episodes or "no episode"}</td></tr>'
    )


def found_hand(found: search.Hand, today: date) -> str:
    """An episode of a patient who was found: open with its day, planned, or closed."""
    if found.ended_on:
        standing = f"closed {say_date(found.ended_on)}"
    elif found.surgery_on and found.surgery_on > today:
        standing = f"planned for {say_date(found.surgery_on)}"
    else:
        standing = f"day {day_number(found.surgery_on, today)}"
    href = episode_href(found.code)
    return f'<a href="{href}">{hand(found.side, found.digit)}</a> <span class="soft">{standing}</span>'
