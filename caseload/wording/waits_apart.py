"""What stands out among waits, in words: in a trend, between groups, in a funnel."""

from collections.abc import Iterable, Mapping
from math import ceil, floor
from typing import Final

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy as lazy

from caseload.parsing import Priority
from caseload.timetable.terms import Suture
from caseload.waits.figures import Compared, Flow, Funnel, Trend
from caseload.waits.rows import Period
from caseload.waits.terms import FEWEST, Clock, Side, Signal
from caseload.wording.dates import say_date, say_days, say_period
from caseload.wording.labels import label
from caseload.wording.waits import CHANCE, SEEN, Texts, say_number, say_p, say_share

SPREAD: Final = 2.0
"""A funnel whose groups spread so many times as much as chance alone would is said to be overdispersed."""

GROUPS: Final[Texts] = {
    "site": lazy("sites"),
    "surgeon": lazy("surgeons"),
    "suture": lazy("kinds of stitches"),
    "priority": lazy("priorities"),
    "therapist": lazy("therapists"),
}
HEADS: Final[Texts] = {
    "site": lazy("Site"),
    "surgeon": lazy("Surgeon"),
    "suture": lazy("Stitches"),
    "priority": lazy("Priority"),
    "therapist": lazy("Therapist"),
}
SLIPPED: Final[Texts] = {
    "early": lazy("out before the window"),
    "inside": lazy("out inside the window"),
    "late": lazy("out after the window"),
    "overdue": lazy("still in after the window"),
    "ahead": lazy("still in, the window not over"),
    "ended_otherwise": lazy("ended otherwise"),
}
SIDES: Final[Texts] = {Side.ABOVE: lazy("above"), Side.BELOW: lazy("below")}


def say_stretch(period: Period) -> str:
    """One point of a trend: `March 2026`, `week from Mon 16 Mar 2026`."""
    return say_period(period) if period.whole_months else _("week from %(day)s") % {"day": say_date(period.first)}


def say_signal(signal: str, value: float | None, mean: float | None) -> str:
    """`below the limits`, `eighth or later in a row above the mean`; empty for none."""
    if not signal or value is None or mean is None:
        return ""
    side = {"side": SIDES[Side.BELOW if value < mean else Side.ABOVE]}
    if signal == Signal.BEYOND:
        return _("%(side)s the limits") % side
    return _("eighth or later in a row %(side)s the mean") % side


def say_trend(trend: Trend) -> list[str]:
    """The share of all, and what stands out."""
    if trend.mean is None:
        return [_("No target day fell in these stretches.")]
    whole = _("Over all of it %(share)s were within target.") % {"share": say_share(trend.mean)}
    odd = ((p.period, say_share(p.share), say_signal(p.signal, p.share, trend.mean)) for p in trend.points)
    return [whole, _stand_out(odd)]


def say_flow(flow: Flow, clock: Clock) -> list[str]:
    """How many are seen on average, within which limits, and what stands out.

    The limits are rounded inward, so that no number beyond them looks as if it lay on them.
    """
    if flow.mean is None:
        return []
    each = _("a month") if flow.points and flow.points[0].period.whole_months else _("a week")
    said = {"mean": say_number(flow.mean), "seen": SEEN[clock], "each": each}
    whole = _("%(mean)s %(each)s on average: %(seen)s.") % said
    if flow.lower is not None and flow.upper is not None:
        said |= {"lower": say_number(ceil(flow.lower * 10) / 10), "upper": say_number(floor(flow.upper * 10) / 10)}
        whole = _("%(mean)s %(each)s on average; chance alone moves it between %(lower)s and %(upper)s.") % said
    odd = ((p.period, str(p.seen), say_signal(p.signal, p.seen, flow.mean)) for p in flow.points)
    return [whole, _stand_out(odd)]


def say_heads_of_trend() -> list[str]:
    return [_("Within"), _("Of"), _("Share"), _("Limits")]


def say_heads_of_flow(clock: Clock) -> list[str]:
    return [_("Began"), str(SEEN[clock]).capitalize(), _("Still waiting")]


def _stand_out(points: Iterable[tuple[Period, str, str]]) -> str:
    odd = [f"{say_stretch(period)}: {value}, {why}" for period, value, why in points if why]
    if not odd:
        return _("No point stands out: the ups and downs are those of chance.")
    return _("By more than chance stand out: %(which)s.") % {"which": "; ".join(odd)}


def say_group(dimension: str, key: str, names: Mapping[str, str]) -> str:
    """The name of a group; what nobody wrote down is “not known”."""
    if not key:
        return _("not known")
    if dimension == "suture":
        return label(Suture(key))
    return label(Priority(key)) if dimension == "priority" else names.get(key, key)


def say_compared(dimension: str, compared: Compared | None) -> str:
    """Whether groups wait differently by more than chance."""
    said = {"who": GROUPS[dimension], "fewest": FEWEST}
    if compared is None:
        return _("Between %(who)s nothing can be compared: fewer than two of them have %(fewest)d waits.") % said
    said["p"] = say_p(compared.p)
    if compared.p < CHANCE:
        return _("Between %(who)s waits differ by more than chance would explain (%(p)s).") % said
    return _("Between %(who)s waits differ no more than chance could explain (%(p)s).") % said


def say_rest(dimension: str, waits: int) -> str:
    """So that the rows and what is not shown add up to all waits."""
    if waits <= 0:
        return ""
    said = {"waits": waits, "who": GROUPS[dimension]}
    return _("Not shown: %(waits)d, of %(who)s with too few waits to be shown by themselves.") % said


def say_funnel(funnel: Funnel, names: Mapping[str, str]) -> list[str]:
    """Who lies beyond the limits, who is not shown, and how widely all of them spread."""
    return [*_beyond(funnel, names), *_left_out(funnel, names), *_spread(funnel.dispersion)]


def _beyond(funnel: Funnel, names: Mapping[str, str]) -> list[str]:
    beyond = [point for point in funnel.points if point.beyond]
    if not beyond:
        return [_("Within target, none lies beyond the limits.")] if funnel.points else []
    words = _("%(name)s lies %(side)s the limits of %(width)s: %(share)s within target (%(number)d of %(of)d).")
    return [
        words
        % {
            "name": names.get(point.key, point.key),
            "side": SIDES[point.side],
            "width": f"{point.beyond}\N{NO-BREAK SPACE}%",
            "share": say_share(point.share.share),
            "number": point.share.number,
            "of": point.share.of,
        }
        for point in sorted(beyond, key=lambda point: names.get(point.key, point.key).casefold())
    ]


def _left_out(funnel: Funnel, names: Mapping[str, str]) -> list[str]:
    few = sorted((f"{names.get(key, key)} ({of})" for key, of in funnel.left_out.items() if of), key=str.casefold)
    return [_("Too few target days to be shown by themselves: %(who)s.") % {"who": ", ".join(few)}] if few else []


def _spread(dispersion: float | None) -> list[str]:
    if dispersion is None:
        return []
    times = {"times": say_number(dispersion)}
    if dispersion < 1:
        return [_("They spread no wider than chance alone would (%(times)s times as much).") % times]
    spread = _("They spread %(times)s times as much as chance alone would.") % times
    if dispersion < SPREAD:
        return [spread]
    caution = _(
        "That is more than these limits allow for, so a point beyond them says less: look first at what differs "
        "between all of them, such as whom they treat and what is written down."
    )
    return [f"{spread} {caution}"]


def say_from_target(day: int) -> str:
    """`2 days before the target day`, `on the target day`, `1 day after the target day`"""
    if not day:
        return _("on the target day")
    words = _("%(days)s before the target day") if day < 0 else _("%(days)s after the target day")
    return words % {"days": say_days(abs(day))}
