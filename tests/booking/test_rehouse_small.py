"""Rehousing against every way there is, on small diaries at random, with others moving and without."""

from collections.abc import Iterator
from datetime import date, timedelta
from itertools import product
from random import Random
from typing import NamedTuple

import pytest

from caseload.booking.cost import GAP, cost_of_session, gaps_beside
from caseload.booking.needs import URGENT, Need
from caseload.booking.offers import Now, is_inside, starts_after
from caseload.booking.openings import Opening, without
from caseload.booking.rehouse import Kept, Lost, Rehousing, rehouse, rehouse_moving
from caseload.booking.slots import SLOT, slots_for
from caseload.timetable.terms import FollowUpKind as Kind
from caseload.timetable.terms import Way

MONDAY = date(2026, 3, 2)
NOW = Now(MONDAY, 0)
NINE = 9 * 60
Aims = tuple[int, int, int, int]


class Case(NamedTuple):
    lost: tuple[Lost, ...]
    kept: tuple[Kept, ...]
    openings: tuple[Opening, ...]

    def rehoused(self) -> Rehousing:
        return rehouse_moving(self.lost, self.kept, self.openings, today=MONDAY, minute=0)


def case(seed: int) -> Case:
    rnd = Random(seed)
    openings = {n: _opening(rnd, n) for n in range(rnd.randint(1, 3))}
    kept: list[Kept] = []
    for number in range(10, 10 + rnd.randint(1, 3)):
        opening, need = rnd.choice(list(openings.values())), _need(rnd)
        starts = starts_after(opening, need.minutes, NOW)
        if starts and opening.on > MONDAY:
            need = need._replace(earliest=min(need.earliest, opening.on), latest=max(need.latest, opening.on))
            start = rnd.choice(starts)
            kept.append(Kept(number, need, Way.IN_PERSON, opening.session, start))
            openings[opening.session] = without(opening, start, need.minutes)
    lost = tuple(Lost(number, _need(rnd), Way.IN_PERSON) for number in range(rnd.randint(1, 2)))
    return Case(lost, tuple(kept), tuple(openings.values()))


def _opening(rnd: Random, number: int) -> Opening:
    free = tuple(NINE + SLOT * n for n in range(rnd.randint(2, 3)))
    on = MONDAY + timedelta(days=rnd.randint(0, 3))
    therapist = rnd.randint(1, 2)
    return Opening(number, f"c{number}", on, 1, therapist, NINE, NINE + 80, frozenset(), frozenset(Way), free)


def _need(rnd: Random) -> Need:
    target = rnd.randint(-2, 3)
    first, last = target - rnd.randint(0, 2), target + rnd.randint(0, 2)
    days = [MONDAY + timedelta(days=each) for each in (first, target, last)]
    kind = rnd.choice((Kind.STITCHES_OUT, Kind.THERAPY_REVIEW))
    return Need(("x",), frozenset({kind}), *days, rnd.choice((20, 20, 40)), True, False, 1, rnd.choice((None, 1, 2)))


def best_of(asked: Case, moving: bool) -> Aims:
    """The least of all aims, each after those before it, over every choice of places."""
    weight = 1 + sum(not each.need.kinds & URGENT for each in asked.lost)
    held = {each.appointment: (each.session, each.start) for each in asked.kept}
    openings = {each.session: each for each in asked.openings}
    whole = {
        key: each._replace(free=tuple(sorted({*each.free, *_held_in(key, asked)}))) for key, each in openings.items()
    }
    choices = [[None, *_places(each.need, whole, late=True)] for each in asked.lost]
    choices += [
        [held[each.appointment], *(_places(each.need, whole, late=False) if moving else ())] for each in asked.kept
    ]
    visits = [*asked.lost, *asked.kept]
    most = 1 + len(visits) * 40
    return min(
        _aims(visits, chosen, held, openings, weight, most) for chosen in product(*choices) if _apart(visits, chosen)
    )


def _held_in(session: int, asked: Case) -> Iterator[int]:
    for each in asked.kept:
        if each.session == session:
            yield from slots_for(each.start, each.need.minutes)


def _places(need: Need, whole: dict[int, Opening], late: bool) -> list[tuple[int, int]]:
    days = {key: each for key, each in whole.items()
            if is_inside(need, each.on) or late and each.on > need.latest}  # fmt: skip
    return [(key, start) for key, each in days.items() for start in starts_after(each, need.minutes, NOW)]


def _apart(visits, chosen) -> bool:
    slots = [(place[0], slot) for each, place in zip(visits, chosen, strict=True) if place
             for slot in slots_for(place[1], each.need.minutes)]  # fmt: skip
    return len(slots) == len(set(slots))


def _aims(visits, chosen, held, openings, weight: int, most: int) -> Aims:
    outside = moved = late = cost = 0
    for each, place in zip(visits, chosen, strict=True):
        if place is None or place == held.get(each.appointment):
            continue
        opening, need = openings[place[0]], each.need
        points = cost_of_session(need, opening).total + gaps_beside(opening.free, place[1], need.minutes) * GAP
        days = max(0, (opening.on - need.latest).days)
        if each.appointment in held:
            moved += 1
            points -= cost_of_session(need, openings[held[each.appointment][0]]).total
        elif is_inside(need, opening.on):
            outside -= weight if need.kinds & URGENT else 1
        late += days - most if days else 0
        cost += points
    return outside, moved, late, cost


def aims_of(found: Rehousing, asked: Case) -> Aims:
    place = {each.appointment: (each.offer.session, each.offer.start) if each.offer else None
             for each in (*found.proposals, *found.moves)}  # fmt: skip
    held = {each.appointment: (each.session, each.start) for each in asked.kept}
    visits = [*asked.lost, *asked.kept]
    chosen = [place.get(each.appointment, held.get(each.appointment)) for each in visits]
    assert _apart(visits, chosen)
    weight = 1 + sum(not each.need.kinds & URGENT for each in asked.lost)
    openings = {each.session: each for each in asked.openings}
    return _aims(visits, chosen, held, openings, weight, 1 + len(visits) * 40)


@pytest.mark.parametrize("tenth", range(4))
def test_no_way_keeps_more_windows_moves_fewer_or_costs_less(tenth: int) -> None:
    for seed in range(tenth * 100, tenth * 100 + 100):
        asked = case(seed)
        found = asked.rehoused()
        assert found.proven and aims_of(found, asked) == best_of(asked, moving=True), seed


def test_without_moving_anybody_the_best_is_found_too() -> None:
    for seed in range(200):
        asked = case(seed)
        alone = asked._replace(kept=())
        found = Rehousing(rehouse(asked.lost, asked.openings, today=MONDAY, minute=0), (), True)
        assert aims_of(found, alone) == best_of(alone, moving=False), seed
