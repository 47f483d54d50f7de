"""Random visits of a hand with several operated digits, held after every step to an oracle of its own: a state machine
that Hypothesis drives.

Nothing that waits for a wound is open while the last look that counts says anything but closed, on this digit or, for
the whole hand, on another; nobody is discharged with stitches in or a red flag open; stored equals derived.
`VISITS` sets how many hands are played.
"""

import os
from collections import Counter
from random import Random

import pytest
from django.db import transaction
from hypothesis import HealthCheck, Phase, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, rule, run_state_machine_as_test

from caseload.actions.rederive import rederive
from caseload.models import Episode
from caseload.reads.timetables import hand_timetable
from caseload.timetable.terms import Lock
from tests.record.hand_oracle import GATED, OF_HAND, digits_of
from tests.record.hands import Hand
from tests.scenario import by, fernhollow

HANDS = int(os.environ.get("VISITS", "4"))
STEPS = 40


class Held(Hand):
    """A hand whose every step is held to the oracle. `met` counts what was met: no test passes by idling."""

    def __init__(self, clinic, chance: Random) -> None:
        super().__init__(clinic, chance)
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


class Machine(RuleBasedStateMachine):
    """Each example lives in a transaction that is rolled back. `met` adds up over all of them."""

    met: Counter[str] = Counter()

    def __init__(self) -> None:
        super().__init__()
        self.lived = transaction.atomic()
        self.lived.__enter__()

    @initialize(seed=st.integers(0, 2**32))
    def begins(self, seed: int) -> None:
        """A seed of chance, not a chance that Hypothesis bends: bent, most visits are such as are refused."""
        self.hand = Held(fernhollow(), Random(seed))

    @rule()
    def steps(self) -> None:
        self.hand.step()

    @invariant()
    def holds(self) -> None:
        self.hand.held()

    def teardown(self) -> None:
        Machine.met += self.hand.met
        transaction.set_rollback(True)
        self.lived.__exit__(None, None, None)


@pytest.mark.django_db
def test_nothing_opens_too_soon_and_nobody_is_discharged_too_soon():
    """In the suite the hands are always the same and a failure is told as it came; by command it is cut short."""
    by_command = "VISITS" in os.environ
    how = settings(
        max_examples=HANDS, stateful_step_count=STEPS, deadline=None, suppress_health_check=list(HealthCheck),
        derandomize=not by_command, phases=list(Phase) if by_command else [Phase.generate],
    )  # fmt: skip
    Machine.met.clear()
    run_state_machine_as_test(Machine, settings=how)
    assert Machine.met["visits"] >= 5 * HANDS and Machine.met["shut"] and Machine.met["open"]
