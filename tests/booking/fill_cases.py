"""Small weeks at random, and the best plan of each found by trying every one, slot by slot."""

from collections.abc import Iterator
from datetime import date, timedelta
from random import Random
from typing import NamedTuple

from caseload.booking.cost import SECOND_VISIT, cost_of_session
from caseload.booking.fill import Horizon, Plan, Wish, fill
from caseload.booking.needs import URGENT, Need
from caseload.booking.offers import Now, starts_after
from caseload.booking.openings import Opening, takes_all
from caseload.booking.slots import SLOT, slots_for
from caseload.timetable.terms import FollowUpKind as Kind
from caseload.timetable.terms import Way

MONDAY = date(2026, 3, 2)
"""With no public holiday near."""
NOW = Now(MONDAY, 9 * 60 + 10)
OPEN_DAYS = {site: tuple(MONDAY + timedelta(days=n) for n in range(5)) for site in (1, 2)}
KINDS = (Kind.STITCHES_OUT, Kind.WOUND_CHECK, Kind.THERAPY_REVIEW, Kind.OUTCOME_REVIEW)


class Case(NamedTuple):
    wishes: tuple[Wish, ...]
    openings: tuple[Opening, ...]

    def filled(self, limit: float = 60.0) -> Plan:
        return fill(self.wishes, self.openings, Horizon(NOW, OPEN_DAYS), limit)


def case(seed: int) -> Case:
    rnd = Random(seed)
    openings = tuple(_opening(rnd, number) for number in range(rnd.randint(1, 4)))
    wishes: list[Wish] = []
    for patient in range(rnd.randint(2, 4)):
        wishes += _two_fingers(rnd, patient) if rnd.random() < 0.25 else [Wish(patient, _need(rnd, f"{patient}"))]
        if rnd.random() < 0.1:
            wishes[-1] = wishes[-1]._replace(not_on=frozenset({MONDAY + timedelta(days=rnd.randint(0, 3))}))
    return Case(tuple(wishes), openings)


def _opening(rnd: Random, number: int) -> Opening:
    start = rnd.choice((9 * 60, 9 * 60 + 20))
    free = tuple(start + SLOT * n for n in range(5) if rnd.random() < 0.7)
    takes = frozenset(rnd.sample(KINDS, 2)) if rnd.random() < 0.3 else frozenset()
    ways = frozenset({Way.IN_PERSON}) if rnd.random() < 0.2 else frozenset(Way)
    on = MONDAY + timedelta(days=rnd.randint(0, 3))
    site = 1 if rnd.random() < 0.8 else 2
    return Opening(number, f"c{number}", on, site, rnd.randint(1, 3), start, start + 5 * SLOT, takes, ways, free)


def _need(rnd: Random, name: str, minutes: int | None = None, target: int | None = None) -> Need:
    best = rnd.randint(-2, 3) if target is None else target
    days = {name: MONDAY + timedelta(days=best + n) for name, n in
            (("earliest", -rnd.randint(0, 2)), ("target", 0), ("latest", rnd.randint(0, 3)))}  # fmt: skip
    return Need(
        (name,), frozenset({rnd.choice(KINDS)}), **days, minutes=minutes or rnd.choice((20, 20, 40, 60, 80)),
        in_person=True, provisional=rnd.random() < 0.1, site=1, therapist=rnd.choice((None, 1, 2, 3)),
    )  # fmt: skip


def _two_fingers(rnd: Random, patient: int) -> Iterator[Wish]:
    """One visit for both on their common days, or two visits."""
    target = rnd.randint(0, 3)
    first, second = (_need(rnd, f"{patient}{finger}", 20, target) for finger in "ab")
    both = first._replace(
        names=(*first.names, *second.names), kinds=first.kinds | second.kinds, minutes=40,
        earliest=max(first.earliest, second.earliest), latest=min(first.latest, second.latest),
        provisional=first.provisional and second.provisional,
    )  # fmt: skip
    return (Wish(patient, need) for need in (both, first, second))


class Best(NamedTuple):
    """Follow-ups placed, those of stitches and wounds first; then the cost, negative so that more is better."""

    urgent: int
    others: int
    saved: int


def best_of(case: Case) -> Best:
    """By trying every plan: each wish at every start, or not at all."""
    urgent = {name for wish in case.wishes for name in wish.need.names
              if len(wish.need.names) == 1 and wish.need.kinds & URGENT}  # fmt: skip
    joint = _could_share(case)
    choices = [list(_choices(wish, case, joint)) for wish in case.wishes]
    hope = [_hope(case.wishes[at:], urgent) for at in range(len(case.wishes) + 1)]
    found = Best(0, 0, 0)

    def go(at: int, now: Best, taken: frozenset[object]) -> None:
        nonlocal found
        found = max(found, now)
        if at == len(choices) or (now.urgent + hope[at][0], now.others + hope[at][1], now.saved) <= found:
            return
        names = case.wishes[at].need.names
        of = sum(name in urgent for name in names)
        for cost, wanted in choices[at]:
            if not wanted & taken:
                own = Best(now.urgent + of, now.others + len(names) - of, now.saved - cost)
                go(at + 1, own, taken | wanted)
        go(at + 1, now, taken)

    go(0, found, frozenset())
    return found


def _hope(wishes: tuple[Wish, ...], urgent: set[str]) -> tuple[int, int]:
    names = {name for wish in wishes for name in wish.need.names}
    return len(names & urgent), len(names - urgent)


def _choices(wish: Wish, case: Case, joint: set[str]) -> Iterator[tuple[int, frozenset[object]]]:
    """The cost of each place, and everything that can be had once: slots, follow-ups, the patient's day."""
    need = wish.need
    more = SECOND_VISIT if len(need.names) == 1 and need.names[0] in joint else 0
    for opening in case.openings:
        if takes_all(opening, need, wish.way) and _on_its_days(need, opening.on) and opening.on not in wish.not_on:
            for start in starts_after(opening, need.minutes, NOW):
                slots = {(opening.session, slot) for slot in slots_for(start, need.minutes)}
                yield (
                    cost_of_session(need, opening).total + more,
                    frozenset({*slots, *need.names, (wish.patient, opening.on)}),
                )


def _could_share(case: Case) -> set[str]:
    """Follow-ups for which there is a place that would serve two at once, if it were free."""
    able = (wish for wish in case.wishes if len(wish.need.names) > 1 and any(_choices(wish, case, set())))
    return {name for wish in able for name in wish.need.names}


def _on_its_days(need: Need, on: date) -> bool:
    """Its window; where that is past, three weeks; what is provisional moves along with today."""
    last = need.latest
    if last < MONDAY:
        last = MONDAY + (need.latest - need.earliest if need.provisional else timedelta(days=21))
    return need.earliest <= on <= last


def value_of(plan: Plan, case: Case) -> Best:
    """What a plan comes to, counted from its places alone."""
    urgent = {name for wish in case.wishes for name in wish.need.names
              if len(wish.need.names) == 1 and wish.need.kinds & URGENT}  # fmt: skip
    joint = _could_share(case)
    names = [name for each in plan.placed for name in each.wish.need.names]
    parts = sum(len(each.wish.need.names) == 1 and each.wish.need.names[0] in joint for each in plan.placed)
    cost = sum(each.offer.cost.total - each.offer.cost.gaps for each in plan.placed) + SECOND_VISIT * parts
    of = sum(name in urgent for name in names)
    return Best(of, len(names) - of, -cost)
