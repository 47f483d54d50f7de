"""When each wait of a patient begins, when and how it stops, and why: a pure function of what is recorded.

Decided here (the rules of counting are common practice):
- First visit: from receipt of the referral to the first attended day from then on. Who cancels, patient or clinic, does
  not restart it. A missed day is kept with the day on which the next appointment was booked, so that the wait can be
  shown both ways; an appointment that was booked before it restarts it on the missed day.
- Appointment offered: from receipt to the first local day on which an appointment was booked, at the latest to the
  first attended day.
- A referral ends otherwise with its own end, or with the last of its episodes if all are closed; whichever comes first.
- Stitches out: from surgery to the full removal that stands, only where there are stitches to take out.
- Wound closed: from surgery to the closing that counts. A wound that opens again starts a clock of its own, and what
  was counted before stays. All follows `timetable.evidence`: stitches that are found later make the clocks run again.
- No surgery date and no operation: no clock. An operation to come has its clock from its day on, since what is stored
  does not depend on today; nobody counts it before.
- A stop that is dated before the start is taken for a stop on the day of the start, and said: one of the two is wrong.
"""

from collections.abc import Iterable, Iterator, Sequence
from datetime import date, timedelta
from typing import Final, NamedTuple

from caseload.timetable.evidence import Evidence
from caseload.timetable.facts import Finding
from caseload.timetable.plan import Reason
from caseload.timetable.terms import Ending, Outcome, WoundState
from caseload.waits.terms import Clock, End


class Targets(NamedTuple):
    """Days from the start within which a wait should stop, that day included; None where there is no target."""

    first_visit: int | None = 14
    first_visit_urgent: int | None = 7
    offered: int | None = None
    wound_closed: int | None = 21


class Held(NamedTuple):
    """An appointment: its day, the local day on which it was booked, how it ended and when that was recorded."""

    on: date
    booked_on: date
    outcome: Outcome | None = None
    ended_on: date | None = None


class Closed(NamedTuple):
    on: date
    how: str


class Request(NamedTuple):
    """A referral. `episodes` has how each of its episodes was closed, None for one that is open."""

    received_on: date
    urgent: bool = False
    arrived_on: date | None = None
    ended: Closed | None = None
    episodes: tuple[Closed | None, ...] = ()


class Window(NamedTuple):
    earliest_on: date
    target_on: date
    latest_on: date


class Operation(NamedTuple):
    """An episode with what its findings prove; `window` is that of stitches out."""

    surgery_on: date | None
    evidence: Evidence
    arrived_on: date | None = None
    window: Window | None = None
    closed: Closed | None = None


class Wait(NamedTuple):
    """One wait; `models.Wait` says what its days are. `reasons`: why it starts, why it stopped or runs, its target."""

    clock: Clock
    key: str
    started_on: date
    entered_on: date | None
    stopped_on: date | None
    ended: End
    earliest_on: date | None
    target_on: date | None
    due_on: date | None
    missed_on: date | None
    restarted_on: date | None
    reasons: tuple[Reason, ...]


class _Stop(NamedTuple):
    on: date | None
    ended: End
    why: Reason


class _Missed(NamedTuple):
    missed_on: date | None = None
    restarted_on: date | None = None
    reasons: tuple[Reason, ...] = ()


class _Due(NamedTuple):
    window: Window | None
    due_on: date | None
    why: Reason


NOT_MISSED: Final = _Missed()
CANCELLED: Final = (Outcome.CANCELLED_BY_PATIENT, Outcome.CANCELLED_BY_CLINIC)


def of_referral(
    request: Request, appointments: Sequence[Held], visited_on: Iterable[date], targets: Targets
) -> tuple[Wait, ...]:
    """The waits of a referral. `appointments` are all of the patient, `visited_on` the days of visits seen here."""
    since = request.received_on
    days = [*visited_on, *(each.on for each in appointments if each.outcome is Outcome.ATTENDED)]
    seen_on = min((day for day in days if day >= since), default=None)
    return (
        _first_visit(request, appointments, seen_on, targets),
        _offered(request, appointments, seen_on, targets),
    )


def of_operation(operation: Operation, targets: Targets) -> tuple[Wait, ...]:
    """The waits of an episode."""
    closed = operation.closed
    if operation.surgery_on is None or closed and closed.how == Ending.NOT_DONE:
        return ()
    wounds = _wounds(operation, operation.surgery_on, targets)
    if not operation.evidence.to_remove:
        return tuple(wounds)
    return (_stitches_out(operation, operation.surgery_on), *wounds)


def _first_visit(request: Request, appointments: Sequence[Held], seen_on: date | None, targets: Targets) -> Wait:
    stop = _stop(seen_on, Reason("attended", (seen_on,)), _ended(request, Reason("not-attended")))
    missed = _missed(appointments, request.received_on, stop)
    days = targets.first_visit_urgent if request.urgent else targets.first_visit
    due = _within(days, request.received_on)
    begins = Reason("received", (request.received_on,))
    said = (*missed.reasons, *_cancelled(appointments, request.received_on, stop))
    return _wait(Clock.FIRST_VISIT, begins, request.arrived_on, stop, due, missed._replace(reasons=said))


def _offered(request: Request, appointments: Sequence[Held], seen_on: date | None, targets: Targets) -> Wait:
    booked = [(each.booked_on, each.on) for each in appointments if each.booked_on >= request.received_on]
    walked_in = [(seen_on, seen_on)] if seen_on else []
    first = min(booked + walked_in, default=None)
    why = Reason("booked", first or ())
    stop = _stop(first and first[0], why, _ended(request, Reason("not-booked")))
    begins = Reason("received", (request.received_on,))
    return _wait(Clock.OFFERED, begins, request.arrived_on, stop, _within(targets.offered, request.received_on))


def _stitches_out(operation: Operation, surgery_on: date) -> Wait:
    removal, partial, window = operation.evidence.removal, operation.evidence.partial, operation.window
    if removal:
        stop = _Stop(removal.on, End.SEEN, Reason("removed", (removal.on, removal.source)))
    else:
        left = (partial.finding.on, partial.finding.left) if partial else ()
        stop = _closed(operation.closed, Reason("stitches-left" if partial else "stitches-in", left))
    due = _Due(window, window.latest_on, Reason("window", window)) if window else _Due(None, None, Reason("no-target"))
    return _wait(Clock.STITCHES_OUT, Reason("operated", (surgery_on,)), operation.arrived_on, stop, due)


def _wounds(operation: Operation, surgery_on: date, targets: Targets) -> Iterator[Wait]:
    for opened, closing in _spells(operation.evidence):
        started_on = opened.on if opened else surgery_on
        begins = Reason("opened-again" if opened else "operated", (started_on,))
        if closing:
            stop = _Stop(closing.on, End.SEEN, Reason("wound-closed", (closing.on, closing.source)))
        else:
            stop = _closed(operation.closed, _why_open(operation.evidence))
        key = f"{Clock.WOUND_CLOSED}:{opened.ref}" if opened else ""
        due = _within(targets.wound_closed, started_on)
        yield _wait(Clock.WOUND_CLOSED, begins, operation.arrived_on, stop, due, key=key)


def _spells(evidence: Evidence) -> Iterator[tuple[Finding | None, Finding | None]]:
    """Each time the wound was open: the finding that it opened again (None: from surgery), and the one that closed it.

    The last pair says the same as `evidence.closed`.
    """
    opened = closing = None
    out_on = evidence.removal.on if evidence.removal else None
    for finding in evidence.wounds:
        if finding.state is not WoundState.CLOSED:
            if closing:
                yield opened, closing
                opened, closing = finding, None
        elif not evidence.to_remove or out_on and finding.on >= out_on:
            closing = closing or finding
    yield opened, closing


def _why_open(evidence: Evidence) -> Reason:
    if evidence.held:
        return Reason("closing-held", (evidence.held.on,))
    unclosed = evidence.unclosed
    return Reason("not-closed", (unclosed.on, unclosed.state)) if unclosed else Reason("not-looked-at")


def _ended(request: Request, running: Reason) -> _Stop:
    """How a referral ended without what was waited for; the referral's own word before that of its episodes."""
    ends = []
    if request.ended:
        ends.append(_closed(request.ended, running, "referral-ended"))
    closings = [closed for closed in request.episodes if closed]
    if closings and len(closings) == len(request.episodes):
        ends.append(_closed(max(closings), running, "episodes-closed"))
    return min(ends, key=lambda stop: stop.on or date.max, default=_Stop(None, End.WAITING, running))


def _closed(closed: Closed | None, running: Reason, code: str = "episode-closed") -> _Stop:
    if closed is None:
        return _Stop(None, End.WAITING, running)
    return _Stop(closed.on, End(closed.how), Reason(code, closed))


def _stop(happened_on: date | None, why: Reason, otherwise: _Stop) -> _Stop:
    """What was waited for, unless the wait had ended otherwise before that day."""
    if happened_on is None or otherwise.on and otherwise.on < happened_on:
        return otherwise
    return _Stop(happened_on, End.SEEN, why)


def _missed(appointments: Iterable[Held], since: date, stop: _Stop) -> _Missed:
    """The last missed day of the wait, and the day on which the next appointment was booked or the patient came."""
    until = stop.on or date.max
    missed = [each for each in appointments if each.outcome is Outcome.DID_NOT_ATTEND and since <= each.on < until]
    if not missed:
        return NOT_MISSED
    last = max(each.on for each in missed)
    again = [max(each.booked_on, last) for each in appointments if each not in missed and _stood_after(each, last)]
    if stop.ended is End.SEEN:
        again.append(until)
    restarted = min((day for day in again if day <= until), default=None)
    why = Reason("restarted", (restarted,)) if restarted else Reason("not-rebooked")
    return _Missed(last, restarted, (Reason("missed", (last,)), why))


def _stood_after(held: Held, missed_on: date) -> bool:
    """Whether it was to come on the missed day or after it, and had not been cancelled by then."""
    gone = held.outcome in CANCELLED and held.ended_on is not None and held.ended_on <= missed_on
    return held.on >= missed_on and not gone


def _cancelled(appointments: Iterable[Held], since: date, stop: _Stop) -> tuple[Reason, ...]:
    until = stop.on or date.max
    days = sorted(each.on for each in appointments if each.outcome in CANCELLED and since <= each.on <= until)
    return (Reason("cancelled", tuple(days)),) if days else ()


def _within(days: int | None, started_on: date) -> _Due:
    if days is None:
        return _Due(None, None, Reason("no-target"))
    due_on = started_on + timedelta(days=days)
    return _Due(None, due_on, Reason("target", (days, due_on)))


def _wait(
    clock: Clock,
    begins: Reason,
    arrived_on: date | None,
    stop: _Stop,
    due: _Due,
    missed: _Missed = NOT_MISSED,
    key: str = "",
) -> Wait:
    """`begins` has the day of the start as its value."""
    (started_on,) = begins.values
    assert isinstance(started_on, date)
    entered_on = arrived_on if arrived_on and arrived_on > started_on else None
    early = stop.on is not None and stop.on < started_on
    stopped_on = started_on if early else stop.on
    unseen = bool(entered_on and stopped_on and stopped_on < entered_on)
    window = due.window
    return Wait(
        clock, key or str(clock), started_on, entered_on, stopped_on, stop.ended,
        window and window.earliest_on, window and window.target_on, due.due_on, missed.missed_on, missed.restarted_on,
        (
            begins,
            *((Reason("arrived", (entered_on,)),) if entered_on else ()),
            *missed.reasons,
            stop.why,
            *((Reason("stopped-early"),) if early else ()),
            *((Reason("over-before-arrival"),) if unseen else ()),
            due.why,
        ),
    )  # fmt: skip
