"""Timetables of stored episodes, derived on reading."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import date

from django.db.models import QuerySet

from caseload.models import Episode
from caseload.reads.calendars import calendars_of
from caseload.reads.facts import facts_of
from caseload.reads.rules import rules_of
from caseload.timetable.derive import derive
from caseload.timetable.facts import FIRST_DAY, EpisodeFacts
from caseload.timetable.plan import Timetable


def with_sources(episodes: QuerySet[Episode]) -> QuerySet[Episode]:
    """Everything that deriving needs beside the facts: rules, site and region in the same query."""
    return episodes.select_related("rules", "site__region")


def timetables_of(episodes: Sequence[Episode], *, as_of: date = FIRST_DAY) -> dict[int, Timetable]:
    """The timetable of each episode by its id. Without `as_of` it is the one that is stored: no day changes it."""
    facts = facts_of(episodes)
    calendars = calendars_of({episode.site_id: episode.site for episode in episodes}.values())
    return {
        episode.pk: derive(facts[episode.pk], rules_of(episode.rules), calendars[episode.site_id], as_of=as_of)
        for episode in episodes
    }


def timetable_of(episode: Episode, *, as_of: date) -> Timetable:
    return timetables_of([episode], as_of=as_of)[episode.pk]


def supposing(episode: Episode, *, as_of: date, **facts: object) -> tuple[Timetable, Timetable]:
    """The timetable as it stands, and as it would be with these facts instead: for a preview before saving."""
    now = facts_of([episode])[episode.pk]
    calendar = calendars_of([episode.site])[episode.site_id]
    rules = rules_of(episode.rules)
    return (
        derive(now, rules, calendar, as_of=as_of),
        derive(replace(now, **facts), rules, calendar, as_of=as_of),  # type: ignore[arg-type]
    )


def with_finding(facts: EpisodeFacts, finding: object) -> EpisodeFacts:
    return replace(facts, findings=(*facts.findings, finding))  # type: ignore[arg-type]
