"""The diary as rows of values for a file: one for each visit and each stretch of slots that is held back or free."""

from datetime import date

from caseload.booking.slots import clock
from caseload.exchange.cells import Cell
from caseload.models import Told
from caseload.reads.diary import Diary, Page, Run, Sitting, Visit
from caseload.timetable.terms import Digit, FollowUpKind, Outcome, Side
from caseload.wording import label

Rows = list[list[Cell]]
DIARY = [
    "Day", "From", "Minutes", "Therapist", "Site", "State", "Why", "Family name", "Given name", "Born", "Hand",
    "Finger", "Surgery", "Day after surgery", "For", "Told",
]  # fmt: skip
NOBODY: list[Cell] = ["", "", None, "", "", None, None, "", ""]


def diary_values(diary: Diary, today: date) -> Rows:
    sites = {site.pk: site.name for site in diary.sites}
    return [row for page in diary.pages for row in _page(page, sites, today)]


def _page(page: Page, sites: dict[int, str], today: date) -> Rows:
    rows = [row for sitting in page.sittings for row in _sitting(sitting, sites[sitting.site_id], today)]
    return rows + [_visit(visit, "", "", today) for visit in page.beside]


def _sitting(sitting: Sitting, site: str, today: date) -> Rows:
    if not sitting.live:
        length = sitting.end - sitting.start
        lost: list[Cell] = [sitting.on, clock(sitting.start), length, sitting.therapist, site, "called off"]
        return [[*lost, sitting.lost_why, *NOBODY]]
    return [
        _visit(run.visit, sitting.therapist, site, today) if run.visit else _run(sitting, run, site)
        for run in sitting.runs
    ] + [_visit(visit, sitting.therapist, site, today) for visit in sitting.missed]


def _run(sitting: Sitting, run: Run, site: str) -> list[Cell]:
    state = "held back" if run.held_why else "free"
    length = run.end - run.start
    return [sitting.on, clock(run.start), length, sitting.therapist, site, state, run.held_why, *NOBODY]


def _visit(visit: Visit, therapist: str, site: str, today: date) -> list[Cell]:
    start = "" if visit.start is None else clock(visit.start)
    first = visit.served[0] if visit.served else None
    what = ", ".join(dict.fromkeys(label(FollowUpKind(each.kind)) for each in visit.served))
    hand: list[Cell] = ["", "", None, None]
    if first and not visit.taken:
        days = (visit.on - first.surgery_on).days if first.surgery_on else None
        side = label(Side(first.side)) if first.side else ""
        hand = [side, label(Digit(first.digit)) if first.digit else "", first.surgery_on, days]
    return [
        visit.on, start, visit.minutes, therapist, site, _state(visit, today), "", visit.family, visit.given,
        visit.born_on, *hand, what, "" if visit.taken else str(Told(visit.told).label),
    ]  # fmt: skip


def _state(visit: Visit, today: date) -> str:
    if visit.taken:
        return "taken"
    if visit.walk_in:
        return "walk-in, attended"
    if visit.outcome:
        return label(Outcome(visit.outcome))
    if visit.arrived_at:
        return "arrived"
    return "no outcome recorded" if visit.on < today else "booked"
