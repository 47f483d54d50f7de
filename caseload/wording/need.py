"""Need and room in words."""

from collections import Counter
from collections.abc import Sequence
from typing import Final

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from caseload.booking.outlook import Outlook, Week
from caseload.booking.room import Fit, Gain, Why
from caseload.timetable.terms import FollowUpKind
from caseload.wording.dates import say_date

WHY: Final = {
    Why.FULL: "every slot on the days left to them is taken",
    Why.NO_SESSION: "no session on the days left to them takes them",
}


def say_fit(outlook: Outlook) -> str:
    """Whether it fits, in a sentence."""
    known, middle, most = outlook.known.missing, outlook.middle.missing, outlook.most.missing
    if known:
        said = _n("%(count)d visit that is known already finds no place by its last day.",
                  "%(count)d visits that are known already find no place by their last day.", known)  # fmt: skip
        said, more = f"{said} {_say_worst(outlook.weeks)}", middle - known
        return f"{said} {_with_expected(more)}" if more > 0 else said
    if middle:
        return f"{_('All that is known finds a place.')} {_with_expected(middle)}"
    if most:
        return _n(
            "All that is known and expected finds a place. If there are as many operations as there may be, "
            "%(count)d visit does not.",
            "All that is known and expected finds a place. If there are as many operations as there may be, "
            "%(count)d visits do not.",
            most,
        )
    return _("All that is known finds a place, and all that is to be expected.")


def _say_worst(weeks: Sequence[Week]) -> str:
    """The week in which last days of known visits without a place lie; of several the one in which most do."""
    short = [week for week in weeks if week.short]
    worst = max(short, key=lambda week: week.short)
    said = {"week": say_date(worst.days[0].on), "count": worst.short}
    if len(short) > 1:
        return _("The worst week is that from %(week)s, with %(count)d.") % said
    return _("That is in the week from %(week)s.") % said


def _with_expected(more: int) -> str:
    return _n("With what is to be expected, %(count)d more does not.",
              "With what is to be expected, %(count)d more do not.", more)  # fmt: skip


def say_short(found: Fit) -> list[tuple[FollowUpKind, int, str]]:
    """What finds no place: the kind of visit, how many, and why, the most urgent kind first."""
    counted: Counter[tuple[FollowUpKind, Why]] = Counter()
    order = list(FollowUpKind)
    for each in found.short:
        counted[min(each.visit.kinds, key=order.index), each.why] += each.number
    rows = sorted(counted.items(), key=lambda row: (order.index(row[0][0]), row[0][1]))
    return [(kind, number, WHY[why]) for (kind, why), number in rows]


def say_gain(gain: Gain) -> str:
    """What one more session would do, of all that finds no place with what is expected."""
    day, before = say_date(gain.room.on), gain.more + gain.missing
    if gain.more <= 0:
        return _("A session on %(day)s would place nobody more.") % {"day": day}
    if gain.missing:
        said = _("A session on %(day)s would place %(more)d of the %(before)d visits that find no place.")
    else:
        said = _n("A session on %%(day)s would place the only visit that finds no place.",
                  "A session on %%(day)s would place all %(count)d visits that find no place.", before)  # fmt: skip
    return said % {"day": day, "more": gain.more, "before": before}


def say_eased(weeks: Sequence[Week]) -> str:
    """The weeks in which everybody would find a place then; nothing where there is none."""
    if not weeks:
        return ""
    days = ", ".join(say_date(week.days[0].on) for week in weeks)
    said = ngettext("The week from %(days)s would be short no more.",
                    "The weeks from %(days)s would be short no more.", len(weeks))  # fmt: skip
    return said % {"days": days}


def say_surgery(outlook: Outlook, weeks: int) -> str:
    """What the expectation stands on."""
    of = outlook.surgery
    return _(
        "%(behind)d operations in the last %(weeks)d whole weeks; at that rate %(mean)d until %(last)s, probably "
        "between %(lower)d and %(upper)d (80 in 100). %(planned)d of them are planned and known already."
    ) % {
        "behind": of.behind, "weeks": weeks, "mean": round(of.ahead.mean), "last": say_date(outlook.last),
        "lower": of.ahead.lower, "upper": of.ahead.upper, "planned": of.planned,
    }  # fmt: skip


def _n(one: str, many: str, count: int) -> str:
    return ngettext(one, many, count) % {"count": count}
