"""Figures of waits in words: how long, whether it changed, whether that is chance, and what stands out."""

from collections.abc import Mapping, Sequence
from math import inf
from typing import Final

from django.utils.functional import Promise
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy as lazy
from django.utils.translation import ngettext

from caseload.waits.figures import Compared, Day, Share, Summary, Tail
from caseload.waits.rows import Period
from caseload.waits.terms import FEWEST, Clock, End
from caseload.waits.verdicts import Line, Measure, Pair
from caseload.wording.dates import say_days, say_period
from caseload.wording.labels import label

Texts = Mapping[str, str | Promise]

NOT_SAID: Final = "–"
CHANCE: Final = 0.05
"""A smaller p is said to be more than chance would explain: the usual convention."""

DONE: Final[Texts] = {
    Clock.FIRST_VISIT: lazy("were seen"),
    Clock.FIRST_VISIT_RESTARTED: lazy("were seen"),
    Clock.OFFERED: lazy("were offered an appointment"),
    Clock.STITCHES_OUT: lazy("had their stitches out"),
    Clock.SLIPPAGE: lazy("had their stitches out"),
    Clock.WOUND_CLOSED: lazy("had their wound closed"),
}
SEEN: Final[Texts] = {
    Clock.FIRST_VISIT: lazy("seen"),
    Clock.FIRST_VISIT_RESTARTED: lazy("seen"),
    Clock.OFFERED: lazy("offered"),
    Clock.STITCHES_OUT: lazy("stitches out"),
    Clock.SLIPPAGE: lazy("stitches out"),
    Clock.WOUND_CLOSED: lazy("wound closed"),
}
MEASURED: Final[Texts] = {
    Measure.MEDIAN: lazy("Half, by day"),
    Measure.CENTILE_92: lazy("92 in 100, by day"),
    Measure.WITHIN: lazy("Within target"),
}
SHARES: Final[Mapping[Measure, str | Promise]] = {Measure.MEDIAN: lazy("half"), Measure.CENTILE_92: lazy("92 in 100")}


def say_share(share: float | None) -> str:
    """`46 %`, without places, on one line."""
    return NOT_SAID if share is None else f"{100 * share:.0f}\N{NO-BREAK SPACE}%"


def say_limits(share: Share) -> str:
    """`32 % to 60 %`"""
    return say_range(share.lower, share.upper)


def say_range(lower: float | None, upper: float | None) -> str:
    if lower is None or upper is None:
        return NOT_SAID
    return _("%(lower)s to %(upper)s") % {"lower": say_share(lower), "upper": say_share(upper)}


def say_number(number: float | None) -> str:
    """`13`, `30.4`; one place where there is one."""
    return NOT_SAID if number is None else f"{round(number, 1):g}"


def say_p(p: float) -> str:
    """`p = 0.012`, `p = 0.41`, `p < 0.001`"""
    if p < 0.001:
        return "p < 0.001"
    return f"p = {p:.3f}" if p < 0.1 else f"p = {p:.2f}"


def say_centile(measure: Measure, summary: Summary, clock: Clock) -> str:
    """`Half were seen by day 22 (likely between day 17 and day 26).`"""
    day = summary.median if measure is Measure.MEDIAN else summary.centile_92
    said = {"share": SHARES[measure], "done": DONE[clock], "day": day.day, "likely": _likely(day)}
    if day.day is not None:
        words = _("%(share)s %(done)s by day %(day)d%(likely)s.") % said
        return words[0].upper() + words[1:]
    if summary.tail is None:
        return _("When %(share)s %(done)s cannot be said%(likely)s.") % said
    said["last"] = summary.tail.last_day
    return _("When %(share)s %(done)s cannot be said%(likely)s: nobody was watched beyond day %(last)d.") % said


def _likely(day: Day) -> str:
    said = {"lower": day.lower, "upper": day.upper}
    if day.lower is None:
        return ""
    if day.upper is None:
        return _(" (likely day %(lower)d or later)") % said if day.lower else _(" (how surely cannot be said)")
    if day.lower == day.upper:
        return _(" (hardly another day)")
    return _(" (likely between day %(lower)d and day %(upper)d)") % said


def say_day(day: Day) -> str:
    """The day of a table: `22`; `not reached`."""
    return _("not reached") if day.day is None else str(day.day)


def say_day_limits(day: Day) -> str:
    """`17 to 26`, `51 or later`"""
    said = {"lower": day.lower, "upper": day.upper}
    if day.lower is None:
        return NOT_SAID
    if day.lower == day.upper:
        return str(day.lower)
    return (_("%(lower)d or later") if day.upper is None else _("%(lower)d to %(upper)d")) % said


def say_mean(summary: Summary) -> str:
    """`Counted up to 55 days, a wait takes 23.6 days on average.` Empty where there is none."""
    if summary.restricted_mean is None or summary.tail is None:
        return ""
    last, mean = say_days(summary.tail.last_day), f"{summary.restricted_mean:.1f}"
    return _("Counted up to %(last)s, a wait takes %(mean)s days on average.") % {"last": last, "mean": mean}


def say_no_curve(summary: Summary) -> str:
    """Why there is no curve."""
    said = {"waits": summary.waits, "fewest": FEWEST}
    if not summary.waits:
        return _("Nobody waited in this period.")
    few = ngettext(
        "%(waits)d wait is fewer than %(fewest)d: its numbers are here, and no curve.",
        "%(waits)d waits are fewer than %(fewest)d: their numbers are here, and no curve.",
        summary.waits,
    )
    return f"{few % said} {_('A curve through so few says nothing.')}"


def say_tail(tail: Tail | None) -> list[str]:
    """How far the curve can be trusted."""
    if tail is None:
        return []
    said = []
    if tail.thin_from is not None:
        thin = _("From day %(day)d on fewer than %(few)d are watched: the end of the curve is weak.")
        said.append(thin % {"day": tail.thin_from, "few": FEWEST})
    if tail.shaky_until is not None:
        shaky = _("Up to day %(day)d somebody was seen among fewer than %(few)d: the curve is weak from there on.")
        said.append(shaky % {"day": tail.shaky_until, "few": FEWEST})
    if tail.emptied_on is not None and tail.emptied_on < tail.last_day:
        emptied = _("On day %(day)d all who were watched were seen, so the curve ends there; others wait longer.")
        said.append(emptied % {"day": tail.emptied_on})
    return said


def say_chance(change: Compared | None) -> str:
    """Whether two periods differ by more than chance."""
    if change is None:
        return _("Whether the difference is chance cannot be said: one of the periods has too few waits.")
    if change.p < CHANCE:
        return _("How long people wait differs by more than chance would explain (%(p)s).") % {"p": say_p(change.p)}
    return _("Chance alone could explain how the two periods differ (%(p)s).") % {"p": say_p(change.p)}


def say_both_ways(pairs: Sequence[Pair]) -> list[str]:
    """`Completed waits alone say better; the truth is worse (half, 92 in 100).` One sentence for each way to differ."""
    ways: dict[tuple[str, str], list[str]] = {}
    for pair in pairs:
        if pair.differs:
            way = label(pair.completed.verdict), label(pair.truth.verdict)
            ways.setdefault(way, []).append(label(pair.measure))
    if not ways:
        return [_("Both ways of counting point the same way this time.")] if _any_said(pairs) else []
    sentence = _("Completed waits alone say %(completed)s; the truth is %(truth)s")
    return [
        sentence % {"completed": completed, "truth": truth}
        + (f" ({', '.join(names)})." if len(names) < len(pairs) else ".")
        for (completed, truth), names in ways.items()
    ]


def _any_said(pairs: Sequence[Pair]) -> bool:
    return any(line.before is not None and line.now is not None for pair in pairs for line in (pair.truth,))


def say_value(measure: Measure, value: float | None) -> str:
    """`13`, `46 %`, `not reached`, and a dash for what cannot be said."""
    if value == inf:
        return _("not reached")
    return say_share(value) if measure is Measure.WITHIN else say_number(value)


def say_moved(measure: Measure, line: Line) -> str:
    """`7 days longer`, `17 points lower`; empty where nothing moved, or by how much cannot be said."""
    if line.before is None or line.now is None or inf in (line.before, line.now):
        return ""
    if measure is Measure.WITHIN:
        points = round(100 * line.now) - round(100 * line.before)
        up, down = (
            ngettext("%(by)s point higher", "%(by)s points higher", abs(points)),
            ngettext("%(by)s point lower", "%(by)s points lower", abs(points)),
        )
        return (up if points > 0 else down) % {"by": abs(points)} if points else ""
    days = round(line.now - line.before, 1)
    plural = 1 if abs(days) == 1 else 2
    longer = ngettext("%(by)s day longer", "%(by)s days longer", plural)
    shorter = ngettext("%(by)s day shorter", "%(by)s days shorter", plural)
    return (longer if days > 0 else shorter) % {"by": say_number(abs(days))} if days else ""


def say_whose_day(period: Period) -> str:
    return _("Of those whose target day fell in %(period)s") % {"period": say_period(period)}


def say_completed(period: Period, clock: Clock) -> str:
    """`Of completed waits alone: seen in March 2026`"""
    return _("Of completed waits alone: %(seen)s in %(period)s") % {"seen": SEEN[clock], "period": say_period(period)}


def say_end(word: str, clock: Clock) -> str:
    """How a wait ended, in the words of its clock."""
    return str(SEEN[clock]) if word == End.SEEN else label(End(word))
