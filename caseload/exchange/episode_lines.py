"""Episodes as JSON lines: one object a line, read into facts; dates are ISO, words are the trade's.

What is absent takes the first or empty value, except the suture, which is then unknown; a null side or digit is a
missing fact. A line is refused whole, with the place of the field, what is wrong and what would be right.
"""

import json
from collections.abc import Iterable
from typing import Final

from caseload.exchange.episode_fields import (
    MOST_STITCHES,
    read_appointment,
    read_done,
    read_finding,
    read_instruction,
    read_review,
)
from caseload.timetable.facts import EpisodeFacts
from caseload.timetable.fields import Fields, refusal, shown
from caseload.timetable.terms import Digit, Ending, Side, Suture, Technique

MOST_BYTES: Final = 1_000_000
"""A line longer than this is no episode; reading stops there, so that memory stays flat."""
EPISODE: Final = frozenset({
    "ref", "surgery_on", "side", "digit", "suture", "technique", "raised_risk", "therapy_referral", "stitches_in",
    "born_on", "recorded_on", "findings", "reviews", "instructions", "appointments", "done", "closed_on", "closed_as",
})  # fmt: skip


def read_episode(line: bytes) -> EpisodeFacts:
    """The facts on one line. Raises Refusal `unreadable`, or that of an instruction."""
    fields = Fields(_parsed(line), EPISODE)
    facts = EpisodeFacts(
        ref=fields.text_or("ref", ""),
        surgery_on=fields.day_or("surgery_on", None),
        side=fields.word_or("side", Side, None) if fields.has("side") else Side.LEFT,
        digit=fields.word_or("digit", Digit, None) if fields.has("digit") else Digit.THUMB,
        suture=fields.word_or("suture", Suture, Suture.UNKNOWN),
        technique=fields.word_or("technique", Technique, Technique.OPEN),
        raised_risk=fields.flag("raised_risk"),
        therapy_referral=fields.flag("therapy_referral"),
        stitches_in=fields.whole_or("stitches_in", None, 0, MOST_STITCHES),
        born_on=fields.day_or("born_on", None),
        recorded_on=fields.day_or("recorded_on", None),
        findings=fields.each("findings", read_finding),
        reviews=fields.each("reviews", read_review),
        instructions=fields.each("instructions", read_instruction),
        appointments=fields.each("appointments", read_appointment),
        done=fields.each("done", read_done),
        closed_on=fields.day_or("closed_on", None),
        closed_as=fields.word_or("closed_as", Ending, None),
    )
    _check(facts)
    return facts


def _parsed(line: bytes) -> dict[str, object]:
    if len(line) > MOST_BYTES:
        raise refusal("line", f"it is longer than {MOST_BYTES} bytes", "give one episode a line")
    try:
        body = json.loads(line.decode("utf-8-sig"))
    except UnicodeDecodeError as error:
        raise refusal("line", "it is not UTF-8", "save the file as UTF-8") from error
    except json.JSONDecodeError as error:
        wrong = f"it is not JSON ({error.msg.lower()} at column {error.colno})"
        raise refusal("line", wrong, 'give one object, as {"ref": "a1", "surgery_on": "2026-03-20"}') from error
    except (RecursionError, ValueError) as error:
        raise refusal("line", "it is nested too deeply or holds too long a number", "give one plain object") from error
    if not isinstance(body, dict):
        raise refusal("line", f"{shown(body)} is not an object", "give one in braces")
    return body


def _check(facts: EpisodeFacts) -> None:
    if facts.closed_as and not facts.closed_on:
        raise refusal("closed_on", "it is missing beside closed_as", "give the day on which the episode was closed")
    if facts.born_on and facts.surgery_on and facts.born_on > facts.surgery_on:
        raise refusal("born_on", f"{facts.born_on} is after surgery on {facts.surgery_on}", "correct one of them")
    for place, finding in enumerate(facts.findings):
        if facts.surgery_on and finding.on < facts.surgery_on:
            wrong = f"{finding.on} is before surgery on {facts.surgery_on}"
            raise refusal(f"findings[{place}].on", wrong, "correct one of them")
    _check_refs("findings", [finding.ref for finding in facts.findings])
    _check_refs("reviews", [review.ref for review in facts.reviews])


def _check_refs(name: str, refs: Iterable[str]) -> None:
    seen: set[str] = set()
    for place, ref in enumerate(refs):
        if ref in seen:
            raise refusal(f"{name}[{place}].ref", f"“{ref}” is used twice", "give each its own, or none")
        seen.add(ref)
