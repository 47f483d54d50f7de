"""The visits of a patient as lines of a page: when, by whom, what was begun and taught, and what came next."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

from django.db.models import QuerySet
from django.utils.translation import gettext as _

from caseload.models import Episode, Examined, Patient, Visit
from caseload.reads.prepared_models import PreparedModels, by_key
from caseload.timetable.terms import ActivityKind, AfterVisit, Source
from caseload.wording import label
from caseload.wording.dates import say_days

MOST = 100
"""Visits that a page shows at most, the latest ones."""


@dataclass(frozen=True, slots=True)
class DigitLine:
    """One digit of a visit: what was begun, and what was to happen next, in words."""

    episode: Episode
    begun: str
    after: str


@dataclass(frozen=True, slots=True)
class VisitLine:
    """A visit; `digits` are those that it looked at, `others` those beside the one whose page it stands on."""

    row: Visit
    source: Source
    digits: list[DigitLine]
    others: list[Episode]


def visits_of(patient: Patient, *, episode: Episode | None = None) -> list[VisitLine]:
    """The visits of a patient, or those that looked at one of their digits, the latest first; in two queries."""
    rows = _VISITS(patient.pk, *([episode.pk] if episode else []))
    looks = by_key(_LOOKS([row.pk for row in rows]), "visit_id")
    return [_line(row, looks[row.pk], episode) for row in rows]


def _visits(patient: int, *episode: int) -> QuerySet[Visit]:
    rows = Visit.objects.filter(patient=patient).select_related("by").order_by("-on", "-id")
    return (rows.filter(examined__episode=episode[0]) if episode else rows)[:MOST]


_VISITS: Final = PreparedModels(_visits)
_LOOKS: Final = PreparedModels(
    lambda visits: Examined.objects.filter(visit__in=visits).select_related("episode", "review")
)


def _line(row: Visit, looks: Iterable[Examined], own: Episode | None) -> VisitLine:
    shown = [look for look in looks if own is None or look.episode_id == own.pk]
    others = [look.episode for look in looks if own is not None and look.episode_id != own.pk]
    return VisitLine(row, Source(row.source), [_digit(look) for look in shown], others)


def _digit(look: Examined) -> DigitLine:
    begun = ", ".join(label(ActivityKind(kind)).lower() for kind in look.started if kind in list(ActivityKind))
    return DigitLine(look.episode, begun, say_after(look))


def say_after(look: Examined) -> str:
    """What was to happen next: “review in 14 days (withdrawn)”, “referred back to Dr Wren”."""
    after = AfterVisit(look.after)
    if after is AfterVisit.REVIEW and look.review:
        said = _("review in %(days)s") % {"days": say_days(look.review.in_days)}
        return f"{said} ({_('withdrawn')})" if look.review.withdrawn_at else said
    if after is AfterVisit.REFER_BACK:
        return _("referred back to %(who)s") % {"who": look.received_by}
    return label(after)
