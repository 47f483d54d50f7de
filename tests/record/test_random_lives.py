"""Random lives through the real acts: after every act stored equals derived, and nobody is lost.

Nobody is lost: on any day each open episode has exactly one standing, and a next step with a date and an owner unless
its headline says that there is none.
"""

import os
from datetime import timedelta
from random import Random

import pytest

from caseload.actions import appointments, episodes, findings, instructions, patients, reviews
from caseload.actions.rederive import rederive
from caseload.models import Appointment, Episode, Finding
from caseload.timetable.terms import (
    ActivityKind,
    Digit,
    Ending,
    FindingKind,
    Outcome,
    Source,
    Suture,
    Technique,
    WoundState,
)
from tests.record.living import Living
from tests.scenario import TODAY


class Life(Living):
    """One patient, and the days that pass."""

    passing = range(4)

    def __init__(self, clinic, seed: int) -> None:
        super().__init__(clinic, Random(seed), TODAY)
        self.patient = clinic.patient()
        self.acts = [self.open, self.find, self.find, self.find, self.correct, self.unsay, self.vouch, self.book,
                     self.end, self.instruct, self.review, self.complete, self.flag, self.unflag, self.birth,
                     self.close, self.reopen]  # fmt: skip
        self.open()

    def episode(self) -> Episode:
        return self.pick(self.patient.episodes.all())

    def open(self) -> None:
        away = self.chance.choice([None, *range(-30, 20)])
        episodes.open_episode(
            self.patient, by=self.by("admin"), rules=self.clinic.rules, site=self.clinic.site,
            therapist=self.clinic.therapist, side=self.chance.choice(["left", "right", ""]),
            digit=self.chance.choice([*Digit, ""]), suture=self.chance.choice(list(Suture)),
            technique=self.chance.choice(list(Technique)), raised_risk=self.chance.random() < 0.3,
            stitches_in=self.chance.choice([None, 3, 4]), for_therapy=self.chance.random() < 0.7,
            surgery_on=None if away is None else self.today + timedelta(days=away),
        )  # fmt: skip

    def find(self) -> None:
        kind = self.chance.choice([FindingKind.STITCHES, FindingKind.WOUND, FindingKind.WOUND, *FindingKind])
        said = {"kind": kind, "on": self.today - timedelta(days=self.chance.randrange(3)),
                "source": self.chance.choice(list(Source)), "reported_by": "Practice nurse"}  # fmt: skip
        if kind == FindingKind.STITCHES:
            said |= {"stitches_out": self.chance.randrange(5), "stitches_left": self.chance.randrange(2)}
            said |= {"confirmed_full": self.chance.random() < 0.7}
        if kind == FindingKind.WOUND:
            said |= {"wound": self.chance.choice(list(WoundState))}
        findings.record(self.episode(), by=self.by(), **said)

    def correct(self) -> None:
        changes = [{"suture": suture} for suture in Suture]
        changes += [{"raised_risk": True}, {"surgery_on": self.today - timedelta(days=9)}, {"for_therapy": True}]
        episodes.correct(self.episode(), by=self.by("admin"), version=None, **self.chance.choice(changes))

    def finding(self, **fields) -> Finding:
        return self.pick(Finding.objects.standing().filter(episode__patient=self.patient, **fields))

    def unsay(self) -> None:
        if self.chance.random() < 0.5:
            findings.withdraw(self.finding(), by=self.by(), why="wrong hand")
        else:
            findings.correct(self.finding(kind="wound"), by=self.by(), wound=self.chance.choice(list(WoundState)))

    def vouch(self) -> None:
        findings.countersign(self.finding(), by=self.by())

    def flag(self) -> None:
        findings.record(self.episode(), by=self.by(), kind="red-flag", on=self.today, source="patient", note="fever")

    def unflag(self) -> None:
        findings.close_red_flag(self.finding(kind="red-flag"), by=self.by(), escalated_to="surgeon", outcome="well")

    def book(self) -> None:
        row = self.pick(self.episode().follow_ups.due())
        on = (row.proposed_on or row.latest_on) + timedelta(days=self.chance.choice([0, 0, 1, 9]))
        told = self.chance.choice(["told", "untold"])
        self.clinic.book([row], on, by=self.by("admin"), told=told)

    def end(self) -> None:
        appointment = self.pick(Appointment.objects.filter(patient=self.patient, outcome=""))
        appointments.end(appointment, by=self.by("admin"), outcome=self.chance.choice(list(Outcome)))

    def instruct(self) -> None:
        item = self.chance.choice(["stitches-out", *ActivityKind])
        days = {"earliest": 10, "target": 18, "latest": 25} if item == "stitches-out" else {"from_day": 30}
        instructions.give(self.episode(), by=self.by(), item=item, by_whom="Surgeon", why="swelling", **days)

    def review(self) -> None:
        reviews.set_review(self.episode(), by=self.by(), on=self.today, in_days=self.chance.randrange(1, 40))

    def complete(self) -> None:
        reviews.complete(self.pick(self.episode().follow_ups.due()), by=self.by(), on=self.today)

    def birth(self) -> None:
        patients.correct(self.patient, by=self.by("admin"), version=None, born_on=self.today.replace(year=2015))

    def close(self) -> None:
        how = self.chance.choice([Ending.DISCHARGED, Ending.TRANSFERRED, Ending.NOT_DONE])
        if self.chance.random() < 0.3:
            episodes.close(
                self.episode(), by=self.by("lead"), version=None, how=how, on=self.today, received_by="Other"
            )

    def reopen(self) -> None:
        episodes.reopen(self.episode(), by=self.by(), version=None, why="not so")


def nobody_lost(day) -> None:
    for episode in Episode.objects.on_caseload(day):
        standings = episode.standings.on(day)
        assert len(standings) == 1, (episode.pk, day)
        says_none = "no-next-step" in (standings[0].headline, *standings[0].others)
        assert says_none or (episode.next_kind and episode.next_on and episode.next_owner)
    assert not Episode.objects.filter(ended_on__isnull=False, standings__isnull=False).exists()


@pytest.mark.parametrize("seed", range(int(os.environ.get("LIVES", "3"))))
def test_after_any_act_stored_equals_derived_and_nobody_is_lost(clinic, seed):
    life = Life(clinic, seed)
    for _ in range(40):
        life.step()
        assert rederive(by=life.by(), mend=False).moved == {}
        for ahead in (0, 1, 8, 30, 200):
            nobody_lost(life.today + timedelta(days=ahead))
    assert len(life.log) > 10
