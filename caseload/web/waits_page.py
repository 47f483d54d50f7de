"""The figures of waits as values for their page: sentences, charts, and rows of numbers that lead to their patients."""

from collections.abc import Iterable, Mapping
from typing import Any, Final, NamedTuple

from django.utils.html import format_html
from django.utils.safestring import SafeString, mark_safe

from caseload.waits.figures import Figures, Share, Summary
from caseload.waits.rows import Period
from caseload.waits.terms import Behind, Clock
from caseload.waits.terms import End as Waited
from caseload.waits.verdicts import Pair, Verdict, pairs
from caseload.web import marks, wait_charts
from caseload.web.forms.waits import OWN, WaitsForm
from caseload.wording import label
from caseload.wording import waits as say

COLUMNS: Final = 4
OTHER_WAY: Final = {
    Clock.FIRST_VISIT: Clock.FIRST_VISIT_RESTARTED,
    Clock.FIRST_VISIT_RESTARTED: Clock.FIRST_VISIT,
    Clock.STITCHES_OUT: Clock.SLIPPAGE,
    Clock.SLIPPAGE: Clock.STITCHES_OUT,
}
"""The same waits are counted in two ways, each a clock of its own."""
SHAPES: Final = {Verdict.BETTER: "tick", Verdict.WORSE: "tri", Verdict.SAME: "dash", Verdict.UNSAID: "hole"}


class Links:
    """Numbers that lead to the waits behind them: of the period that is shown, unless another is said."""

    def __init__(self, form: WaitsForm) -> None:
        self.form = form
        self.named: Mapping[str, str] = {each.code: each.name for each in (*form.names.sites, *form.names.therapists)}

    def to(self, number: int, which: Behind, *, period: Period | None = None, group: str = "") -> SafeString:
        """What it counts stands in the heads of its row and column: to say it once more in each link would double the
        page."""
        if not number:
            return mark_safe("0")
        changes: dict[str, str] = {"which": which}
        if period:
            changes |= {"period": OWN, "first": period.first.isoformat(), "last": period.last.isoformat()}
        if group:
            changes["group"] = group
        return format_html('<a href="{}">{}</a>', self.form.href("wait-patients", **changes), number)


class Plain(Links):
    """Numbers on paper, which lead nowhere; `named` are sites and therapists by their codes."""

    def __init__(self, named: Mapping[str, str]) -> None:
        self.named = named

    def to(self, number: int, which: Behind, *, period: Period | None = None, group: str = "") -> SafeString:
        return mark_safe(str(number))


class Sum(NamedTuple):
    """waits = at_start + began = seen + ended + waiting"""

    waits: SafeString
    at_start: SafeString
    began: SafeString
    seen: SafeString
    ended: SafeString
    waiting: SafeString


class Told(NamedTuple):
    """One measure before and now, with what became of it."""

    name: str
    before: str
    now: str
    verdict: SafeString
    moved: str


class End(NamedTuple):
    """One way to end, or to wait on: how many, and the share that had ended so by each day."""

    name: str
    number: SafeString
    shares: list[str]


def values(figures: Figures, links: Links) -> dict[str, Any]:
    """What the parts of the page are filled with."""
    now = figures.now
    both = pairs(now, figures.before)
    return {
        "figures": figures,
        "done": say.SEEN[figures.clock],
        "did": say.DONE[figures.clock],
        "sum": _sum(now, links),
        "how_long": [] if now.refused else [say.say_centile(measure, now, figures.clock) for measure in say.SHARES],
        "mean": say.say_mean(now),
        "no_curve": say.say_no_curve(now) if now.refused else "",
        "tail": say.say_tail(now.tail),
        "curve": None if now.refused else wait_charts.curve_chart(now, figures.before),
        "steps": _steps(now),
        "panels": {"completed": _panel(both, "completed"), "truth": _panel(both, "truth")},
        "both_say": say.say_both_ways(both),
        "opposed": any(pair.differs for pair in both),
        "chance": say.say_chance(figures.change),
        "within": list(_within(now, figures.clock, links)),
        "within_heads": ("", "Within", "Not", "Of", "Share", "Likely"),
        "ends": _ends(now, figures.clock, links),
        "end_days": _days(now),
        "ends_chart": None if now.refused else wait_charts.ends_chart(now, str(say.SEEN[figures.clock])),
    }


def other_way(form: WaitsForm) -> tuple[str, str] | None:
    """The address and the words of the other clock that counts the same waits."""
    clock = OTHER_WAY.get(form.asked().clock)
    return (form.href("waits", clock=clock.value), label(clock)) if clock else None


def _sum(now: Summary, links: Links) -> Sum:
    return Sum(
        links.to(now.waits, Behind.ALL),
        links.to(now.at_start, Behind.AT_START),
        links.to(now.began, Behind.BEGAN),
        links.to(now.seen, Behind.SEEN),
        links.to(sum(now.competing.values()), Behind.ENDED),
        links.to(now.waiting, Behind.WAITING),
    )


def _steps(now: Summary) -> list[tuple[int, int, int, str, str]]:
    return [
        (step.day, step.at_risk, step.seen, say.say_share(step.still_waiting), say.say_range(step.lower, step.upper))
        for step in now.curve
    ]


def _panel(both: Iterable[Pair], way: str) -> list[Told]:
    lines = ((pair.measure, getattr(pair, way)) for pair in both)
    return [
        Told(
            str(say.MEASURED[measure]),
            say.say_value(measure, line.before),
            say.say_value(measure, line.now),
            format_html("{}{}", mark_safe(marks.shape(SHAPES[line.verdict])), label(line.verdict)),
            say.say_moved(measure, line),
        )
        for measure, line in lines
    ]


def _within(now: Summary, clock: Clock, links: Links) -> Iterable[tuple[str, ...]]:
    """Both ways of counting; `late` are the rest of them."""
    due, seen = now.within, now.within_completed
    if due is not None:
        late = links.to(due.of - due.number, Behind.NOT_WITHIN)
        number, of = links.to(due.number, Behind.WITHIN), links.to(due.of, Behind.DUE)
        yield _share(say.say_whose_day(now.period), number, late, of, due)
    if seen is not None:
        number, of = links.to(seen.number, Behind.SEEN_WITHIN), links.to(seen.of, Behind.SEEN)
        late = links.to(seen.of - seen.number, Behind.SEEN_LATE)
        yield _share(say.say_completed(now.period, clock), number, late, of, seen)


def _share(name: str, number: SafeString, late: SafeString, of: SafeString, share: Share) -> tuple[str, ...]:
    return name, number, late, of, say.say_share(share.share), say.say_limits(share)


def _days(now: Summary) -> list[int]:
    """Days of the wait for the columns of a table, few enough for a telephone."""
    days = [day for day, _ in now.at_risk if day]
    while len(days) > COLUMNS:
        days = days[1::2]
    return days


def _ends(now: Summary, clock: Clock, links: Links) -> list[End]:
    days = _days(now)
    numbers: Mapping[str, int] = {"seen": now.seen, **now.competing}
    by_word = {word: [_reached(now, word, day) for day in days] for word in numbers}
    left = [1 - sum(of_day) for of_day in zip(*by_word.values(), strict=True)]
    rows = [
        End(
            say.say_end(word, clock),
            _ended(word, number, links),
            [say.say_share(share) for share in by_word[word]],
        )
        for word, number in numbers.items()
    ]
    waiting = links.to(now.waiting, Behind.WAITING)
    return [*rows, End(label(Waited.WAITING), waiting, [say.say_share(max(0.0, share)) for share in left])]


def _ended(word: str, number: int, links: Links) -> SafeString:
    if word == Waited.SEEN:
        return links.to(number, Behind.SEEN)
    return links.to(number, Behind.ENDED, group=f"ended:{word}")


def _reached(now: Summary, word: str, day: int) -> float:
    """The estimated share that had ended so by a day."""
    values = (step.value for step in reversed(now.incidence.get(word, ())) if step.day <= day)
    return next(values, 0.0)
