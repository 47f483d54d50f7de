"""The rounds of a race, and what must come out of each: one winner, and losers who are told who has the slot.

Five rounds in ten are bookings of one slot by sixteen people, two are moves of sixteen appointments to one slot, three
are moves and cancellations of one appointment at the same moment.
"""

import random
from collections import Counter
from typing import Any
from uuid import uuid4

from caseload.models import Appointment, Session, Slot
from tests.races.ground import SECRET, Ground, Runner
from tests.races.racers import Answer, Field, Sent

GROUP = 250
"""Rounds that one group of patients runs, so that no record grows past what a record is."""
REFUSED = (409, 422)


class Race:
    def __init__(self, ground: Ground, field: Field, seed: int = 1) -> None:
        self.ground, self.field, self.chance = ground, field, random.Random(seed)
        self.waits: list[float] = []
        self.rounds: Counter[str] = Counter()
        self.slots = list(Slot.objects.filter(session__in=ground.sessions).values_list("session__code", "minute"))

    def run(self, rounds: int) -> None:
        while (done := self.rounds.total()) < rounds:
            self._group(min(GROUP, rounds - done))

    def _group(self, rounds: int) -> None:
        bookers, movers = self.ground.runners(), self.ground.runners()
        for mover in movers:
            self._alone(book(mover, self._free()))
        for number in range(rounds):
            if number % 10 in (0, 3, 5, 7, 9):
                self._booking(bookers)
            elif number % 10 in (1, 6):
                self._moving(movers)
            else:
                self._against(bookers)
        self._leave([*bookers, *movers])

    def _booking(self, runners: list[Runner]) -> None:
        """Sixteen bookings of one slot."""
        self._leave(runners)
        slot = self._free()
        answers = self._sent("book", [book(runner, slot) for runner in runners])
        winner = runners[self._one(answers)]
        assert has(winner, slot), "the winner does not have the slot"
        self._named(answers, winner)

    def _moving(self, runners: list[Runner]) -> None:
        """Sixteen appointments that are all moved to one slot."""
        slot = self._free()
        answers = self._sent("move", [move(runner, appointment(runner), slot) for runner in runners])
        winner = runners[self._one(answers)]
        assert has(winner, slot), "the winner does not have the slot"
        self._named(answers, winner)

    def _against(self, runners: list[Runner]) -> None:
        """One appointment, cancelled by some and moved by others at the same moment."""
        owner = self.chance.choice(runners)
        if appointment(owner) is None:
            self._leave(runners)
            self._alone(book(owner, self._free()))
        now, there = appointment(owner), self._free()
        forms = [cancel(each, now) if place % 2 else move(each, now, there) for place, each in enumerate(runners)]
        self._one(self._sent("against", forms))
        after = appointment(owner)
        assert after is None or has(owner, there), "neither moved nor cancelled"
        assert after is None or after.sequence == now.sequence + 1

    def _sent(self, kind: str, forms: list[Sent]) -> list[Answer]:
        answers = self.field.run(forms)
        self.rounds[kind] += 1
        self.waits += [answer.seconds for answer in answers]
        return answers

    def _one(self, answers: list[Answer]) -> int:
        """Which of them won: exactly one did, and every other was refused on a page of ours."""
        statuses = [answer.status for answer in answers]
        assert statuses.count(302) == 1, statuses
        wrong = [answer for answer in answers if not answer.won and answer.status not in REFUSED]
        assert not wrong, (statuses, wrong[0].text[:400])
        return statuses.index(302)

    def _named(self, answers: list[Answer], winner: Runner) -> None:
        for answer in answers:
            told = answer.won or f"was taken meanwhile: {winner.patient} has it" in answer.text
            assert told, (winner.patient, answer.text)

    def _leave(self, runners: list[Runner]) -> None:
        """Whoever of them has an appointment cancels it."""
        for now in booked(runners):
            self._alone(cancel(runners[0], now))

    def _alone(self, form: Sent) -> None:
        """One form with nobody beside it; it is no round."""
        from http.client import HTTPConnection

        from tests.races.racers import post

        answer = post(HTTPConnection("127.0.0.1", self.field.port, timeout=60), form)
        assert answer.won, (answer.status, answer.text)

    def _free(self) -> tuple[str, int]:
        taken = set(Appointment.objects.filter(live=True).values_list("session__code", "start_minute"))
        return self.chance.choice([slot for slot in self.slots if slot not in taken])


def appointment(runner: Runner) -> Appointment | None:
    return Appointment.objects.filter(purposes__follow_up=runner.follow_up, live=True, outcome="").first()


def booked(runners: list[Runner]) -> list[Appointment]:
    rows = [runner.follow_up for runner in runners]
    return list(Appointment.objects.filter(purposes__follow_up__in=rows, live=True, outcome=""))


def held(slot: tuple[str, int]) -> Appointment:
    """Whoever has a slot."""
    session = Session.objects.get(code=slot[0])
    return Appointment.objects.get(seats__slot__session=session, seats__slot__minute=slot[1])


def has(runner: Runner, slot: tuple[str, int]) -> bool:
    return appointment(runner) == held(slot)


def book(runner: Runner, slot: tuple[str, int]) -> Sent:
    fields = placed(slot) | {"follow_ups": [f"{runner.episode}/{runner.key}"]}
    return Sent(f"/episodes/{runner.episode}/appointments/new/", fields, runner.cookie)


def move(runner: Runner, now: Any, slot: tuple[str, int]) -> Sent:
    return Sent(f"/appointments/{now.code}/move/", placed(slot) | {"version": now.version}, runner.cookie)


def cancel(runner: Runner, now: Any) -> Sent:
    fields = {"outcome": "cancelled-by-patient", "why": "race", "version": now.version}
    return Sent(f"/appointments/{now.code}/outcome/", own() | fields, runner.cookie)


def placed(slot: tuple[str, int]) -> dict[str, Any]:
    return own() | {"slot": f"{slot[0]}/{slot[1]}", "way": "in-person", "told": "told"}


def own() -> dict[str, Any]:
    return {"csrfmiddlewaretoken": SECRET, "key": str(uuid4())}
