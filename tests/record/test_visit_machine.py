"""Random visits of a hand with several operated digits, held after every step to an oracle of its own.

Nothing that waits for a wound is open while the last look that counts says anything but closed, on this digit or, for
the whole hand, on another; nobody is discharged with stitches in or a red flag open; stored equals derived.
`VISITS` sets how many hands are played.
"""

import os
from collections import Counter

import pytest

from caseload.actions.rederive import rederive
from caseload.models import Episode
from caseload.reads.timetables import hand_timetable
from caseload.timetable.terms import Lock
from tests.record.hand_oracle import GATED, OF_HAND, digits_of
from tests.record.hands import Hand
from tests.scenario import by

HANDS = int(os.environ.get("VISITS", "4"))
STEPS = 40


class Held(Hand):
    """A hand whose every step is held to the oracle. `met` counts what was met: no test passes by idling."""

    def __init__(self, clinic, seed: int) -> None:
        super().__init__(clinic, seed)
        self.met: Counter[str] = Counter()

    def record(self, on, source, looks) -> None:
        super().record(on, source, looks)
        self.met["visits"] += 1
        hand = digits_of(self.open_now())
        for look in looks:
            self.judge(hand, look.episode, set(look.started))
            self.met["started"] += bool(look.started)

    def held(self) -> None:
        hand = digits_of(self.open_now())
        for digit in hand.values():
            rows = hand_timetable(digit.episode, today=self.today).activities
            unlocked = {row.kind for row in rows if not set(row.locks) - {Lock.INSTRUCTION}}
            self.met["open"] += bool(unlocked & GATED)
            self.met["shut"] += not digit.may_be_open()
            self.judge(hand, digit.episode, unlocked)
        gone = Episode.objects.filter(patient=self.patient, ended_how="discharged")
        for digit in digits_of(gone).values():
            self.met["discharged"] += 1
            assert digit.may_be_discharged(), (digit.episode, self.log)
        assert rederive(by=by(), mend=False).moved == {}, self.log

    def judge(self, hand, episode: Episode, unlocked: set[str]) -> None:
        """What is unlocked for an episode, or was started at it, was not to wait for a wound."""
        if episode.pk in hand and not hand[episode.pk].may_be_open():
            assert not unlocked & GATED, (episode, unlocked & GATED, self.log)
        if not all(digit.may_be_open() for digit in hand.values()):
            assert not unlocked & OF_HAND, (episode, unlocked & OF_HAND, self.log)


@pytest.mark.parametrize("seed", range(HANDS))
def test_nothing_opens_too_soon_and_nobody_is_discharged_too_soon(clinic, seed):
    hand = Held(clinic, seed)
    hand.held()
    for _ in range(STEPS):
        hand.step()
        hand.held()
    assert hand.met["visits"] and hand.met["shut"]
