"""Plans that fill the diary, in words: what came of one, how good it is, what a place costs, why there is none."""

from collections.abc import Mapping
from datetime import date
from typing import Final

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy as lazy
from django.utils.translation import gettext_noop as text
from django.utils.translation import ngettext

from caseload.timetable.plan import Reason
from caseload.wording.dates import say_date
from caseload.wording.speech import Speech


def say_placed(placed: int, moved: int, without: int) -> str:
    """How many follow-ups get a place, and what that changes against the present; `moved` are those of them that have
    a place already, one that is not good."""
    of = placed + without
    if not of:
        return _("Nothing was to be placed.")
    said = [
        _n(
            "%(placed)d of %(count)d follow-up gets a place.",
            "%(placed)d of %(count)d follow-ups get a place.",
            of,
            placed,
        )
    ]
    parts = [
        _n("%(count)d that stands unbooked gets a place", "%(count)d that stand unbooked get a place", placed - moved),
        _n("%(count)d badly placed is moved", "%(count)d badly placed are moved", moved),
        _n("%(count)d stays without", "%(count)d stay without", without),
    ]
    said.append(_("Against the present: %(first)s, %(second)s, %(third)s.")
                % dict(zip(("first", "second", "third"), parts, strict=True)))  # fmt: skip
    return " ".join(said)


def say_proof(placed: int, could_place: int, cost: int, bound: int) -> str:
    """How far the plan is from the best one, at most."""
    more, dearer = could_place - placed, cost - bound
    if not more and not dearer:
        return _("No plan can place more, nor as many at less cost: proven.")
    said = [_("The time limit came before the proof.")]
    if more > 0:
        said.append(_n("At most %(count)d more follow-up could be placed by any plan.",
                       "At most %(count)d more follow-ups could be placed by any plan.", more))  # fmt: skip
    if dearer > 0:
        said.append(_n("It is within %(count)d point of the best possible that places as many.",
                       "It is within %(count)d points of the best possible that places as many.", dearer))  # fmt: skip
    return " ".join(said)


def say_booked(count: int) -> str:
    return _n("%(count)d visit has its place, and the patient is to be told.",
              "%(count)d visits have their places, and the patients are to be told.", count)  # fmt: skip


def say_declined(count: int) -> str:
    return _n("%(count)d proposal is declined: nothing is booked for it.",
              "%(count)d proposals are declined: nothing is booked for them.", count)  # fmt: skip


def say_points(points: int, say: Speech) -> str:
    return say.text("1 point") if points == 1 else say.text("%(count)d points") % {"count": points}


def say_cost(parts: Mapping[str, int], say: Speech) -> str:
    """What the points of a place are for, the dearest kind first; empty where it costs none."""
    return ", ".join(say.text(said) % {"points": parts[name]} for name, said in PARTS.items() if parts.get(name))


def say_next(dearer: int | None, say: Speech) -> str:
    """How much dearer the next best free place of a visit is, if nobody else moves."""
    if dearer is None:
        return say.text("no other place is free on its days")
    if not dearer:
        return say.text("another free place costs the same")
    return say.text("the next best free place costs %(more)d more") % {"more": dearer}


def say_why(why: Reason, say: Speech) -> str:
    """Why a visit has no place on its days. Raises KeyError for a reason that has no words."""
    return say.text(WHY[why.code])


def say_session(on: date, site: str) -> str:
    """The one more session that would place it."""
    return _("One more session on %(day)s at %(site)s would place it.") % {"day": say_date(on), "site": site}


FATES: Final = {
    "undecided": lazy("not decided yet"),
    "accepted": lazy("accepted"),
    "declined": lazy("declined"),
    "overtaken": lazy("overtaken by the diary"),
    "without": lazy("without a place"),
}
"""What became of a line, by `reads.fill_plans.Fate`."""

PARTS: Final = {
    "distance": text("%(points)d for the days from the target"),
    "tie": text("%(points)d for lying before the target"),
    "therapist": text("%(points)d for another therapist"),
    "gaps": text("%(points)d for gaps left beside it"),
}

WHY: Final = {
    "no-open-day": text("Its site is open on none of the days left to it."),
    "no-session": text("No session on the days left to it takes this visit."),
    "all-full": text("On the days left to it every session that takes it is full, with everybody placed who can be."),
}


def _n(one: str, many: str, count: int, placed: int = 0) -> str:
    return ngettext(one, many, count) % {"count": count, "placed": placed}
