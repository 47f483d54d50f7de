"""A plan as people read it: each place with its cost and reasons; who has none, why, and what would give them one."""

from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from datetime import date

from caseload.booking.cost import SECOND_VISIT, cost_of_day
from caseload.booking.filling.layout import Seated
from caseload.booking.filling.model import Model
from caseload.booking.filling.pools import days_of, pools_of
from caseload.booking.filling.stages import Best
from caseload.booking.filling.terms import Horizon, Placed, Plan, Unplaced, Wish
from caseload.booking.needs import URGENT
from caseload.booking.offers import Now, Offer, offer_of, starts_after
from caseload.booking.openings import Opening, takes_all, without
from caseload.booking.slots import slots_for
from caseload.timetable.plan import Reason

Sessions = Mapping[int, Opening]
"""Openings by the key of their session, with what is still free."""


def canonical(wish: Wish) -> tuple[object, ...]:
    """An order that depends on nothing but the wishes."""
    return wish.patient, wish.need.names


def by_time(each: Placed) -> tuple[object, ...]:
    return each.offer.on, each.offer.start, each.offer.session


def by_urgency(each: Unplaced) -> tuple[object, ...]:
    return _urgency(each.wish)


def _urgency(wish: Wish) -> tuple[object, ...]:
    return not wish.need.kinds & URGENT, wish.need.latest, *canonical(wish)


def what_is_left(seated: Iterable[Seated], wishes: Sequence[Wish], left: Sessions) -> dict[int, Opening]:
    """The sessions that were planned into, with what stays free of them."""
    now = dict[int, Opening]()
    for each in seated:
        session = each.stretch.opening.session
        now[session] = without(now.get(session, left[session]), each.start, wishes[each.wish].need.minutes)
    return now


def placed_of(wishes: Sequence[Wish], best: Best, left: Sessions, now: Now) -> Plan:
    """What is placed of a part; `left` is what stays free once all of it is."""
    model = Model(wishes, pools_of(left.values(), now), now.today)
    cheapest: dict[int, int] = {}
    for column in model.columns:
        cheapest[column.wish] = min(column.cost, cheapest.get(column.wish, column.cost))
    placed: list[Placed] = []
    cost = 0
    for each in best.seated:
        offer = _offer(wishes[each.wish], each, left)
        own = offer.cost.total - offer.cost.gaps + (SECOND_VISIT if each.wish in model.parts else 0)
        other = cheapest.get(each.wish)
        placed.append(Placed(wishes[each.wish], offer, None if other is None else max(0, other - own)))
        cost += own
    follow_ups = sum(len(each.wish.need.names) for each in placed)
    could = follow_ups if best.most else len({name for wish in wishes for name in wish.need.names})
    return Plan(tuple(placed), (), cost, best.bound, could)


def _offer(wish: Wish, each: Seated, left: Sessions) -> Offer:
    """Beside it stays free what is left once everybody else is placed."""
    opening = left[each.stretch.opening.session]
    free = tuple(sorted({*opening.free, *slots_for(each.start, wish.need.minutes)}))
    return offer_of(wish.need, opening._replace(free=free), each.start)


def unplaced_of(
    wishes: Sequence[Wish],
    placed: Collection[str],
    sessions: Sequence[Opening],
    left: Sessions,
    asked: Horizon,
) -> Plan:
    """Whoever has no place, most urgent first; no two of them are shown the same place after their window."""
    missing = {name for wish in wishes for name in wish.need.names} - set(placed)
    held, after = _by_site(sessions), _by_site(left.values())
    found = sorted(_largest_first(wishes, missing), key=_urgency)
    return Plan((), tuple(_explained(wish, held, after, asked) for wish in found), 0, 0, 0)


def _largest_first(wishes: Sequence[Wish], missing: set[str]) -> Iterator[Wish]:
    """One visit for several follow-ups rather than several visits."""
    for wish in sorted(wishes, key=lambda each: -len(each.need.names)):
        if missing.issuperset(wish.need.names):
            missing.difference_update(wish.need.names)
            yield wish


def _by_site(sessions: Iterable[Opening]) -> dict[int, list[Opening]]:
    found: dict[int, list[Opening]] = defaultdict(list)
    for each in sorted(sessions, key=lambda each: (each.on, each.start, each.session)):
        found[each.site].append(each)
    return found


def _explained(
    wish: Wish, held: Mapping[int, Sequence[Opening]], left: dict[int, list[Opening]], asked: Horizon
) -> Unplaced:
    need = wish.need
    first, last = days_of(need, asked.now.today)
    last = min(last, asked.until)
    days = [on for on in asked.open_days.get(need.site, ()) if first <= on <= last and on not in wish.not_on]
    suits = any(first <= each.on <= last and takes_all(each, need, wish.way) for each in held.get(need.site, ()))
    why = Reason("no-open-day" if not days else "all-full" if suits else "no-session")
    session_on = min(days, key=lambda on: cost_of_day(need, on, True).total, default=None)
    return Unplaced(wish, why, _after(wish, last, left.get(need.site, []), asked.now), session_on)


def _after(wish: Wish, last: date, left: list[Opening], now: Now) -> Offer | None:
    """The first place after the window, which is then gone for the next."""
    for at, opening in enumerate(left):
        if opening.on > last and opening.on not in wish.not_on and takes_all(opening, wish.need, wish.way):
            for start in starts_after(opening, wish.need.minutes, now):
                left[at] = without(opening, start, wish.need.minutes)
                return offer_of(wish.need, opening, start)
    return None
