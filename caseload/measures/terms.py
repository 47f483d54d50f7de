"""The words of measuring a hand. Each state word is written once, here."""

from enum import StrEnum


class MeasureKind(StrEnum):
    """What is measured at a visit, in the order in which a hand is examined. No date hangs on any of them."""

    INFECTION = "infection"
    PAIN = "pain"
    SWELLING = "swelling"
    MOTION = "motion"
    TRIGGER = "trigger"
    GRIP = "grip"
    QUICKDASH = "quickdash"


OF_HAND = frozenset({MeasureKind.SWELLING, MeasureKind.GRIP})
"""Measured of the whole hand, so it belongs to every operated digit of that hand."""
OF_PERSON = frozenset({MeasureKind.QUICKDASH})
"""Answered by the person, so it belongs to every episode of theirs."""


class Joint(StrEnum):
    """A joint of a digit: fingers have MCP, PIP and DIP, the thumb MCP and IP."""

    MCP = "mcp"
    PIP = "pip"
    DIP = "dip"
    IP = "ip"


class TriggerScale(StrEnum):
    """The two usual scales; their numbers do not mean the same, so a grade is never without its scale."""

    GREEN = "green"
    QUINNELL = "quinnell"


class InfectionKind(StrEnum):
    SUPERFICIAL = "superficial"
    DEEP = "deep"


class Band(StrEnum):
    """The four bands in which motion is usually told."""

    EXCELLENT = "excellent"
    GOOD = "good"
    FAIR = "fair"
    POOR = "poor"


class Quantity(StrEnum):
    """What is followed over time: one number for each time it was measured."""

    PAIN = "pain"
    MOTION = "motion"
    GRIP = "grip"
    DISABILITY = "disability"


class Whole(StrEnum):
    """What the shares of a course are of: the other hand's, what is usual, or now one and now the other."""

    OTHER = "other"
    USUAL = "usual"
    MIXED = "mixed"
