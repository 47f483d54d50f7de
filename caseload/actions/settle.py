"""Every act on an episode ends here: derive, compare, write only what moved.

Stored are the follow-ups, the standings (whose headline it is, over time) and the next step. What is stored does not
depend on the day, so nothing drifts while nobody acts; `rederive` proves it.
"""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field

from django.db import transaction

from caseload.actions.act import said
from caseload.actions.in_step import bring_in_step
from caseload.actions.pending import Pending, pending
from caseload.actions.rewriting import insert, insert_keyed, rewrite
from caseload.actions.waits import kept
from caseload.models import EVER, Episode, FollowUp, Standing, State, TrailEntry
from caseload.reads.timetables import first_timetables_of, timetables_of, with_sources
from caseload.timetable.concerns import Stretch, stretches
from caseload.timetable.plan import Timetable
from caseload.timetable.terms import rank

Moved = dict[str, tuple[object, object]]
IN_HAND_RANK = 99
BATCH = 500


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
    follow_ups = _by_episode(FollowUp.objects.filter(episode__in=episodes))
    standings = _by_episode(Standing.objects.filter(episode__in=episodes).order_by("from_on"))
    for episode in episodes:
        timetable = timetables[episode.pk]
        _compare_follow_ups(writes, episode, timetable, {row.key: row for row in follow_ups[episode.pk]})
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


def _by_episode(rows: Iterable[FollowUp] | Iterable[Standing]) -> dict[int, list]:
    found: dict[int, list] = defaultdict(list)
    for row in rows:
        found[row.episode_id].append(row)
    return found


def _compare_follow_ups(writes: Writes, episode: Episode, timetable: Timetable, stored: dict[str, FollowUp]) -> None:
    for derived in timetable.follow_ups:
        row = stored.pop(derived.key, None)
        was = row.said() if row else ""
        target = row or FollowUp(episode=episode, patient_id=episode.patient_id, key=derived.key)
        if target.take(derived):
            (writes.moved_follow_ups if row else writes.new_follow_ups).append(target)
            writes.moved[episode.pk][derived.key] = (was, target.said())
    for key, row in stored.items():
        if row.state == State.DUE:
            was, row.state = row.said(), State.DROPPED
            writes.moved_follow_ups.append(row)
            writes.moved[episode.pk][key] = (was, row.said())


def _compare_standings(writes: Writes, episode: Episode, timetable: Timetable, stored: list[Standing]) -> None:
    wanted = [_standing(episode, stretch) for stretch in stretches(timetable)]
    if [_said(row) for row in wanted] != [_said(row) for row in stored]:
        if stored:
            writes.stale_standings.append(episode.pk)
        writes.new_standings.extend(wanted)
        writes.moved[episode.pk]["headline"] = (_headlines(stored), _headlines(wanted))


def _standing(episode: Episode, stretch: Stretch) -> Standing:
    return Standing(
        episode=episode,
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


def _said(row: Standing) -> tuple[object, ...]:
    return (
        row.site_id, row.therapist_id, row.from_on, row.until_on, row.headline, row.rank, row.owner,
        row.follow_up_key, row.due_on, row.others,
    )  # fmt: skip


def _headlines(rows: Iterable[Standing]) -> str:
    return ", ".join(f"{row.headline or 'in hand'} from {row.from_on}" for row in rows)


def _compare_next_step(writes: Writes, episode: Episode, timetable: Timetable) -> None:
    step = timetable.next_step
    wanted = (step.kind, step.on, str(step.owner)) if step else ("", None, "")
    if (episode.next_kind, episode.next_on, episode.next_owner) != wanted:
        episode.next_kind, episode.next_on, episode.next_owner = wanted
        writes.episodes.append(episode)
