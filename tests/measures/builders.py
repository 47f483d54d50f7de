"""Measured values, spelt short."""

from caseload.measures.bodies import Motion, Reach
from caseload.measures.terms import Joint

FINGER = (Joint.MCP, Joint.PIP, Joint.DIP)
THUMB = (Joint.MCP, Joint.IP)


def joints(flexion: tuple[int | None, ...], deficit: tuple[int | None, ...]) -> dict[Joint, Reach]:
    """The joints of a finger (three values each) or of a thumb (two)."""
    named = FINGER if len(flexion) == len(FINGER) else THUMB
    return {joint: Reach(*angles) for joint, *angles in zip(named, flexion, deficit, strict=True)}


def bent(flexion: tuple[int | None, ...], deficit: tuple[int | None, ...], other: int | None = None) -> Motion:
    """A digit; `other` is the sum of the other hand's, put into its MCP joint with nothing lacking."""
    rest = (0,) * (len(flexion) - 1)
    opposite = {} if other is None else joints((other, *rest), (0, *rest))
    return Motion(joints(flexion, deficit), opposite)
