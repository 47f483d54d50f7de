"""A hand that lives through random visits by the real acts."""

from collections.abc import Callable
from datetime import date, timedelta
from random import Random
from typing import Any

from caseload.actions import episodes, findings, instructions, visits
from caseload.errors import Refusal
from caseload.models import Episode, Finding, Instruction, Visit
from caseload.timetable.terms import ActivityKind, AfterVisit, Digit, Source, Suture, WoundState
from tests.record.hand_oracle import GATED
from tests.record.living import Living
from tests.scenario import Fernhollow

SURGERY = date(2026, 3, 16)
STITCHED = Suture.NON_ABSORBABLE


class Hand(Living):
    """One patient, whose right hand has up to two digits on the caseload at a time."""

    passing = (0, 0, 1, 1, 2, 4)

    def __init__(self, clinic: Fernhollow, chance: Random) -> None:
        super().__init__(clinic, chance, SURGERY + timedelta(days=12))
        self.patient = clinic.patient()
        self.acts = [*[self.visit] * 12, self.unsay_visit, self.unsay, self.correct_wound, self.correct_stitches,
                     self.vouch, self.correct_facts, self.correct_facts, self.order, self.unsay_order, self.unflag,
                     self.unflag, self.discharge, self.discharge, self.discharge, self.another_digit]  # fmt: skip
        self.open(Digit.RING)
        self.open(Digit.INDEX)

    def open_now(self) -> list[Episode]:
        return list(Episode.objects.open().filter(patient=self.patient).order_by("pk"))

    def episode(self) -> Episode:
        return self.pick(Episode.objects.filter(patient=self.patient))

    def finding(self, **fields: Any) -> Finding:
        return self.pick(Finding.objects.standing().filter(episode__patient=self.patient, **fields))

    def open(self, digit: Digit) -> None:
        suture = self.chance.choice([STITCHED, STITCHED, Suture.ABSORBABLE, *Suture])
        put_in = None if suture == Suture.NONE else self.chance.choice([4, 4, None])
        self.clinic.episode(self.patient, today=self.today, digit=digit, suture=suture, surgery_on=SURGERY,
                            stitches_in=put_in, for_therapy=False, work="heavy-manual")  # fmt: skip

    def another_digit(self) -> None:
        if len(self.open_now()) > 1:
            raise Refusal("enough", "Two digits at a time.")
        self.open(self.chance.choice(list(Digit)))

    # ---- visits ----

    def visit(self) -> None:
        shown = self.open_now()
        if not shown:
            return self.another_digit()
        looks = [self.look(episode) for episode in self.chance.sample(shown, self.chance.randint(1, len(shown)))]
        source = self.chance.choice([*[Source.SEEN] * 5, *Source])
        on = self.today - timedelta(days=self.chance.choice([0, 0, 0, 0, 2]))
        return self.record(on, source, looks)

    def record(self, on: date, source: Source, looks: list[visits.Look]) -> None:
        visits.record(self.patient, by=self.by(), on=on, source=source, reported_by="Nurse", looks=looks)

    def look(self, episode: Episode) -> visits.Look:
        """What can have been found, with counts that mostly add up; a removal brings the wound along."""
        found = [self.removal(episode)] if episode.suture != Suture.NONE and self.chance.random() < 0.6 else []
        if found or self.chance.random() < 0.6:
            found.append({"kind": "wound", "wound": self.chance.choice([*[WoundState.CLOSED] * 4, *WoundState])})
        if episode.suture == Suture.ABSORBABLE and self.chance.random() < 0.4:
            found.append({"kind": self.chance.choice(["trim-needed", "trimmed"])})
        if self.chance.random() < 0.07:
            found.append({"kind": "red-flag", "note": "sent to the on-call surgeon"})
        after = self.chance.choice([*[AfterVisit.CONTINUE] * 7, AfterVisit.REVIEW, AfterVisit.DISCHARGE])
        begun = [ActivityKind(self.chance.choice(sorted(GATED)))] if self.chance.random() < 0.3 else []
        facts = self.facts() if self.chance.random() < 0.08 else {}
        return visits.Look(episode, after, findings=found, facts=facts, started=begun, in_days=7)

    def removal(self, episode: Episode) -> dict[str, Any]:
        rows = Finding.objects.standing().filter(episode=episode, kind="stitches").exclude(source="patient")
        still = max(0, (episode.stitches_in or 4) - sum(row.stitches_out or 0 for row in rows))
        out, left = self.chance.choice([*[(still, 0)] * 4, (1, max(1, still - 1)), (0, 1), (2, 0)])
        confirmed = episode.stitches_in is None or self.chance.random() < 0.3
        return {"kind": "stitches", "stitches_out": out, "stitches_left": left, "confirmed_full": confirmed}

    # ---- what is put right ----

    def unsay_visit(self) -> None:
        rows = Visit.objects.filter(patient=self.patient, withdrawn_at=None)
        visits.withdraw(self.pick(rows), by=self.by(), why="other hand")

    def unsay(self) -> None:
        findings.withdraw(self.finding(), by=self.by(), why="other hand")

    def correct_wound(self) -> None:
        findings.correct(self.finding(kind="wound"), by=self.by(), wound=self.chance.choice(list(WoundState)))

    def correct_stitches(self) -> None:
        left = self.chance.randrange(3)
        counts = {"stitches_out": 4 - left, "stitches_left": left}
        findings.correct(self.finding(kind="stitches"), by=self.by(), **counts)

    def vouch(self) -> None:
        findings.countersign(self.finding(source__in=["reported", "photo"]), by=self.by())

    def facts(self) -> dict[str, Any]:
        return self.chance.choice(
            [{"suture": self.chance.choice(list(Suture))}, {"stitches_in": 4}, {"stitches_in": 6}]
        )

    def correct_facts(self) -> None:
        episodes.correct(self.episode(), by=self.by("admin"), version=None, **self.facts())

    # ---- what goes on ----

    def order(self) -> None:
        item = self.chance.choice(["stitches-out", "tight-grip", "scar-massage"])
        days = {"earliest": 12, "target": 14, "latest": 20} if item == "stitches-out" else {"from_day": 3}
        give: Callable[..., Instruction] = instructions.give
        give(self.episode(), by=self.by(), item=item, by_whom="Surgeon", why="repair", **days)

    def unsay_order(self) -> None:
        given = Instruction.objects.filter(episode__patient=self.patient, withdrawn_at=None)
        instructions.withdraw(self.pick(given), by=self.by(), why="healed well")

    def unflag(self) -> None:
        flag = self.finding(kind="red-flag", closure=None)
        findings.close_red_flag(flag, by=self.by(), escalated_to="surgeon", outcome="well")

    def discharge(self) -> None:
        own = {"version": None, "how": "discharged", "on": self.today}
        episodes.close(self.episode(), by=self.by("lead"), **own)
