"""What a row says otherwise than the record: facts to be set, where the list says something new.

An empty cell never erases. What an earlier list said already is not news: if the record differs from it by now,
somebody has corrected the record, and the list does not bring the old value back.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import Any

from caseload.exchange.operated import Problem, Severity
from caseload.models import Episode, Patient
from caseload.parsing import Scheme
from caseload.reads.matching.entry import Entry
from caseload.reads.matching.match import Change, Facts, Note
from caseload.reads.matching.on_record import Earlier, Known, OnRecord

MOST_NOTES = 2000
_AS_SAID = ("surgery_on", "technique", "suture", "material", "stitches_in", "surgeon", "raised_risk", "for_therapy")
_NUMBERS = {"nhs_number": Scheme.NHS, "hospital_number": Scheme.HOSPITAL}


@dataclass
class Difference:
    """`facts` and `referral` are to be set; `doubts` say why somebody should look first."""

    facts: Facts = field(default_factory=dict)
    referral: Facts = field(default_factory=dict)
    changes: list[Change] = field(default_factory=list)
    doubts: list[Problem] = field(default_factory=list)
    notes: list[Note] = field(default_factory=list)

    def put(self, name: str, was: object, now: object, shown: Callable[[object], object] | None = None) -> None:
        self.facts[name] = now
        self.changes.append(Change(name, *(_plain(shown(each) if shown else each) for each in (was, now))))


def _plain(value: object) -> Any:
    if isinstance(value, bool | list):
        return value
    return value.isoformat() if isinstance(value, date) else "" if value is None else str(value)


def differing_facts(
    entry: Entry, episode: Episode, earlier: Earlier | None, record: OnRecord, columns: Mapping[str, str]
) -> Difference:
    """What the row would change in an episode that it meets."""
    found = Difference()
    for name in _AS_SAID:
        if news(entry, earlier, name) and getattr(entry.value, name) != getattr(episode, name):
            found.put(name, getattr(episode, name), getattr(entry.value, name))
            _mind_corrections(found, entry, episode, earlier, name, columns)
    _differ_in_site(found, entry, episode, earlier, record)
    _add_risks(found, entry, episode, earlier)
    _add_notes(found, entry, episode, earlier, columns)
    _differ_in_referral(found, entry, episode, earlier)
    if found.changes and episode.ended_on:
        why = "This episode is closed, and the list says otherwise than the record: say whether to correct it."
        found.doubts.append(Problem("", "episode-closed", why, Severity.DOUBTFUL))
    return found


def news(entry: Entry, earlier: Earlier | None, name: str) -> bool:
    """Whether the row says something of this field that the last list did not say already."""
    before = earlier.entry if earlier else None
    same = before is not None and before.says(name) and getattr(before.value, name) == getattr(entry.value, name)
    return entry.says(name) and not same


def _mind_corrections(
    found: Difference, entry: Entry, episode: Episode, earlier: Earlier | None, name: str, columns: Mapping[str, str]
) -> None:
    """A doubt, where the record was corrected by hand since an earlier list, or that list is forgotten."""
    if earlier is None or getattr(episode, name) in ("", None, "unknown"):
        return
    before = earlier.entry
    if before and (not before.says(name) or getattr(before.value, name) == getattr(episode, name)):
        return
    why = "The record was corrected since an earlier list, and this list says something else: say which is right."
    found.doubts.append(Problem(columns.get(name, ""), "record-corrected", why, Severity.DOUBTFUL))


def _differ_in_site(
    found: Difference, entry: Entry, episode: Episode, earlier: Earlier | None, record: OnRecord
) -> None:
    site = record.site_named(entry.value.site)
    if news(entry, earlier, "site") and site and site.pk != episode.site_id:
        found.put("site", episode.site, site, shown=lambda row: row.name)  # type: ignore[attr-defined]


def _add_risks(found: Difference, entry: Entry, episode: Episode, earlier: Earlier | None) -> None:
    added = [str(risk) for risk in entry.value.risks if risk not in episode.risks]
    if added and news(entry, earlier, "risks"):
        found.put("risks", list(episode.risks), [*episode.risks, *added])


def _add_notes(
    found: Difference, entry: Entry, episode: Episode, earlier: Earlier | None, columns: Mapping[str, str]
) -> None:
    said = entry.value.notes
    if not news(entry, earlier, "notes") or said in episode.notes:
        return
    both = f"{episode.notes}\n{said}" if episode.notes else said
    if len(both) <= MOST_NOTES:
        found.put("notes", episode.notes, both)
    else:
        found.notes.append(Note(columns.get("notes", ""), "The notes on record are full: these are not added to them."))


def _differ_in_referral(found: Difference, entry: Entry, episode: Episode, earlier: Earlier | None) -> None:
    """An episode without a referral gets one where the list speaks of one; else what it says of it is corrected."""
    received_on, referral = entry.value.referral_received_on, episode.referral
    if referral is None:
        if news(entry, earlier, "referral_received_on") or found.facts.get("for_therapy"):
            found.referral = {"new": True}
            found.changes.append(Change("referral", "", _plain(received_on) or "received with this list"))
        return
    said = {"received_on": ("referral_received_on", received_on), "priority": ("priority", entry.value.priority)}
    for name, (told, now) in said.items():
        if news(entry, earlier, told) and now != getattr(referral, name):
            found.referral[name] = now
            found.changes.append(Change(name, _plain(getattr(referral, name)), _plain(now)))


def differing_person(entry: Entry, known: Known, earlier: Earlier | None) -> tuple[Facts, Facts, list[Change]]:
    """Facts and numbers to be added to what is known of a person. Names and birth date on record stand.

    A telephone, an e-mail address or a language on record stands too, unless the lists have a newer one.
    """
    found, patient = Difference(), known.patient
    if entry.value.born_on and patient.born_on is None:
        found.put("born_on", None, entry.value.born_on)
    if entry.value.interpreter and not patient.interpreter and news(entry, earlier, "interpreter"):
        found.put("interpreter", False, True)
    for name, now in _ways_to_reach(entry).items():
        _renew(found, entry, patient, earlier, name, now)
    numbers = {
        str(scheme): number.as_typed
        for name, scheme in _NUMBERS.items()
        if (number := getattr(entry.value, name)) and scheme not in known.numbers
    }
    added = [Change(scheme, "", typed) for scheme, typed in numbers.items()]
    return found.facts, numbers, found.changes + added


def _ways_to_reach(entry: Entry) -> dict[str, str]:
    value = entry.value
    return {"phone": value.phone.as_typed if value.phone else "", "email": value.email, "language": value.language}


def _renew(found: Difference, entry: Entry, patient: Patient, earlier: Earlier | None, name: str, now: str) -> None:
    was = getattr(patient, name)
    before = earlier.entry if earlier else None
    renewed = before is not None and before.says(name) and _ways_to_reach(before)[name] == was
    if now and now != was and news(entry, earlier, name) and (not was or renewed):
        found.put(name, was, now)
