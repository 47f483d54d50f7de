"""What was measured of a digit over time: as lines for a table, and as series for small charts of the same numbers.

A hand's swelling and grip belong to every operated digit of that hand, a person's QuickDASH to each of their episodes,
whichever of them it was recorded at. A hand that is not known is no other digit's.
"""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Final, NamedTuple

from django.db.models import Q, QuerySet

from caseload.measures import disability, grip, motion
from caseload.measures.bodies import Body, Grip, Motion, Pain, QuickDash, read
from caseload.measures.terms import OF_HAND, OF_PERSON, MeasureKind, Quantity, Whole
from caseload.models import Episode, Measurement
from caseload.reads.prepared_models import PreparedModels
from caseload.timetable.terms import Digit
from caseload.wording.measures import say_measured, say_note


@dataclass(frozen=True, slots=True)
class MeasureLine:
    """A measurement as it was recorded; `later` is what corrected or withdrew it, or None while it stands.

    `elsewhere` is the other episode at which it was recorded, or None.
    """

    row: Measurement
    kind: MeasureKind
    body: Body
    said: str
    later: Measurement | None
    elsewhere: Episode | None


class Point(NamedTuple):
    on: date
    value: float


class Series(NamedTuple):
    """The standing values of one quantity in the order of time. `whole` is what shares of motion are of."""

    quantity: Quantity
    points: tuple[Point, ...]
    whole: Whole = Whole.USUAL


class Measured(NamedTuple):
    """`notes` are what a reader should know of the numbers there are."""

    lines: list[MeasureLine]
    series: list[Series]
    notes: list[str]


def measured_of(episode: Episode) -> Measured:
    """Everything that was measured of this digit, its hand and its person, in one query."""
    lines = [_line(row, episode) for row in _in_order(_rows(episode)) if not row.withdraws]
    standing = [line for line in lines if line.later is None]
    kinds = {line.kind for line in standing}
    notes = [note for kind in MeasureKind if kind in kinds and (note := say_note(kind))]
    return Measured(lines, list(_series(standing, _digit(episode))), notes)


def _rows(episode: Episode) -> Sequence[Measurement]:
    return _MEASURED(episode.pk, episode.patient_id, episode.side)


def _measured(episode: int, patient: int, side: str) -> QuerySet[Measurement]:
    hand = Q(kind__in=OF_HAND, episode__side=side) & ~Q(episode__side="")
    wanted = Q(episode=episode) | Q(kind__in=OF_PERSON) | hand
    rows = Measurement.objects.filter(wanted, episode__patient=patient).order_by("pk")
    return rows.select_related("episode", "visit", "by", "corrected_by__by")


_MEASURED: Final = PreparedModels(_measured)


def _in_order(rows: Iterable[Measurement]) -> list[Measurement]:
    """By day and visit; what corrects another stands under it. `rows` come in the order of recording."""
    first: dict[int, int] = {}
    for row in rows:
        first[row.pk] = first.get(row.corrects_id or 0, row.pk)
    return sorted(rows, key=lambda row: (row.on, row.visit_id, first[row.pk], row.pk))


def _line(row: Measurement, episode: Episode) -> MeasureLine:
    kind = MeasureKind(row.kind)
    body = read(kind, row.body)
    elsewhere = None if row.episode_id == episode.pk else row.episode
    return MeasureLine(
        row, kind, body, say_measured(body, _digit(row.episode)), getattr(row, "corrected_by", None), elsewhere
    )


def _digit(episode: Episode) -> Digit | None:
    return Digit(episode.digit) if episode.digit else None


def _series(lines: Sequence[MeasureLine], digit: Digit | None) -> Iterable[Series]:
    for quantity, value_of in _VALUES.items():
        found = [(line, value) for line in lines if (value := value_of(line.body, digit)) is not None]
        if found:
            points = tuple(Point(line.row.on, value) for line, value in found)
            yield Series(quantity, points, _whole({_by_other(line.body, digit) for line, _ in found}))


def _pain(body: Body, _: Digit | None) -> float | None:
    return body.score if isinstance(body, Pain) else None


def _total(body: Body, digit: Digit | None) -> motion.Total | None:
    return motion.total(body, digit) if isinstance(body, Motion) and digit else None


def _motion(body: Body, digit: Digit | None) -> float | None:
    total = _total(body, digit)
    return total and total.share


def _grip(body: Body, _: Digit | None) -> float | None:
    return grip.share(body) if isinstance(body, Grip) else None


def _dash(body: Body, _: Digit | None) -> float | None:
    return disability.score(body) if isinstance(body, QuickDash) else None


def _by_other(body: Body, digit: Digit | None) -> bool:
    total = _total(body, digit)
    return total is not None and total.by_other


def _whole(by_other: set[bool]) -> Whole:
    if len(by_other) > 1:
        return Whole.MIXED
    return Whole.OTHER if True in by_other else Whole.USUAL


_VALUES: Final[dict[Quantity, Callable[[Body, Digit | None], float | None]]] = {
    Quantity.PAIN: _pain, Quantity.MOTION: _motion, Quantity.GRIP: _grip, Quantity.DISABILITY: _dash,
}  # fmt: skip
