"""An episode as the object of its line, so that reading can be tried on whatever facts there are."""

from collections.abc import Iterable
from typing import Any

from caseload.exchange.episode_lines import EPISODE
from caseload.timetable.facts import EpisodeFacts, Finding


def episode_body(facts: EpisodeFacts) -> dict[str, Any]:
    """The line of an episode as an object that `read_episode` reads back to equal facts."""
    body: dict[str, Any] = {name: getattr(facts, name) for name in EPISODE}
    body["findings"] = [_said(finding) for finding in facts.findings]
    body["reviews"] = [_said(review) for review in facts.reviews]
    body["appointments"] = [_said(held) for held in facts.appointments]
    body["done"] = [_said(done) for done in facts.done]
    body["instructions"] = [_said(given, from_day="from") for given in facts.instructions]
    for name in ("surgery_on", "born_on", "recorded_on", "closed_on"):
        body[name] = _plain(body[name])
    return body


def _said(part: object, **names: str) -> dict[str, Any]:
    """A part of an episode without its empty fields."""
    slots: Iterable[str] = type(part).__slots__  # type: ignore[attr-defined]
    values = {names.get(slot, slot): _plain(getattr(part, slot)) for slot in slots}
    kept = {name: value for name, value in values.items() if value is not None and value is not False}
    if isinstance(part, Finding):
        return kept
    return kept if getattr(part, "confirmed", True) else kept | {"confirmed": False}


def _plain(value: Any) -> Any:
    return value.isoformat() if hasattr(value, "isoformat") else value
