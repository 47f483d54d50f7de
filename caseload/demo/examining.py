"""A visit as a therapist records it: what belongs to what was found: what was measured, may begin, and was taught."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from datetime import date
from typing import Final

from caseload.actions.visits import Look
from caseload.demo.measuring import Hand
from caseload.measures.terms import OF_HAND, OF_PERSON, MeasureKind
from caseload.models import Episode, Work
from caseload.timetable.activities import ADULT_AGE
from caseload.timetable.terms import ActivityKind, Digit, FollowUpKind, WoundState

EARLY: Final = frozenset({MeasureKind.PAIN, MeasureKind.MOTION})
REVIEW: Final = EARLY | {MeasureKind.SWELLING, MeasureKind.TRIGGER, MeasureKind.GRIP, MeasureKind.QUICKDASH}
BEFORE: Final = frozenset({MeasureKind.PAIN, MeasureKind.TRIGGER, MeasureKind.QUICKDASH})
MEASURED: Final = {
    FollowUpKind.STITCHES_OUT: EARLY,
    FollowUpKind.WOUND_CHECK: EARLY,
    FollowUpKind.STITCHES_RECHECK: frozenset({MeasureKind.PAIN}),
    FollowUpKind.WOUND_RECHECK: frozenset({MeasureKind.PAIN}),
    FollowUpKind.THERAPY_REVIEW: REVIEW,
    FollowUpKind.SET_REVIEW: EARLY | {MeasureKind.GRIP},
    FollowUpKind.OUTCOME_REVIEW: REVIEW,
}
OPEN_WOUND: Final = (
    "Dressing changed, to be kept clean and dry. Bending as before, nothing heavy. When to ring at once."
)
TAUGHT: Final = {
    FollowUpKind.STITCHES_OUT: "Joint by joint, then hook to fist, ten times, three to four times a day. Scar care.",
    FollowUpKind.WOUND_CHECK: "Joint by joint, then hook to fist, ten times, three to four times a day. Scar care.",
    FollowUpKind.STITCHES_RECHECK: "Dressing off from tomorrow. Scar care shown.",
    FollowUpKind.WOUND_RECHECK: "Dressing off. Scar care shown.",
    FollowUpKind.THERAPY_REVIEW: "Scar massage 5 minutes, three times a day; stretch held 10 seconds, ten times.",
    FollowUpKind.SET_REVIEW: "Putty for five minutes, twice a day; stretch as before.",
    FollowUpKind.OUTCOME_REVIEW: "Lifting to be built up week by week. Massage for as long as the scar is tender.",
}
OF_THE_DIGIT: Final = {FollowUpKind.THERAPY_REVIEW: (ActivityKind.SCAR_MASSAGE, ActivityKind.PASSIVE_STRETCH)}
"""What a digit may begin once its wound is closed."""
OF_THE_HAND: Final = {
    FollowUpKind.STITCHES_OUT: (ActivityKind.DRIVING,),
    FollowUpKind.WOUND_CHECK: (ActivityKind.DRIVING,),
    FollowUpKind.THERAPY_REVIEW: (ActivityKind.SOAKING,),
    FollowUpKind.SET_REVIEW: (ActivityKind.TIGHT_GRIP,),
    FollowUpKind.OUTCOME_REVIEW: (ActivityKind.HEAVY_LIFTING,),
}
"""What the hand may begin once every wound of it is closed, where the surgeon ordered nothing else."""
AT_WORK: Final[Mapping[tuple[str, FollowUpKind], tuple[ActivityKind, ...]]] = {
    (Work.LIGHT_MANUAL, FollowUpKind.STITCHES_OUT): (ActivityKind.LIGHT_MANUAL_WORK,),
    (Work.HEAVY_MANUAL, FollowUpKind.OUTCOME_REVIEW): (ActivityKind.HEAVY_WORK,),
    (Work.WET_OR_DIRTY, FollowUpKind.OUTCOME_REVIEW): (ActivityKind.HEAVY_WORK,),
}
NOT_BEFORE: Final = {FollowUpKind.THERAPY_REVIEW: 14}
"""Days after surgery: a needle release can be reviewed before the hand may be soaked."""
NOT_FOR_CHILDREN: Final = frozenset({ActivityKind.DRIVING})


class Examination:
    """The examining of one patient's operated hand, visit after visit. `closed` are the episodes whose wound was seen
    closed last; nothing of the hand begins where the surgeon `ordered` something about it.
    """

    def __init__(self, hand: Hand, born_on: date | None, surgery_on: date) -> None:
        self.hand, self.surgery_on = hand, surgery_on
        self.child = born_on is not None and (surgery_on - born_on).days < ADULT_AGE * 365.25
        self.closed: set[int] = set()
        self.ordered = False

    def heed(self, looks: Sequence[Look]) -> None:
        """Keep in mind how the wounds were seen."""
        for look in looks:
            for wound in (said["wound"] for said in look.findings if said.get("wound")):
                (self.closed.add if wound == WoundState.CLOSED else self.closed.discard)(look.episode.pk)

    def whole(self, episodes: Iterable[Episode]) -> bool:
        """Whether every wound of the hand is closed."""
        return all(episode.pk in self.closed for episode in episodes)

    def complete(
        self, kind: FollowUpKind, looks: Sequence[Look], on: date, *, seen: bool, begins: bool, whole: bool
    ) -> list[Look]:
        """The looks with what is measured and, if something `begins`, begun at such a visit; from afar only the pain is
        asked for. `whole`: every digit of the hand was looked at and is closed.
        """
        kinds = MEASURED[kind] if seen else frozenset({MeasureKind.PAIN})
        if not whole:
            kinds -= {MeasureKind.GRIP}
        return [
            replace(
                self.measured(look, kinds if place == 0 else kinds - OF_HAND - OF_PERSON, on),
                started=self._begins(kind, look.episode, on, of_hand=whole and place == 0) if begins else (),
            )
            for place, look in enumerate(looks)
        ]

    def measured(self, look: Look, kinds: frozenset[MeasureKind], on: date) -> Look:
        """The look with what is measured of it; of a child only motion, and nothing where the digit is not known."""
        day, digit = (on - self.surgery_on).days, look.episode.digit
        if not digit:
            return look
        kinds = kinds & {MeasureKind.MOTION} if self.child else kinds
        return replace(look, measured=self.hand.measured(kinds, day, Digit(digit)) | dict(look.measured))

    def _begins(self, kind: FollowUpKind, episode: Episode, on: date, *, of_hand: bool) -> list[ActivityKind]:
        own = [*OF_THE_DIGIT.get(kind, ())] if episode.pk in self.closed else []
        if not of_hand or self.ordered or (on - self.surgery_on).days < NOT_BEFORE.get(kind, 0):
            return own
        hand = [*OF_THE_HAND.get(kind, ()), *AT_WORK.get((episode.work, kind), ())]
        return own + [each for each in hand if not self.child or each not in NOT_FOR_CHILDREN]
