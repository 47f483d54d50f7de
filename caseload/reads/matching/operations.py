"""Which operation a row means: one on record, by an earlier list, by its digit and day; or a new one; or a question."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import NamedTuple

from caseload.exchange.operated import Problem, Severity
from caseload.models import Episode
from caseload.parsing import in_words
from caseload.reads.matching.entry import NEW, Entry
from caseload.reads.matching.facts import differing_facts
from caseload.reads.matching.match import Change, Note, OperationMatch
from caseload.reads.matching.on_record import Earlier, Known, OnRecord, last_said
from caseload.timetable.terms import Digit, Ending


@dataclass(frozen=True, slots=True)
class Setting:
    """What an operation is looked up in; `today` decides what is still to come."""

    record: OnRecord
    columns: Mapping[str, str]
    today: date


class Meeting(NamedTuple):
    """`match` is None while somebody has to choose among `episodes`."""

    match: OperationMatch | None
    doubts: tuple[Problem, ...] = ()
    episodes: tuple[str, ...] = ()
    notes: tuple[Note, ...] = ()


def meet(entry: Entry, digit: Digit, known: Known | None, setting: Setting) -> Meeting:
    """What the record says to one operated digit of a row."""
    episodes = setting.record.episodes.get(known.patient.pk, []) if known else []
    earlier = setting.record.earlier.get(known.patient.pk, []) if known else []
    if found := _told_before(entry, digit, episodes, earlier) or _same_day(entry, digit, episodes):
        return _corrected(entry, digit, found, setting, _last_word(entry, found, digit, earlier))
    near = [episode for episode in episodes if _may_be(entry, digit, episode)]
    if not near:
        return Meeting(OperationMatch(digit))
    if len(near) == 1 and _moved(near[0], setting.today):
        return _corrected(entry, digit, near[0], setting, _last_word(entry, near[0], digit, earlier))
    return _asked(entry, digit, near, setting, earlier)


def _told_before(entry: Entry, digit: Digit, episodes: list[Episode], earlier: list[Earlier]) -> Episode | None:
    """The episode that an earlier list made of the same words, whatever was corrected in it since."""
    for row in earlier:
        said = row.entry
        same = said and (said.value.side, said.value.surgery_on) == (entry.value.side, entry.value.surgery_on)
        if same and digit in row.episodes:
            return next((episode for episode in episodes if episode.code == row.episodes[digit]), None)
    return None


def _same_day(entry: Entry, digit: Digit, episodes: list[Episode]) -> Episode | None:
    wanted = (entry.value.side, digit, entry.value.surgery_on)
    done = (episode for episode in episodes if episode.ended_how != Ending.NOT_DONE)
    return next((each for each in done if (each.side, each.digit, each.surgery_on) == wanted), None)


def _last_word(entry: Entry, episode: Episode, digit: Digit, earlier: list[Earlier]) -> Earlier | None:
    return last_said(entry, [row for row in earlier if row.episodes.get(digit) == episode.code])


def _may_be(entry: Entry, digit: Digit, episode: Episode) -> bool:
    """An open episode of this digit on another day, or of that day with the hand or the digit not known yet."""
    if episode.ended_on:
        return False
    sides, digits = ("", entry.value.side), ("", digit)
    same_digit = (episode.side, episode.digit) == (entry.value.side, digit)
    unfinished = episode.surgery_on in (None, entry.value.surgery_on)
    return same_digit or unfinished and episode.side in sides and episode.digit in digits


def _moved(episode: Episode, today: date) -> bool:
    """A surgery that is still to come, or has no day yet, takes the day of the list; a past one is asked about."""
    complete = bool(episode.side and episode.digit)
    return complete and (episode.surgery_on is None or episode.surgery_on > today)


def _asked(entry: Entry, digit: Digit, near: list[Episode], setting: Setting, earlier: list[Earlier]) -> Meeting:
    codes = (*(episode.code for episode in near), NEW)
    doubts = tuple(_doubt(episode, setting) for episode in near)
    decided = entry.decision.operation
    chosen = next((episode for episode in near if episode.code == decided), None)
    if chosen:
        met = _corrected(entry, digit, chosen, setting, _last_word(entry, chosen, digit, earlier), agreed=True)
        return met._replace(doubts=doubts, episodes=codes)
    match = OperationMatch(digit) if decided == NEW else None
    return Meeting(match, doubts, codes)


def _doubt(episode: Episode, setting: Setting) -> Problem:
    on = in_words(episode.surgery_on) if episode.surgery_on else "a day not known yet"
    why = f"{str(episode).capitalize()}, operated on {on}, is open on record"
    remedy = "say whether the list corrects that, or means another operation"
    return Problem(setting.columns.get("surgery_on", ""), "operation-near", f"{why}: {remedy}.", Severity.DOUBTFUL)


def _corrected(
    entry: Entry, digit: Digit, episode: Episode, setting: Setting, last: Earlier | None, *, agreed: bool = False
) -> Meeting:
    found = differing_facts(entry, episode, last, setting.record, setting.columns)
    for name, now in (("side", entry.value.side), ("digit", digit)):
        if not getattr(episode, name):
            found.facts[name] = now
            found.changes.append(Change(name, "", str(now)))
    match = OperationMatch(digit, episode.code, tuple(found.changes), found.facts, found.referral)
    if not found.doubts:
        return Meeting(match, notes=tuple(found.notes))
    chosen = agreed or entry.decision.operation == episode.code
    return Meeting(match if chosen else None, tuple(found.doubts), (episode.code,), tuple(found.notes))
