"""Signing in and out, and changes of what one signs in with, as lines of the trail. What was typed is never written."""

from collections.abc import Iterable
from datetime import datetime
from typing import Any, Final

from django.utils import timezone

from caseload.access import Act
from caseload.actions.act import By, trail
from caseload.models import Staff, TrailEntry

KINDS: Final = {"totp": "codes from an app", "webauthn": "passkey", "recovery_codes": "recovery codes"}


def signed_in(staff: Staff, *, at: datetime, origin: str) -> None:
    _note(Act.SIGN_IN, staff, at=at, origin=origin)


def signed_out(staff: Staff, *, at: datetime, origin: str) -> None:
    _note(Act.SIGN_OUT, staff, at=at, origin=origin)


def refused(username: str | None, *, at: datetime, origin: str) -> None:
    """Somebody was refused who gave this name; the trail names the person only where there is one."""
    named = Staff.objects.filter(username__iexact=username).values_list("pk", flat=True).first() if username else None
    TrailEntry.objects.create(
        at=at, by=None, act=Act.SIGN_IN_REFUSED, subject=str(Staff._meta.model_name), subject_id=named, origin=origin
    )


def password_changed(staff: Staff, *, at: datetime, origin: str) -> None:
    _note(Act.PASSWORD_CHANGE, staff, at=at, origin=origin)


def second_factor_changed(staff: Staff, was: str | None, now: str | None, *, at: datetime, origin: str) -> None:
    """`was` and `now` are kinds of second factor; None where there was or is none."""
    changed = tuple(KINDS.get(kind, kind) if kind else None for kind in (was, now))
    _note(Act.SECOND_FACTOR_CHANGE, staff, {"second_factor": changed}, at=at, origin=origin)


def sessions_ended(staff: Staff, origins: Iterable[str], *, at: datetime, origin: str) -> None:
    """`origins` are the network addresses of the sessions that were ended."""
    _note(Act.SESSION_END, staff, {"sessions": (sorted(origins), None)}, at=at, origin=origin)


def _note(name: Act, staff: Staff, changed: dict[str, Any] | None = None, *, at: datetime, origin: str) -> None:
    by = By(staff, at, timezone.localdate(at), origin=origin)
    trail(name, staff, by=by, patient_id=None, changed=changed or {})
