"""How each clock is read from the stored waits: expressions, so that figures and the people behind them agree.

The clock that restarts begins on the day when a visit was booked again after a missed one, and its target moves along;
who missed and has nothing booked ended so on the missed day. Slippage begins on the target day, or on the day when the
stitches were out, whichever is first.
"""

from collections.abc import Sequence
from datetime import date
from typing import Any, Final, NamedTuple

from django.db.models import Case, CharField, DateField, F, Func, IntegerField, Q, QuerySet, Value, When
from django.db.models.expressions import Combinable

from caseload.models import Wait
from caseload.waits.terms import READ_FROM, Clock, End


class Moved(Func):
    """A day, moved by as many days as lie from a second day to a third; None where one of them is."""

    output_field = DateField()

    def as_sqlite(self, compiler: Any, connection: Any, **context: Any) -> tuple[str, tuple[Any, ...]]:
        return self._with(compiler, "DATE(%s, (JULIANDAY(%s) - JULIANDAY(%s)) || ' days')", (0, 2, 1))

    def as_postgresql(self, compiler: Any, connection: Any, **context: Any) -> tuple[str, tuple[Any, ...]]:
        return self._with(compiler, "(%s + (%s - %s))", (0, 2, 1))

    def _with(self, compiler: Any, template: str, order: Sequence[int]) -> tuple[str, tuple[Any, ...]]:
        parts = [compiler.compile(self.source_expressions[place]) for place in order]
        return template % tuple(sql for sql, _ in parts), tuple(value for _, values in parts for value in values)


class DaysTo(Func):
    """How many days lie from a second day to the first."""

    output_field = IntegerField()
    arity = 2

    def as_sqlite(self, compiler: Any, connection: Any, **context: Any) -> Any:
        days = "CAST(JULIANDAY(%(expressions)s) AS INTEGER)"
        return super().as_sql(compiler, connection, template=days, arg_joiner=") - JULIANDAY(", **context)

    def as_postgresql(self, compiler: Any, connection: Any, **context: Any) -> Any:
        return super().as_sql(compiler, connection, template="(%(expressions)s)", arg_joiner=" - ", **context)


class Reading(NamedTuple):
    """What a clock takes for the start, the stop, the way it ended and the target; `only` has the waits it reads."""

    began: Combinable
    stopped: Combinable
    how: Combinable
    due: Combinable
    only: Q = Q()


_AS_STORED: Final = Reading(F("started_on"), F("stopped_on"), F("ended"), F("due_on"))
_SLIPPAGE: Final = _AS_STORED._replace(
    began=Case(When(stopped_on__lt=F("target_on"), then="stopped_on"), default="target_on"),
    only=Q(target_on__isnull=False),
)


def of_clock(clock: Clock, last: date) -> QuerySet[Any]:
    """Its rows of `Wait` in no order, with `began`, `came` (with us from that day on), `stop`, `how` and `due`.

    `last` is the last day that is known: who missed a visit or booked again after it had not done so yet.
    """
    reading = _reading(clock, last)
    found = Wait.objects.filter(reading.only, clock=READ_FROM.get(clock, clock)).order_by()
    came = Case(When(entered_on__gt=reading.began, then="entered_on"), default=reading.began)
    return found.annotate(began=reading.began, came=came, stop=reading.stopped, how=reading.how, due=reading.due)


def _reading(clock: Clock, last: date) -> Reading:
    if clock is Clock.FIRST_VISIT_RESTARTED:
        return _restarted(last)
    return _SLIPPAGE if clock is Clock.SLIPPAGE else _AS_STORED


def _restarted(last: date) -> Reading:
    again = Q(restarted_on__lte=last)
    missed = Q(missed_on__lte=last) & (Q(restarted_on__isnull=True) | Q(restarted_on__gt=last))
    return Reading(
        began=Case(When(again, then="restarted_on"), default="started_on"),
        stopped=Case(When(missed, then="missed_on"), default="stopped_on"),
        how=Case(When(missed, then=Value(str(End.DID_NOT_ATTEND))), default="ended", output_field=CharField()),
        due=Case(When(again, then=Moved(F("due_on"), F("started_on"), F("restarted_on"))), default="due_on"),
    )
