"""Instructions of the surgeon: what they may say, and what they say of each item.

An instruction beats the rules. It gives a follow-up a window in days from surgery, or an activity a first day or a
lock. Where several name one item, the last one given stands.
"""

from collections.abc import Iterable
from typing import Final

from caseload.errors import Refusal
from caseload.timetable.facts import Instruction
from caseload.timetable.plan import Reason
from caseload.timetable.rule import LONGEST, Days
from caseload.timetable.terms import ActivityKind, FollowUpKind

ORDERABLE: Final = frozenset(
    {
        FollowUpKind.STITCHES_OUT,
        FollowUpKind.WOUND_CHECK,
        FollowUpKind.THERAPY_REVIEW,
        FollowUpKind.OUTCOME_REVIEW,
        FollowUpKind.CLOSE,
    }
)
"""Follow-ups that count from surgery when ordered; a re-check and a set review hang on what caused them."""

Orders = dict[str, Instruction]
NO_ORDERS: Final[Orders] = {}


def read_orders(instructions: Iterable[Instruction]) -> Orders:
    """The instruction that stands for each item. Raises Refusal."""
    orders = {}
    for given in instructions:
        check_instruction(given)
        orders[given.item] = given
    return orders


def check_instruction(given: Instruction) -> None:
    """Raises Refusal `instruction-item`, `instruction-days` or `instruction-lock`."""
    if given.item in ORDERABLE:
        _check_window(given)
    elif given.item in frozenset(ActivityKind):
        _check_day(given)
    else:
        known = ", ".join(sorted([*ORDERABLE, *ActivityKind]))
        raise Refusal("instruction-item", f"“{given.item}” cannot be ordered; the items are {known}.", field="item")


def window_of(given: Instruction) -> Days:
    """The window of a checked instruction for a follow-up."""
    return Days(given.earliest or 0, given.target or 0, given.latest or 0)


def order_reasons(given: Instruction) -> tuple[Reason, ...]:
    """What was ordered, by whom and why, and that it waits to be confirmed where the surgery date was corrected."""
    if given.locked:
        said = Reason("ordered-lock", (given.by, given.why))
    elif given.from_day is not None:
        said = Reason("ordered-day", (given.by, given.why, given.from_day))
    else:
        said = Reason("ordered-window", (given.by, given.why, *window_of(given)))
    return (said,) if given.confirmed else (said, Reason("ordered-unconfirmed", (given.by,)))


def _check_window(given: Instruction) -> None:
    days = (given.earliest, given.target, given.latest)
    if given.locked or given.from_day is not None:
        raise Refusal(
            "instruction-lock",
            f"A follow-up ({given.item}) cannot be locked or given a first day; give earliest, target and latest.",
            field="item",
        )
    known = [day for day in days if day is not None]
    if len(known) < len(days) or known != sorted(known) or known[0] < 0 or known[-1] > LONGEST:
        raise Refusal(
            "instruction-days",
            f"For {given.item}, give earliest, target and latest as days from surgery, "
            f"in this order and from 0 to {LONGEST}.",
            field="earliest",
        )


def _check_day(given: Instruction) -> None:
    if (given.earliest, given.target, given.latest) != (None, None, None) or given.locked == (
        given.from_day is not None
    ):
        raise Refusal(
            "instruction-lock",
            f"For the activity {given.item}, give either the first day, counted from surgery, or a lock.",
            field="item",
        )
    if given.from_day is not None and not 0 <= given.from_day <= LONGEST:
        raise Refusal("instruction-days", f"For {given.item}, give a first day from 0 to {LONGEST}.", field="from")
