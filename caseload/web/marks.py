"""A state is always a word and a shape: which shape goes with which word, drawn from the sprite of each page."""

import re
from enum import StrEnum
from html import escape

from django.utils.html import conditional_escape
from django.utils.safestring import SafeString, mark_safe

from caseload.access.people import Presence
from caseload.timetable.terms import Headline, Lock, Status
from caseload.wording import label
from caseload.wording.speech import Speech

SHAPES: dict[StrEnum, str] = {
    Status.DONE: "tick",
    Status.NOT_NEEDED: "dash",
    Status.AHEAD: "ring",
    Status.OPEN: "disc",
    Status.LATE: "tri",
    Headline.RED_FLAG: "flag",
    Headline.SAFETY_ALERT: "gem",
    Headline.NO_NEXT_STEP: "hole",
    Headline.MISSING_FACT: "hole",
    Headline.NO_OUTCOME: "box",
    Headline.NOT_REBOOKED: "half",
    Headline.VISIT_UNBOOKED: "tri",
    Headline.BOOKED_OUTSIDE: "aside",
    Headline.TASK_LATE: "tri",
    Headline.UNTOLD: "still",
    Lock.WOUND_CLOSED: "shut",
    Lock.STITCHES_OUT: "shut",
    Lock.TRIMMED: "shut",
    Lock.INSTRUCTION: "shut",
    Lock.DAY: "ring",
    Presence.INVITED: "ring",
    Presence.ACTIVE: "disc",
    Presence.WITHOUT_PASSWORD: "half",
    Presence.GONE: "dash",
}
URGENT = frozenset({Headline.RED_FLAG, Headline.SAFETY_ALERT})

DATED = re.compile(r"\b[A-Z][a-z]{2} \d{1,2} [A-Z][a-z]{2} \d{4}\b(?:, \d\d:\d\d)?")


def whole(said: str) -> SafeString:
    """Words in which no date, with its time where it has one, breaks at the end of a line."""
    return mark_safe(DATED.sub(r'<span class="nowrap">\g<0></span>', conditional_escape(said)))


def shape(name: str) -> str:
    return f'<svg class="mark" aria-hidden="true"><use href="#m-{name}"/></svg>'


_DRAWN = {str(word): shape(name) for word, name in SHAPES.items()}
IN_HAND = f"{shape('ring')}in hand"
PLANNED = f"{shape('dash')}planned"


def marked(word: StrEnum) -> SafeString:
    """The shape of a state and its word."""
    return mark_safe(f"{_DRAWN[word]}{escape(label(word))}")


def headline(word: str | None, say: Speech) -> str:
    """A headline with its shape; empty is in hand, None is planned. The two that cannot wait are set in alarm."""
    if not word:
        return PLANNED if word is None else IN_HAND
    drawn = f"{_DRAWN[word]}{escape(say.label(Headline(word)))}"
    return f'<b class="alarm">{drawn}</b>' if word in URGENT else drawn
