"""A caseload to measure with: episodes of every kind in the shares of a usual clinic, from a fixed seed.

Half have findings, a third appointments; one in ten each had a partial removal, a wound that was not closed, a report
from elsewhere. Surgery days run over two years, so that few episodes share theirs.
"""

import random
from collections.abc import Iterator
from datetime import date, timedelta

from caseload.timetable.facts import Appointment, EpisodeFacts, Finding
from caseload.timetable.terms import Digit, FindingKind, Outcome, Side, Source, Suture, Technique, WoundState

FIRST = date(2025, 1, 1)
SPREAD = 730
SUTURES = [Suture.NON_ABSORBABLE] * 6 + [Suture.ABSORBABLE] * 2 + [Suture.NONE, Suture.UNKNOWN]


def episodes(count: int, seed: int = 1) -> Iterator[EpisodeFacts]:
    """So many episodes, the same for the same seed."""
    chance = random.Random(seed)
    return (_episode(chance, f"e{number}") for number in range(count))


def _episode(chance: random.Random, ref: str) -> EpisodeFacts:
    surgery_on = FIRST + timedelta(days=chance.randrange(SPREAD))
    closed_on = surgery_on + timedelta(days=80) if chance.random() < 0.2 else None
    return EpisodeFacts(
        ref=ref,
        surgery_on=surgery_on,
        side=chance.choice(list(Side)),
        digit=chance.choice(list(Digit)),
        suture=chance.choice(SUTURES),
        technique=Technique.PERCUTANEOUS if chance.random() < 0.1 else Technique.OPEN,
        raised_risk=chance.random() < 0.2,
        therapy_referral=chance.random() < 0.5,
        stitches_in=4,
        findings=tuple(_findings(chance, surgery_on)) if chance.random() < 0.5 else (),
        appointments=tuple(_appointments(chance, surgery_on)) if chance.random() < 0.33 else (),
        closed_on=closed_on,
    )


def _findings(chance: random.Random, surgery_on: date) -> Iterator[Finding]:
    on = surgery_on + timedelta(days=chance.choice([12, 13, 14, 14, 15, 17]))
    source = Source.REPORTED if chance.random() < 0.1 else Source.SEEN
    if chance.random() < 0.1:
        yield Finding("f1", FindingKind.STITCHES, on, source, out=2, left=2)
        on += timedelta(days=5)
    left = 0 if chance.random() < 0.9 else 2
    yield Finding("f2", FindingKind.STITCHES, on, source, out=2, left=left, confirmed_full=True)
    state = WoundState.NOT_CLOSED if chance.random() < 0.1 else WoundState.CLOSED
    yield Finding("f3", FindingKind.WOUND, on, source, state=state)


def _appointments(chance: random.Random, surgery_on: date) -> Iterator[Appointment]:
    yield Appointment(surgery_on + timedelta(days=14), ("stitches-out",), chance.choice([None, *Outcome]))
    if chance.random() < 0.5:
        yield Appointment(surgery_on + timedelta(days=42), ("outcome-review",))
