"""What holds of every offer and every rehousing, whatever the diary looks like."""

from itertools import permutations

from hypothesis import given
from hypothesis import strategies as some

from caseload.booking.needs import Need
from caseload.booking.offers import Offer, is_inside, offers
from caseload.booking.openings import Opening, starts
from caseload.booking.rehouse import Lost, rehouse
from caseload.booking.slots import slots_for, slots_in
from caseload.timetable.terms import Way
from tests.booking.builders import EVERY_WAY, NINE, OTHER, OWN, lost, need, off, opening

SLOTS = slots_in(NINE, NINE + 120)
FREE = some.sets(some.sampled_from(SLOTS)).map(lambda slots: tuple(sorted(slots)))
DIARIES = some.lists(
    some.builds(
        opening, some.integers(-5, 8), end=some.just(NINE + 120), free=FREE, therapist=some.sampled_from([OWN, OTHER])
    ),
    max_size=8,
).map(lambda found: [each._replace(session=number) for number, each in enumerate(found)])
WINDOWS = {"earliest": some.integers(-4, 0), "target": some.just(0), "latest": some.integers(0, 4)}
NEEDS = some.builds(need, **WINDOWS, minutes=some.sampled_from([20, 40, 60]), provisional=some.booleans())
TODAYS, MINUTES = some.integers(-5, 5).map(off), some.sampled_from([0, NINE, NINE + 50])
QUEUES = some.lists(some.builds(lost, some.just(0), **WINDOWS, minutes=some.sampled_from([20, 40])), max_size=6).map(
    lambda found: [each._replace(appointment=number) for number, each in enumerate(found)]
)


def slots_of(offer: Offer) -> set[tuple[int, int]]:
    return {(offer.session, slot) for slot in slots_for(offer.start, offer.minutes)}


def has_room(wanted: Need, held: Opening, today: object, minute: int) -> bool:
    now = (today, minute)
    return any((held.on, start) > now for start in starts(held, wanted.minutes))


@given(NEEDS, DIARIES, TODAYS, MINUTES, some.booleans())
def test_an_offer_is_a_free_place_to_come(wanted, diary, today, minute, approved) -> None:
    found = offers(wanted, diary, way=Way.IN_PERSON, today=today, minute=minute, approved=approved)
    for each in found:
        assert (each.on, each.start) > (today, minute)
        assert {slot for _, slot in slots_of(each)} <= set(diary[each.session].free)
        assert approved or each.days_early == 0
    assert len({(each.session, each.start) for each in found}) == len(found)


@given(NEEDS, DIARIES, TODAYS, MINUTES)
def test_offers_lie_inside_the_window_as_long_as_it_has_room(wanted, diary, today, minute) -> None:
    found = offers(wanted, diary, way=Way.IN_PERSON, today=today, minute=minute)
    rooms = [each for each in diary if has_room(wanted, each, today, minute) and each.on >= wanted.earliest]
    inside = [each for each in rooms if is_inside(wanted, each.on)]
    assert bool(found) is bool(rooms)
    assert all(
        is_inside(wanted, each.on) is bool(inside) and (each.days_late > 0) is not bool(inside) for each in found
    )


@given(NEEDS, DIARIES, TODAYS, MINUTES, some.integers(1, 30))
def test_first_places_of_sessions_and_then_second_ones_each_in_order_of_cost(
    wanted, diary, today, minute, most
) -> None:
    found = offers(wanted, diary, way=Way.IN_PERSON, today=today, minute=minute, most=most)
    turns = [sum(other.session == each.session for other in found[:at]) for at, each in enumerate(found)]
    ranked = list(zip(turns, [(each.cost.total, each.on, each.start, each.session) for each in found], strict=True))
    assert ranked == sorted(ranked)


@given(NEEDS, DIARIES, TODAYS, MINUTES, some.integers(1, 5))
def test_fewer_offers_are_the_first_of_more(wanted, diary, today, minute, most) -> None:
    few, many = (
        offers(wanted, diary, way=Way.IN_PERSON, today=today, minute=minute, most=each) for each in (most, 1000)
    )
    assert few == many[:most]


@given(QUEUES, DIARIES, TODAYS, MINUTES)
def test_no_two_proposals_share_a_slot_and_each_is_free_and_never_early(queue, diary, today, minute) -> None:
    found = [each.offer for each in rehouse(queue, diary, today=today, minute=minute) if each.offer]
    slots = [slot for each in found for slot in slots_of(each)]
    assert len(set(slots)) == len(slots)
    assert all(slot in diary[session].free for session, slot in slots)
    assert all((each.on, each.start) > (today, minute) and each.days_early == 0 for each in found)


@given(QUEUES, DIARIES, TODAYS, MINUTES)
def test_everybody_gets_one_answer_and_nobody_goes_without_while_there_is_room(queue, diary, today, minute) -> None:
    found = rehouse(queue, diary, today=today, minute=minute)
    assert sorted(each.appointment for each in found) == sorted(each.appointment for each in queue)
    taken = {slot for each in found if each.offer for slot in slots_of(each.offer)}
    left = [held._replace(free=tuple(s for s in held.free if (held.session, s) not in taken)) for held in diary]
    needs = {each.appointment: each.need for each in queue}
    for each in found:
        assert (each.offer is None) is (each.why_none is not None)
        if each.offer is None:
            wanted = needs[each.appointment]
            assert not any(has_room(wanted, held, today, minute) and held.on >= wanted.earliest for held in left)


SINGLES = some.lists(some.integers(-4, 5), max_size=5).map(
    lambda days: [opening(on, session, free=(NINE,), ways=EVERY_WAY) for session, on in enumerate(days)]
)
SHORT = some.lists(some.builds(lost, some.just(0), **WINDOWS), max_size=4).map(
    lambda found: [each._replace(appointment=number) for number, each in enumerate(found)]
)


@given(SHORT, SINGLES)
def test_for_visits_of_one_slot_no_window_is_breached_that_need_not_be(queue: list[Lost], places: list) -> None:
    """Against every way there is of giving the places out."""
    found = rehouse(queue, places, today=off(-9), minute=0)
    inside = sum(each.offer is not None and each.offer.days_late == 0 for each in found)
    ways = permutations([each.on for each in places] + [None] * len(queue), len(queue))
    most = max(
        sum(on is not None and is_inside(each.need, on) for each, on in zip(queue, way, strict=True))
        for way in set(ways)
    )
    assert inside == most
