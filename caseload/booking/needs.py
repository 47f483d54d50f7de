"""What one visit must be: several follow-ups of a patient, brought to one window and one length."""

from collections.abc import Callable, Iterable, Iterator, Sequence
from datetime import date
from typing import Final, NamedTuple, TypeVar

from caseload.booking.slots import INTERPRETER, LONGEST, SLOT
from caseload.errors import Refusal
from caseload.parsing.day_forms import in_words
from caseload.timetable.terms import FollowUpKind

URGENT: Final = frozenset(
    {FollowUpKind.STITCHES_OUT, FollowUpKind.WOUND_CHECK, FollowUpKind.STITCHES_RECHECK, FollowUpKind.WOUND_RECHECK}
)
"""Stitches and wounds: where there is not room for all, they come before reviews."""


class Asked(NamedTuple):
    """A follow-up to be booked: the caller's name for it, its window, the minutes it needs."""

    name: str
    kind: FollowUpKind
    earliest: date
    target: date
    latest: date
    minutes: int
    in_person: bool
    provisional: bool


class Need(NamedTuple):
    """One visit for all of `names`, at a site. `therapist` is the patient's own, None where nobody is.

    A provisional need (its anchor not recorded yet) is never late: its latest does not bind.
    """

    names: tuple[str, ...]
    kinds: frozenset[FollowUpKind]
    earliest: date
    target: date
    latest: date
    minutes: int
    in_person: bool
    provisional: bool
    site: int
    therapist: int | None


def one_visit(asked: Sequence[Asked], *, site: int, therapist: int | None, interpreter: bool) -> Need:
    """The visit that serves all of `asked` (at least one), in the window they have in common.

    Its target is that of the follow-up whose last day comes first, kept inside the window; it is provisional only if
    all are. Raises Refusal `windows-apart` if there is no common day.
    """
    last_to_begin = max(asked, key=lambda each: each.earliest)
    first_to_end = min(asked, key=lambda each: (each.latest, each.target))
    earliest, latest = last_to_begin.earliest, first_to_end.latest
    if earliest > latest and len(asked) > 1:
        raise _apart(first_to_end, last_to_begin)
    return Need(
        names=tuple(each.name for each in asked),
        kinds=frozenset(each.kind for each in asked),
        earliest=earliest,
        target=max(earliest, min(first_to_end.target, latest)),
        latest=latest,
        minutes=minutes_for((each.minutes for each in asked), interpreter),
        in_person=any(each.in_person for each in asked),
        provisional=all(each.provisional for each in asked),
        site=site,
        therapist=therapist,
    )


Row = TypeVar("Row")
Window = tuple[date, date, int]
"""First day, last day and minutes of a follow-up."""


def visits_of(rows: Iterable[Row], window: Callable[[Row], Window]) -> Iterator[list[Row]]:
    """What one visit each can serve of a patient's follow-ups, given in order of their last days: what still begins in
    time goes with what ends first, as long as an hour holds it."""
    together: list[Row] = []
    for row in rows:
        if together and not _go_together([window(each) for each in (*together, row)]):
            yield together
            together = []
        together.append(row)
    if together:
        yield together


def _go_together(windows: Sequence[Window]) -> bool:
    return windows[-1][0] <= windows[0][1] and sum(minutes for _, _, minutes in windows) <= LONGEST


def minutes_for(minutes: Iterable[int], interpreter: bool) -> int:
    """How long one visit for several follow-ups is: their sum, an hour at most, and more with an interpreter."""
    return min(max(sum(minutes), SLOT), LONGEST) + (INTERPRETER if interpreter else 0)


def _apart(first: Asked, second: Asked) -> Refusal:
    said = (
        f"One visit cannot serve both: the last day for the {_words(first.kind)} is {in_words(first.latest)}, "
        f"and the first day for the {_words(second.kind)} is {in_words(second.earliest)}. Book them one by one."
    )
    return Refusal("windows-apart", said, names=(first.name, second.name))


def _words(kind: FollowUpKind) -> str:
    return kind.value.replace("-", " ")
