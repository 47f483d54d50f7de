"""A clinic with something behind every address: of one's own, of a colleague's, closed, and not there."""

from dataclasses import dataclass, field, replace
from datetime import date
from typing import Any

from allauth.mfa.models import Authenticator
from django.urls import resolve

from caseload.access.addresses import Thing
from caseload.access.objects import Whose
from caseload.actions import appointments, episodes, feeds, filing, findings, instructions, intake, referrals, visits
from caseload.actions.rule_changes import propose
from caseload.actions.service import load_rules
from caseload.measures.bodies import Pain
from caseload.measures.terms import MeasureKind
from caseload.models import (
    Absence,
    Closure,
    Episode,
    FillPlan,
    FollowUp,
    Job,
    JobFile,
    LetterBatch,
    Session,
    Staff,
    Visit,
)
from caseload.timetable.terms import AfterVisit, Ending, Owner
from caseload.web.set_password import invitation_of
from tests.record.acts import CALLS
from tests.record.before import FLAG, REPORT, weekly
from tests.scenario import TODAY, Fernhollow, by, fernhollow, written

Named = dict[str, Any]
LIST = b"Surname,First name,Surgery date,Side,Digit\nAshdown,Marian,2026-03-20,right,ring\n"
MISSING: dict[str, Any] = {
    "code": "nosuchthing0", "pk": 2**31, "key": "0" * 40, "uidb64": "nosuchthing0", "token": "x-x",
}  # fmt: skip


@dataclass
class World:
    """`behind` has what an address names, by whose and by thing; `keys` the key of a row within that, by address."""

    clinic: Fernhollow
    colleague: Staff
    behind: dict[Whose, dict[Thing, Named]] = field(default_factory=dict)
    keys: dict[Whose, dict[str, Named]] = field(default_factory=dict)
    jobs: dict[Owner | None, Named] = field(default_factory=dict)

    def person(self, role: Owner | None) -> Staff:
        """Who holds a role; None is the colleague."""
        return getattr(self.clinic, str(role)) if role else self.colleague

    def names(self, name: str, thing: Thing, whose: Whose, role: Owner) -> Named:
        """What stands in an address, for somebody of this role."""
        owner = None if whose is Whose.OTHER else role
        if thing is Thing.JOB:
            return self.jobs[owner]
        if thing is Thing.OWN_KEY:
            return {"pk": passkey(self.person(owner))}
        return self.behind[whose][thing] | self.keys[whose].get(name, {})

    def sent(self, whose: Whose) -> dict[str, Named]:
        """What the forms of the booking list send of a patient."""
        code = self.behind[whose][Thing.EPISODE]["code"]
        free = FollowUp.objects.due().filter(episode__code=code, minutes__gt=0).exclude(purposes__live=True)
        called = {"row": f"{code}/{free.earliest('pk').key}", "reached": "no-answer"}
        told = {"appointment": self.behind[whose][Thing.APPOINTMENT]["code"], "said": "told"}
        return {
            "to-book-visit": called | {"again": "1"}, "to-book-call": called, "to-book-told": told,
            "to-book-open": called,
        }  # fmt: skip


def world() -> World:
    clinic = fernhollow()
    colleague = Staff.objects.create(username="colin", name="Colin Marsh", is_therapist=True)
    made = World(clinic, colleague)
    for on, whose in enumerate(Whose, 13):
        _one_patient(made, whose, colleague if whose is Whose.OTHER else clinic.therapist, date(2026, 4, on))
    load_rules(replace(written("two-week"), version="2"), by=by())
    everybodys = _of_the_clinic(clinic) | {Thing.NONE: {}}
    for whose in Whose:
        made.behind[whose] |= everybodys
    for role in (*Owner, None):
        made.jobs[role] = {"code": _job(_with_password(made.person(role)))}
    for whose in Whose:
        made.behind[whose][Thing.KEY] |= resolve(invitation_of(clinic.admin)).kwargs
    return made


def _one_patient(made: World, whose: Whose, therapist: Staff, on: date) -> None:
    clinic, lead = made.clinic, by(made.clinic.lead)
    episode = clinic.episode(therapist=therapist)
    session = clinic.session(on, therapist=therapist)
    row = episode.follow_ups.get(key="stitches-out")
    appointment = appointments.book([row], by=by(clinic.admin), session=session, start=540)
    notice, visit = appointment.notices.earliest("due_at"), _visit(episode, lead)
    referral = referrals.add(episode.patient, by=lead, received_on=TODAY, source="A ward")
    made.behind[whose] = {
        Thing.PATIENT: {"code": episode.patient.code}, Thing.EPISODE: {"code": episode.code},
        Thing.REFERRAL: {"code": referral.code}, Thing.VISIT: {"code": visit.code},
        Thing.APPOINTMENT: {"code": appointment.code}, Thing.NOTICE: {"code": notice.code},
    }  # fmt: skip
    made.keys[whose] = _keys(clinic, episode, visit)
    if whose is Whose.CLOSED:
        elsewhere = {"how": Ending.TRANSFERRED, "received_by": "Another hand clinic"}
        episodes.close(Episode.objects.get(pk=episode.pk), by=lead, version=None, on=TODAY, **elsewhere)


def _visit(episode: Episode, lead: Any) -> Visit:
    """One that measured pain and set a review."""
    look = visits.Look(episode, AfterVisit.REVIEW, measured={MeasureKind.PAIN: Pain(3)}, in_days=14)
    return visits.record(episode.patient, by=lead, on=TODAY, looks=[look])


def _keys(clinic: Fernhollow, episode: Episode, visit: Visit) -> dict[str, Named]:
    lead = by(clinic.lead)
    flag, report = (findings.record(episode, by=lead, **said) for said in (FLAG, REPORT))
    ordered = instructions.give(episode, by=lead, item="driving", by_whom="Surgeon", why="swelling", from_day=9)
    measured, review = visit.measurements.get(), visit.examined.get().review
    of_flag = dict.fromkeys(("finding-correct", "finding-withdraw", "red-flag-escalate", "red-flag-close"), flag.pk)
    of_order = dict.fromkeys(("instruction-confirm", "instruction-withdraw"), ordered.pk)
    of_measure = dict.fromkeys(("measurement-correct", "measurement-withdraw"), measured.pk)
    others = {"finding-countersign": report.pk, "review-withdraw": review.pk}
    keys = {name: {"pk": pk} for name, pk in (of_flag | of_order | of_measure | others).items()}
    return keys | {"follow-up-done": {"key": "stitches-out"}, "slot": {"minute": 560}}


def _of_the_clinic(clinic: Fernhollow) -> dict[Thing, Named]:
    """What belongs to no patient and no one person."""
    lead, day = by(clinic.lead), {"starts_on": date(2026, 4, 20), "ends_on": date(2026, 4, 21)}
    code, pk = (lambda row: {"code": row.code}), (lambda row: {"pk": row.pk})
    plan = FillPlan.objects.create(
        by=clinic.lead, made_at=lead.at, first_on=TODAY, last_on=TODAY, cost=0, bound=0, could_place=0
    )
    key = feeds.make(by=by(clinic.therapist))
    return {
        Thing.SESSION: code(Session.objects.order_by("on").first()), Thing.WEEK: code(weekly(clinic)),
        Thing.ABSENCE: pk(Absence.objects.create(therapist=clinic.therapist, reason="leave", **day)),
        Thing.CLOSURE: pk(Closure.objects.create(site=clinic.quay, reason="flood", **day)),
        Thing.INTAKE: code(intake.upload(LIST, file_name="list.csv", by=by(clinic.admin), site=clinic.site)),
        Thing.LETTERS: code(LetterBatch.objects.create(by=clinic.lead, made_at=lead.at)),
        Thing.PLAN: code(plan), Thing.MONTH: code(filing.file_month(date(2026, 3, 1), by=lead)),
        Thing.RULES: code(CALLS[propose](clinic, lead)), Thing.STAFF: code(clinic.admin),
        Thing.KEY: {"key": key},
    }  # fmt: skip


def _job(staff: Staff) -> str:
    job = Job.objects.create(kind="list-file", by=staff, created_at=by().at, state="done", ended_at=by().at)
    JobFile.objects.create(job=job, name="list.csv", media_type="text/csv", content=b"")
    return job.code


def _with_password(staff: Staff) -> Staff:
    """Somebody who has an app as a second factor, too."""
    staff.password = "not hashed: nobody signs in by it"
    staff.save()
    Authenticator.objects.create(user=staff, type=Authenticator.Type.TOTP, data={"secret": "A" * 32})
    return staff


def passkey(staff: Staff) -> int:
    """The key of a new one. No device made it: only a page that asks for none can stand it."""
    data = {"name": "Desk", "credential": {}}
    return Authenticator.objects.create(user=staff, type=Authenticator.Type.WEBAUTHN, data=data).pk
