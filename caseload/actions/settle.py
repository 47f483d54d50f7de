"""Every act on an episode ends here: derive, compare, write only what moved.

Stored are the follow-ups, the standings (whose headline it is, over time) and the next step. What is stored does not
depend on the day, so nothing drifts while nobody acts; `rederive` proves it.
"""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import date
from operator import attrgetter, itemgetter
from typing import Any, Final, NamedTuple

from django.db import DEFAULT_DB_ALIAS, transaction

from caseload.actions.act import said
from caseload.actions.in_step import bring_in_step
from caseload.actions.pending import Pending, pending
from caseload.actions.rewriting import insert, insert_keyed, rewrite
from caseload.actions.waits import kept
from caseload.models import EVER, Episode, FollowUp, Standing, State, TrailEntry
from caseload.models.follow_ups import state_of
from caseload.reads.prepared import Prepared
from caseload.reads.timetables import first_timetables_of, timetables_of, with_sources
from caseload.timetable.concerns import Stretch, stretches
from caseload.timetable.plan import Timetable
from caseload.timetable.terms import rank

Moved = dict[str, tuple[object, object]]
IN_HAND_RANK = 99
BATCH = 500
Values = tuple[Any, ...]
"""A stored follow-up, column by column: most have not moved, and making an object of one takes longer than deriving."""
COLUMNS: Final = [field.attname for field in FollowUp._meta.concrete_fields]
_key: Final = itemgetter(COLUMNS.index("key"))
_held: Final = itemgetter(*map(COLUMNS.index, (*FollowUp.DERIVED, "state")))
_derived: Final = attrgetter(*FollowUp.DERIVED)


class Stood(NamedTuple):
    """What a standing says, beside whose it is."""

    site_id: int
    therapist_id: int | None
    from_on: date
    until_on: date
    headline: str
    rank: int
    owner: str
    follow_up_key: str
    due_on: date | None
    others: list[str]


@dataclass
class Writes:
    """What settling some episodes would write, and what moved in each of them in words for the trail."""

    new_follow_ups: list[FollowUp] = field(default_factory=list)
    moved_follow_ups: list[FollowUp] = field(default_factory=list)
    stale_standings: list[int] = field(default_factory=list)
    new_standings: list[Standing] = field(default_factory=list)
    episodes: list[Episode] = field(default_factory=list)
    moved: dict[int, Moved] = field(default_factory=lambda: defaultdict(dict))


def settle(episode: Episode) -> Moved:
    """Make the stored rows of one episode equal to what is derived; give back what moved."""
    return settle_all([episode])[episode.pk]


def settle_keys(ids: Iterable[int]) -> dict[int, Moved]:
    """The same for many, read here."""
    left = pending.get()
    if left is None:
        return settle_all(list(with_sources(Episode.objects.filter(pk__in=ids).order_by("id"))))
    for episode_id in ids:
        left.leave(episode_id)
    return {}


def settle_all(episodes: Sequence[Episode]) -> dict[int, Moved]:
    """The same for many, in a constant number of queries for each batch."""
    left = pending.get()
    if left is not None:
        for episode in episodes:
            left.leave(episode.pk)
        return defaultdict(dict)
    writes = compare(episodes)
    write(writes)
    return writes.moved


@contextmanager
def together() -> Iterator[None]:
    """Many acts in one transaction, settled once at the end, with their trail, notices and waits. In between, what is
    stored of the episodes' follow-ups and headlines is that of before. What an episode moved stands in the entry of its
    last act. Inside another `together` it waits for that one's end.
    """
    if pending.get() is not None:
        yield
        return
    left = Pending()
    token = pending.set(left)
    try:
        with transaction.atomic(), kept():
            yield
            pending.set(None)
            moved = settle_keys(left.unsettled)
            insert(_entries(left, moved))
            if left.latest:
                bring_in_step(left.appointments, left.latest)
    finally:
        pending.reset(token)


def _entries(left: Pending, moved: dict[int, Moved]) -> list[TrailEntry]:
    last = {episode_id: place for place, (_, touched) in enumerate(left.entries) for episode_id in touched}
    rows = [TrailEntry(**entry) for entry, _ in left.entries]
    for episode_id, place in last.items():
        rows[place].changed |= said(moved.get(episode_id, {}))
    return rows


def compare(episodes: Sequence[Episode]) -> Writes:
    """What is stored against what is derived. Writes nothing."""
    writes = Writes()
    timetables = timetables_of(episodes)
    follow_ups, standings = _follow_ups(episodes), _standings(episodes)
    for episode in episodes:
        timetable = timetables[episode.pk]
        _compare_follow_ups(writes, episode, timetable, follow_ups[episode.pk])
        _compare_standings(writes, episode, timetable, standings[episode.pk])
        _compare_next_step(writes, episode, timetable)
    return writes


def save_new(episodes: Sequence[Episode]) -> dict[int, Moved]:
    """Save many new episodes together with what is derived of them, reading nothing back; what moved, by their ids.

    They bring their patient, rules, and site with its region, and have nothing recorded yet.
    """
    writes, timetables = Writes(), first_timetables_of(episodes)
    for episode, timetable in zip(episodes, timetables, strict=True):
        _compare_next_step(writes, episode, timetable)
    writes.episodes.clear()
    insert_keyed(episodes)
    for episode, timetable in zip(episodes, timetables, strict=True):
        _compare_follow_ups(writes, episode, timetable, {})
        _compare_standings(writes, episode, timetable, [])
    write(writes)
    return writes.moved


def write(writes: Writes) -> None:
    insert(writes.new_follow_ups)
    rewrite(writes.moved_follow_ups, [*FollowUp.DERIVED, "state"])
    if writes.stale_standings:
        Standing.objects.filter(episode__in=writes.stale_standings).delete()
    insert(writes.new_standings)
    rewrite(writes.episodes, ["next_kind", "next_on", "next_owner"])


def _follow_ups(episodes: Sequence[Episode]) -> dict[int, dict[str, Values]]:
    found: dict[int, dict[str, Values]] = defaultdict(dict)
    for episode, *values in _FOLLOW_UPS([episode.pk for episode in episodes]):
        found[episode][_key(values)] = tuple(values)
    return found


def _standings(episodes: Sequence[Episode]) -> dict[int, list[Stood]]:
    found: dict[int, list[Stood]] = defaultdict(list)
    for episode, *values in _STANDINGS([episode.pk for episode in episodes]):
        found[episode].append(Stood(*values))
    return found


_FOLLOW_UPS: Final = Prepared(lambda ids: FollowUp.objects.filter(episode__in=ids).values_list("episode_id", *COLUMNS))
_STANDINGS: Final = Prepared(
    lambda ids: Standing.objects.filter(episode__in=ids).order_by("from_on").values_list("episode_id", *Stood._fields)
)


def _compare_follow_ups(writes: Writes, episode: Episode, timetable: Timetable, stored: dict[str, Values]) -> None:
    for derived in timetable.follow_ups:
        values = stored.pop(derived.key, None)
        if values and _held(values) == (*_derived(derived), state_of(derived)):
            continue
        row = _row(values) if values else None
        was = row.said() if row else ""
        target = row or FollowUp(episode=episode, patient_id=episode.patient_id, key=derived.key)
        target.take(derived)
        (writes.moved_follow_ups if row else writes.new_follow_ups).append(target)
        writes.moved[episode.pk][derived.key] = (was, target.said())
    for key, values in stored.items():
        row = _row(values)
        if row.state == State.DUE:
            was, row.state = row.said(), State.DROPPED
            writes.moved_follow_ups.append(row)
            writes.moved[episode.pk][key] = (was, row.said())


def _row(values: Values) -> FollowUp:
    return FollowUp.from_db(DEFAULT_DB_ALIAS, COLUMNS, values)


def _compare_standings(writes: Writes, episode: Episode, timetable: Timetable, stored: list[Stood]) -> None:
    wanted = [_stood(episode, stretch) for stretch in stretches(timetable)]
    if wanted != stored:
        if stored:
            writes.stale_standings.append(episode.pk)
        writes.new_standings.extend(Standing(episode=episode, **each._asdict()) for each in wanted)
        writes.moved[episode.pk]["headline"] = (_headlines(stored), _headlines(wanted))


def _stood(episode: Episode, stretch: Stretch) -> Stood:
    return Stood(
        site_id=episode.site_id,
        therapist_id=episode.therapist_id,
        from_on=stretch.from_on,
        until_on=stretch.until_on or EVER,
        headline=stretch.headline or "",
        rank=IN_HAND_RANK if stretch.headline is None else rank(stretch.headline),
        owner=stretch.owner or "",
        follow_up_key=stretch.follow_up or "",
        due_on=stretch.due_on,
        others=[str(other) for other in stretch.others],
    )


def _headlines(rows: Iterable[Stood]) -> str:
    return ", ".join(f"{row.headline or 'in hand'} from {row.from_on}" for row in rows)


def _compare_next_step(writes: Writes, episode: Episode, timetable: Timetable) -> None:
    step = timetable.next_step
    wanted = (step.kind, step.on, str(step.owner)) if step else ("", None, "")
    if (episode.next_kind, episode.next_on, episode.next_owner) != wanted:
        episode.next_kind, episode.next_on, episode.next_owner = wanted
        writes.episodes.append(episode)
