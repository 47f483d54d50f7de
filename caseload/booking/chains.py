"""Who depends on whom when others move to make room: chains of those who take a place that another gives up."""

from collections.abc import Collection, Iterable, Mapping

from caseload.booking.rehouse import Kept, Proposal
from caseload.booking.slots import slots_for


def taken_from(proposals: Iterable[Proposal], gone: Iterable[Kept]) -> dict[int, tuple[int, ...]]:
    """Each appointment that is given a place, with those of `gone` (who move away) of whose old slots it takes one.

    Appointments by key, in the order given. Of its own old slots nobody is told.
    """
    holder = {slot: each.appointment for each in gone for slot in _slots(each.session, each.start, each.need.minutes)}
    found = {}
    for each in proposals:
        if each.offer:
            slots = _slots(each.offer.session, each.offer.start, each.offer.minutes)
            held = dict.fromkeys(holder[slot] for slot in slots if slot in holder)
            found[each.appointment] = tuple(other for other in held if other != each.appointment)
    return found


def chains(taken: Mapping[int, Collection[int]]) -> list[tuple[int, ...]]:
    """Those who are joined by what one takes from another, whichever way round; who takes nothing stands alone.

    A chain begins with somebody from whom nothing is taken, if there is one, and follows what is taken.
    """
    left = _beginning_first(taken)
    found = []
    while left:
        chain = _joined(left[0], taken)
        found.append(tuple(key for key in left if key in chain))
        left = [key for key in left if key not in chain]
    return found


def _slots(session: int, start: int, minutes: int) -> list[tuple[int, int]]:
    return [(session, minute) for minute in slots_for(start, minutes)]


def _beginning_first(taken: Mapping[int, Collection[int]]) -> list[int]:
    """From nobody is anything taken of the first; then follow those from whom they take."""
    given = {other for others in taken.values() for other in others}
    order: dict[int, None] = {}
    for key in (*(key for key in taken if key not in given), *taken):
        _follow(key, taken, order)
    return list(order)


def _follow(key: int, taken: Mapping[int, Collection[int]], order: dict[int, None]) -> None:
    if key not in order:
        order[key] = None
        for other in taken.get(key, ()):
            _follow(other, taken, order)


def _joined(first: int, taken: Mapping[int, Collection[int]]) -> set[int]:
    found, ahead = {first}, [first]
    while ahead:
        key = ahead.pop()
        beside = {*taken.get(key, ()), *(other for other, theirs in taken.items() if key in theirs)} - found
        found |= beside
        ahead += beside
    return found
