"""What closing an episode takes, and what it carries with it; and how one is open again.

A discharge rests on what is recorded: where that turns out not to be so, the episode is open again in the same
transaction, so that nobody is lost with stitches in. Everything here is part of an act and locks nothing itself.
"""

from datetime import date
from typing import Final

from django.db.models import QuerySet

from caseload.access import Act
from caseload.actions import appointed, referrals
from caseload.actions.act import By, apply, trail
from caseload.actions.in_step import NO_LONGER, keep_in_step
from caseload.actions.settle import settle
from caseload.errors import Refusal
from caseload.models import Appointment, Episode, Finding, Notice, NoticeState, Patient, ReferralEnd, Told
from caseload.reads.facts import facts_of
from caseload.reads.notices_wanted import keys_to_look_at
from caseload.timetable.evidence import read_evidence
from caseload.timetable.terms import Ending, FindingKind, Outcome, Source

OF_SURGERY: Final = (FindingKind.STITCHES, FindingKind.WOUND, FindingKind.TRIM_NEEDED, FindingKind.TRIMMED)
"""What is found only of a hand that was operated on."""
DECIDING: Final = ("ended_on", "ended_how", "surgery_on", "side", "digit", "suture", "stitches_in")
"""Fields that decide whether an episode may close: read again once it is locked."""
Moved = dict[str, tuple[object, object]]


def may_close(episode: Episode, how: Ending, on: date, received_by: str, by: By) -> None:
    """Raises Refusal where an episode cannot end so, or not on that day."""
    episode.refresh_from_db(fields=DECIDING)
    if episode.ended_on:
        raise Refusal("closed-already", "This episode is closed already.")
    if on > by.today:
        raise Refusal("closed-in-future", "An episode cannot be closed on a day to come.", field="on")
    if episode.surgery_on and on < episode.surgery_on and how not in (Ending.NOT_DONE, Ending.DIED):
        raise Refusal("closed-before-surgery", "An episode cannot be closed before its surgery.", field="on")
    if how in (Ending.TRANSFERRED, Ending.REFERRED_BACK) and not received_by.strip():
        raise Refusal("receiver-missing", "Name who takes over: a transfer needs a receiver.", field="received_by")
    if how == Ending.NOT_DONE and _was_done(episode):
        raise Refusal("operation-was-done", "Stitches or a wound of this operation are recorded, so it was done. "
                      "Withdraw what was recorded by mistake first.", field="how")  # fmt: skip
    if how == Ending.DISCHARGED and (unsafe := what_is_unsafe(episode)):
        raise unsafe


def what_is_unsafe(episode: Episode) -> Refusal | None:
    """Why a discharge would leave the patient unsafe, None where it would not."""
    if red_flags(episode).exists():
        says = "A red flag is open. Close it with its outcome before discharging."
        return Refusal("red-flag-open", says, field="how")
    evidence = read_evidence(facts_of([episode])[episode.pk])
    if evidence.to_remove and evidence.removal is None:
        says = "The stitches are not recorded out. Record their removal, or transfer to somebody who will see to it."
        return Refusal("stitches-in", says, field="how")
    return None


def wound_is_open(episode: Episode) -> bool:
    """Whether the wound is not on record as closed. A discharge all the same is asked back, not refused."""
    return read_evidence(facts_of([episode])[episode.pk]).closed is None


def red_flags(episode: Episode) -> QuerySet[Finding]:
    """The red flags of an episode that are open."""
    return Finding.objects.standing().filter(episode=episode, kind=FindingKind.RED_FLAG, closure__isnull=True)


def end(episode: Episode, how: Ending, on: date, received_by: str, *, by: By) -> None:
    """Close one episode: what is due is dropped, what was booked only for it is cancelled, its clocks end."""
    moved = apply(episode, {"ended_on": on, "ended_how": how, "received_by": received_by})
    cancelled = _cancel(episode, by, told=Told.TOLD if how == Ending.DIED else Told.UNTOLD)
    trail(Act.EPISODE_CLOSE, episode, by=by, patient_id=episode.patient_id, changed=moved | settle(episode))
    keep_in_step(cancelled, by=by)
    to_referrer = Notice.objects.filter(episode=episode, state=NoticeState.WAITING)
    to_referrer.update(state=NoticeState.WITHDRAWN, withdrawn_at=by.at, withdrawn_why=NO_LONGER)


def end_with_life(patient: Patient, on: date, *, by: By) -> None:
    """Close all that is open of a patient who died, and leave nobody to be told: nobody rings a patient who died."""
    for episode in patient.episodes.open().order_by("pk"):
        end(episode, Ending.DIED, on, "", by=by)
    untold = Appointment.objects.select_for_update().filter(patient=patient, untold_since_on__isnull=False)
    for appointment in untold.order_by("pk"):
        moved = apply(appointment, {"told": Told.TOLD, "untold_since_on": None})
        trail(Act.EPISODE_CLOSE, appointment, by=by, patient_id=patient.pk, changed=moved)
    keep_in_step(keys_to_look_at(by.at, patient=patient), by=by)
    for referral in patient.referrals.filter(ended_on__isnull=True).order_by("pk"):
        ended_on = max(on, referral.received_on)
        referrals.correct(referral, by=by, version=None, ended_on=ended_on, ended_how=ReferralEnd.DIED)


def successor(episode: Episode, today: date) -> Episode | None:
    """The open episode of a later operation on the same digit, if there is one: a theatre list may have opened it."""
    if not (episode.side and episode.digit and episode.surgery_on):
        return None
    same = Episode.objects.open().filter(patient=episode.patient_id, side=episode.side, digit=episode.digit)
    return same.filter(surgery_on__gt=episode.surgery_on, surgery_on__lte=today).order_by("surgery_on", "pk").first()


def link_successor(episode: Episode, *, by: By) -> None:
    """Say of which operation the open episode is the next. Raises Refusal `reoperation-opens` where none is open."""
    later = successor(episode, by.today)
    if later is None:
        raise Refusal("reoperation-opens", "Open the episode of the new operation: that closes this one with it.",
                      field="how")  # fmt: skip
    moved = apply(later, {"reoperation_of": episode})
    trail(Act.EPISODE_CLOSE, later, by=by, patient_id=later.patient_id, changed=moved)


def open_again(episode: Episode) -> Moved:
    """Take an ending back; what was cancelled for it stays so, and what it was for is on the booking list again."""
    return apply(episode, {"ended_on": None, "ended_how": "", "received_by": ""})


def may_reopen(episode: Episode) -> None:
    """Raises Refusal where an episode is not closed, or a later operation goes on from it."""
    episode.refresh_from_db(fields=DECIDING)
    if episode.ended_on is None:
        raise Refusal("not-closed", "This episode is open.")
    if episode.reoperations.exclude(ended_how=Ending.NOT_DONE).exists():
        raise Refusal("operated-again", "The finger was operated on again, and the later episode goes on from there. "
                      "If that operation was never done, close the later episode as not done first.")  # fmt: skip


def take_back(episode: Episode, why: str, *, by: By) -> None:
    """One episode is open again, by an act of its own."""
    moved = open_again(episode) | settle(episode) | {"reopened_why": ("", why)}
    trail(Act.EPISODE_REOPEN, episode, by=by, patient_id=episode.patient_id, changed=moved)


def take_death_back(patient: Patient, why: str, *, by: By) -> None:
    """All that was closed with a death is open again; whose appointments to come were cancelled without a word is to be
    told."""
    for referral in patient.referrals.filter(ended_how=ReferralEnd.DIED).order_by("pk"):
        referrals.correct(referral, by=by, version=None, ended_on=None, ended_how="")
    unknown = {"outcome": Outcome.CANCELLED_BY_CLINIC, "on__gte": by.today, "told": Told.TOLD}
    cancelled = Appointment.objects.select_for_update().filter(patient=patient, **unknown)
    for appointment in cancelled.order_by("pk"):
        moved = apply(appointment, {"told": Told.UNTOLD, "untold_since_on": by.today})
        trail(Act.EPISODE_REOPEN, appointment, by=by, patient_id=patient.pk, changed=moved)
    for episode in patient.episodes.filter(ended_how=Ending.DIED).order_by("pk"):
        take_back(episode, why, by=by)
    keep_in_step(keys_to_look_at(by.at, patient=patient), by=by)


def hold_to_discharge(episode: Episode) -> Moved:
    """Open a discharged episode again if what is recorded now would not allow the discharge; else nothing moves."""
    episode.refresh_from_db(fields=DECIDING)
    unsafe = episode.ended_how == Ending.DISCHARGED and what_is_unsafe(episode)
    return open_again(episode) if unsafe else {}


def _was_done(episode: Episode) -> bool:
    found = Finding.objects.standing().filter(episode=episode, kind__in=OF_SURGERY)
    return found.exclude(source=Source.PATIENT).exists()


def _cancel(episode: Episode, by: By, *, told: Told) -> list[int]:
    """Cancel what is to come and only this episode needs; an appointment that also serves another one stays for it.

    A day that has passed without an outcome is not cancelled: what became of it can still be recorded. Gives back the
    keys of those cancelled.
    """
    cancelled = []
    own = Appointment.objects.filter(purposes__follow_up__episode=episode, purposes__live=True)
    to_come = Appointment.objects.filter(pk__in=own.values("pk"), live=True, outcome="", on__gte=by.today)
    for appointment in to_come.select_for_update().order_by("pk"):
        others = appointment.purposes.exclude(follow_up__episode=episode).filter(live=True)
        if others.exists():
            appointment.purposes.filter(follow_up__episode=episode).update(live=False)
            continue
        moved = appointed.fall_away(appointment, by=by, why="episode closed", told=told)
        trail(Act.EPISODE_CLOSE, appointment, by=by, patient_id=episode.patient_id, changed=moved)
        cancelled.append(appointment.pk)
    return cancelled
