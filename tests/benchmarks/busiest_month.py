"""The demo's busiest month, kept twice: by a greedy admin, and by the fill (`greedy_admin.py` says how).

    CASELOAD_DATA_FOLDER=/a/folder/with/the/demo python -m tests.benchmarks.busiest_month [FOLDER]

Reads the demo of the database that is set, writes nothing into it, prints the table and puts the chart into FOLDER
(fixtures/pictures unless said). The month is the calendar month in which most windows open. Only what falls due in it
is to be booked, and every session of the months around it begins empty; a tight month has 10, 20 or 30 in a hundred
of its free slots taken away by chance from a fixed seed. The demo follows the day on which it is made, and so do the
figures.
"""

import os
import sys
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from datetime import date, timedelta
from pathlib import Path
from random import Random
from statistics import fmean
from typing import TYPE_CHECKING, Final, NamedTuple

from caseload.booking.needs import URGENT, Asked
from caseload.booking.openings import Opening
from caseload.booking.slots import slots_in
from caseload.timetable.terms import FollowUpKind
from tests.benchmarks.greedy_admin import AHEAD, Book, Diary, Due, one_by_one, simulate, together
from tests.benchmarks.table import whole

if TYPE_CHECKING:
    from caseload.models import FollowUp

FEWER: Final = (0, 10, 20, 30)
"""Free slots taken away, in a hundred."""
WAYS: Final[dict[str, Book]] = {"greedy admin": one_by_one, "fill": together}
SEED: Final = 7


class Result(NamedTuple):
    """What came of a month kept one way, counted in follow-ups."""

    way: str
    fewer: int
    inside: int
    late: int
    wounds_late: int
    days_late: int
    most_late: int
    unplaced: int
    away: float
    own: int


def on_record() -> list[Due]:
    """Every follow-up with a visit that was needed, with its window as it is on record."""
    from caseload.models import FollowUp, State

    rows = FollowUp.objects.exclude(state=State.DROPPED).filter(minutes__gt=0).order_by("pk")
    return [_due(row) for row in rows.select_related("episode", "patient")]


def _due(row: "FollowUp") -> Due:
    asked = Asked(
        f"{row.pk:06}", FollowUpKind(row.kind), row.earliest_on, row.target_on, row.latest_on, row.minutes,
        row.in_person, row.provisional,
    )  # fmt: skip
    episode = row.episode
    known_on = max(episode.recorded_on, row.anchor_on) if row.anchor != "surgery" else episode.recorded_on
    return Due(row.patient_id, asked, episode.site_id, episode.therapist_id, row.patient.interpreter, known_on)


def openings() -> list[Opening]:
    """Every session that was or will be held, empty."""
    from caseload.models import Session

    return [
        Opening(row.pk, "", row.on, row.site_id, row.therapist_id, row.start_minute, row.end_minute, row.kinds,
                row.by_way, slots_in(row.start_minute, row.end_minute))
        for row in Session.objects.filter(live=True).order_by("pk")
    ]  # fmt: skip


def busiest(every: Iterable[Due]) -> tuple[int, int]:
    """Year and month in which most windows open."""
    months = Counter((due.asked.earliest.year, due.asked.earliest.month) for due in every)
    return max(months, key=lambda month: (months[month], month))


def with_fewer(every: Sequence[Opening], share: int) -> list[Opening]:
    """So many in a hundred of the free slots are gone."""
    chance = Random(SEED)
    return [each._replace(free=tuple(slot for slot in each.free if chance.randrange(100) >= share)) for each in every]


def result(way: str, fewer: int, month: Sequence[Due], diary: Diary) -> Result:
    found = [(due, diary.places[due.asked.name].offer) for due in month if due.asked.name in diary.places]
    late = [offer.days_late for _, offer in found if offer.days_late]
    return Result(
        way, fewer, len(found) - len(late), len(late),
        sum(offer.days_late > 0 and due.asked.kind in URGENT for due, offer in found),
        sum(late), max(late, default=0), len(month) - len(found),
        fmean(abs((offer.on - due.asked.target).days) for due, offer in found),
        sum(due.therapist == offer.therapist for due, offer in found),
    )  # fmt: skip


def run() -> tuple[str, int, dict[str, list[Result]]]:
    """By how the list becomes known: as it comes, or, as nobody can, all of it on the open day before the month."""
    every, sessions = on_record(), openings()
    year, number = busiest(every)
    month = [due for due in every if (due.asked.earliest.year, due.asked.earliest.month) == (year, number)]
    first = date(year, number, 1) - timedelta(days=28)
    days = [first + timedelta(days=n) for n in range(70) if (first + timedelta(days=n)).weekday() < 5]
    before = max(on for on in days if on < date(year, number, 1))
    known = [due._replace(known_on=date.min) for due in month if due.asked.earliest <= before + AHEAD]
    asked = {"As it becomes known, day by day": (month, days), "All at once, with hindsight": (known, [before])}
    results = {
        title: [
            result(way, fewer, dues, simulate(dues, with_fewer(sessions, fewer), turns, book))
            for fewer in FEWER
            for way, book in WAYS.items()
        ]
        for title, (dues, turns) in asked.items()
    }
    return f"{date(year, number, 1):%B %Y}", len(month), results


def table(results: Iterable[Result]) -> str:
    heads = ("Free slots taken away", "Kept by", "Inside the window", "Late", "of these stitches and wounds",
             "Days late in all", "at most", "Without a place", "Days from the target, mean",
             "With the own therapist")  # fmt: skip
    return whole(heads, ((f"{each.fewer} %", *each[:1], *each[2:8], f"{each.away:.2f}", each.own) for each in results))


STYLE: Final = (
    "text{font:14px sans-serif;fill:#1c2530}.admin{fill:#fff;stroke:#1c2530;stroke-width:2}.fill{fill:#1f5f8b}"
    ".line{stroke:#8a94a0}.ground{fill:#fff}@media(prefers-color-scheme:dark){text{fill:#e8edf2}"
    ".admin{fill:#10161c;stroke:#e8edf2}.fill{fill:#7fb8e0}.line{stroke:#66707a}.ground{fill:#10161c}}"
)


def chart(title: str, results: Mapping[str, Sequence[Result]]) -> str:
    """Late and without a place side by side: hollow bars are the admin's, solid ones the fill's."""
    top = max(max(each.late, each.unplaced) for found in results.values() for each in found) or 1
    panels = [
        f'<g transform="translate(0 {330 * row})">{_panel(f"{name}: late", [each.late for each in found], 40, top)}'
        f"{_panel('without a place', [each.unplaced for each in found], 420, top)}</g>"
        for row, (name, found) in enumerate(results.items())
    ]
    foot = 330 * len(results)
    key = (f'<g transform="translate(0 {foot - 330})"><rect class="admin" x="40" y="318" width="14" height="14"/>'
           '<text x="62" y="330">greedy admin</text><rect class="fill" x="190" y="318" width="14" height="14"/>'
           '<text x="212" y="330">fill</text><text x="280" y="330">in follow-ups, by free slots taken away</text></g>'
           )  # fmt: skip
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 780 {foot + 15}" role="img"><title>{title}</title>'
        f'<style>{STYLE}</style><rect class="ground" width="100%" height="100%"/>'
        f"{''.join(panels)}{key}</svg>\n"
    )


def _panel(title: str, numbers: Sequence[int], left: int, top: int) -> str:
    parts = [f'<text x="{left}" y="20" font-weight="bold">{title}</text>',
             f'<line class="line" x1="{left}" x2="{left + 330}" y1="270" y2="270"/>']  # fmt: skip
    for at, number in enumerate(numbers):
        x, height = left + 10 + at // 2 * 82 + at % 2 * 32, round(220 * number / top)
        sort = ("admin", "fill")[at % 2]
        parts.append(f'<rect class="{sort}" x="{x}" y="{270 - height}" width="28" height="{height}"/>'
                     f'<text x="{x + 14}" y="{262 - height}" text-anchor="middle">{number}</text>')  # fmt: skip
    names = (f'<text x="{left + 40 + n * 82}" y="290" text-anchor="middle">{fewer} %</text>'
             for n, fewer in enumerate(FEWER))  # fmt: skip
    return "".join([*parts, *names])


def main(folder: str = "fixtures/pictures") -> None:
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "clinic.settings")
    import django

    django.setup()
    month, number, results = run()
    print(f"{month}, {number} follow-ups")
    for title, found in results.items():
        print(f"\n{title}\n\n{table(found)}")
    Path(folder, "busiest-month.svg").write_text(chart(f"{month}: greedy admin and fill", results))


if __name__ == "__main__":
    main(*sys.argv[1:])
