"""Addresses of the record: patients, referrals, episodes and what is recorded of them, by opaque codes."""

from django.urls import path, register_converter

from caseload.web.views import (
    closing,
    contact,
    dates,
    episode,
    finding,
    follow_up,
    instruction,
    measurement,
    patient,
    reason,
    red_flag,
    referral,
    visit,
)  # fmt: skip


class KeyConverter:
    """The lasting name of a follow-up, such as `stitches-out` or `wound-recheck:f12`."""

    regex = r"[a-z-]{1,20}(?::[fr][0-9]{1,18})?"

    def to_python(self, value: str) -> str:
        return value

    def to_url(self, value: str) -> str:
        return value


register_converter(KeyConverter, "key")

OF_PATIENT = "patients/<slug:code>/"
OF_EPISODE = "episodes/<slug:code>/"
OF_FINDING = f"{OF_EPISODE}findings/<int:pk>/"
OF_INSTRUCTION = f"{OF_EPISODE}instructions/<int:pk>/"
OF_MEASUREMENT = "visits/<slug:code>/measurements/<int:pk>/"

record = [
    path("dates/", dates.read, name="dates"),
    path("patients/new/", patient.add, name="patient-new"),
    path(OF_PATIENT, patient.show, name="patient"),
    path(f"{OF_PATIENT}open/", reason.open_record, name="patient-open"),
    path(f"{OF_PATIENT}correct/", patient.correct, name="patient-correct"),
    path(f"{OF_PATIENT}referrals/new/", referral.add, name="referral-new"),
    path(f"{OF_PATIENT}episodes/new/", episode.add, name="episode-new"),
    path(f"{OF_PATIENT}contacts/new/", contact.log_for_patient, name="patient-contact"),
    path("referrals/<slug:code>/correct/", referral.correct, name="referral-correct"),
    path(OF_EPISODE, episode.show, name="episode"),
    path(f"{OF_EPISODE}correct/", episode.correct, name="episode-correct"),
    path(f"{OF_EPISODE}close/", closing.close, name="episode-close"),
    path(f"{OF_EPISODE}open-again/", closing.reopen, name="episode-reopen"),
    path(f"{OF_EPISODE}visit/", visit.for_episode, name="visit-new"),
    path("appointments/<slug:code>/visit/", visit.for_appointment, name="appointment-visit"),
    path(f"{OF_FINDING}correct/", finding.correct, name="finding-correct"),
    path(f"{OF_FINDING}withdraw/", finding.withdraw, name="finding-withdraw"),
    path(f"{OF_FINDING}countersign/", finding.countersign, name="finding-countersign"),
    path(f"{OF_FINDING}escalate/", red_flag.escalate, name="red-flag-escalate"),
    path(f"{OF_FINDING}close/", red_flag.close, name="red-flag-close"),
    path(f"{OF_EPISODE}instructions/new/", instruction.give, name="instruction-new"),
    path(f"{OF_INSTRUCTION}confirm/", instruction.confirm, name="instruction-confirm"),
    path(f"{OF_INSTRUCTION}withdraw/", instruction.withdraw, name="instruction-withdraw"),
    path(f"{OF_EPISODE}reviews/new/", follow_up.set_review, name="review-new"),
    path(f"{OF_EPISODE}reviews/<int:pk>/withdraw/", follow_up.withdraw_review, name="review-withdraw"),
    path(f"{OF_EPISODE}follow-ups/<key:key>/done/", follow_up.done, name="follow-up-done"),
    path(f"{OF_EPISODE}contacts/new/", contact.log_for_episode, name="contact-new"),
    path(f"{OF_MEASUREMENT}correct/", measurement.correct, name="measurement-correct"),
    path(f"{OF_MEASUREMENT}withdraw/", measurement.withdraw, name="measurement-withdraw"),
]
