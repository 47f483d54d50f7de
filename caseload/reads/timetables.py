"""Timetables of stored episodes, derived on reading."""

from collections.abc import Callable, Iterable, Sequence
from datetime import date
from typing import Final, NamedTuple

from django.db.models import QuerySet

from caseload.models import Episode
from caseload.reads.calendars import calendars_of
from caseload.reads.facts import facts_of, first_facts_of
from caseload.reads.prepared_models import PreparedModels
from caseload.reads.rules import rules_of
from caseload.timetable.activities import locks_of
from caseload.timetable.calendar import OpenDays
from caseload.timetable.derive import derive
from caseload.timetable.facts import FIRST_DAY, EpisodeFacts
from caseload.timetable.hand import restrict, undated
from caseload.timetable.plan import Timetable
from caseload.timetable.rules import RuleSet
from caseload.wording.record import say_hand


def with_sources(episodes: QuerySet[Episode]) -> QuerySet[Episode]:
    """Everything that deriving needs beside the facts: rules, site and region in the same query."""
    return episodes.select_related("rules", "site__region")


def timetables_of(episodes: Sequence[Episode], *, as_of: date = FIRST_DAY) -> dict[int, Timetable]:
    """The timetable of each episode by its id. Without `as_of` it is the one that is stored: no day changes it."""
    facts = facts_of(episodes)
    calendars = _calendars(episodes, facts.values())
    return {
        episode.pk: derive(facts[episode.pk], rules_of(episode.rules), calendars[episode.site_id], as_of=as_of)
        for episode in episodes
    }


def timetables_under(episodes: Sequence[Episode], rules: RuleSet) -> list[tuple[Timetable, Timetable]]:
    """The timetable of each episode as it is stored, and as other rules would have it."""
    facts = facts_of(episodes)
    calendars = _calendars(episodes, facts.values())

    def under(episode: Episode, rules: RuleSet) -> Timetable:
        return derive(facts[episode.pk], rules, calendars[episode.site_id], as_of=FIRST_DAY)

    return [(under(episode, rules_of(episode.rules)), under(episode, rules)) for episode in episodes]


def first_timetables_of(episodes: Sequence[Episode]) -> list[Timetable]:
    """The timetables to be stored of episodes of which nothing is recorded yet: they need not be saved."""
    facts = [first_facts_of(episode) for episode in episodes]
    calendars = _calendars(episodes, facts)
    return [
        derive(own, rules_of(episode.rules), calendars[episode.site_id], as_of=FIRST_DAY)
        for episode, own in zip(episodes, facts, strict=True)
    ]


def hand_timetable(episode: Episode, *, today: date) -> Timetable:
    """The timetable as of today, with whole-hand activities as the other operated digits of that hand leave them."""
    return hand_of(episode, today=today).own


class Hand(NamedTuple):
    """An episode's timetable as its hand leaves it, the facts behind it, and the other open episodes of that hand."""

    own: Timetable
    facts: EpisodeFacts
    others: tuple[Episode, ...]


def hand_of(
    episode: Episode, *, today: date, but: Callable[[EpisodeFacts], EpisodeFacts] = lambda facts: facts
) -> Hand:
    """The same with what it was derived from; a constant number of queries. `but` leaves something out of the facts."""
    others = [other for other in _HAND(episode.patient_id, episode.side, today) if other.pk != episode.pk]
    episodes = [episode, *others]
    facts = {key: but(each) for key, each in facts_of(episodes).items()}
    calendars = _calendars(episodes, facts.values())
    found = [derive(facts[row.pk], rules_of(row.rules), calendars[row.site_id], as_of=today) for row in episodes]
    of_digit: dict[bool, list[Timetable]] = {True: [], False: []}
    for row, timetable in zip(others, found[1:], strict=True):
        if row.surgery_on is None:
            timetable = undated(timetable, locks_of(facts[row.pk], rules_of(row.rules)))
        of_digit[row.digit == episode.digit != ""].append(timetable._replace(ref=say_hand(row)))
    activities = restrict(found[0], of_digit[False], of_digit[True])
    return Hand(found[0]._replace(activities=activities), facts[episode.pk], tuple(others))


def _of_hand(patient: int, side: str, today: date) -> QuerySet[Episode]:
    """Those that are open, of a side that is known."""
    same = Episode.objects.on_caseload(today).filter(patient=patient, side=side).exclude(side="")
    return with_sources(same)


_HAND: Final = PreparedModels(_of_hand)


def _calendars(episodes: Sequence[Episode], facts: Iterable[EpisodeFacts]) -> dict[int, OpenDays]:
    """The calendars of some episodes, with the session days that a window of theirs can hold: every window begins at
    the surgery, a finding or a visit, or after it."""
    return calendars_of(
        {episode.site_id: episode.site for episode in episodes}.values(),
        sessions_from=min((day for each in facts for day in _anchors(each)), default=None),
    )


def _anchors(facts: EpisodeFacts) -> list[date]:
    days = [facts.surgery_on] if facts.surgery_on else []
    return [*days, *(finding.on for finding in facts.findings), *(review.on for review in facts.reviews)]
