"""Drafts: what somebody typed into a form and did not save yet.

They are the scrap paper of whoever typed it. Nobody else reads them, so they are no act and leave no trail.
"""

import json
from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta
from typing import Final

from django.db import transaction

from caseload.actions.turns import in_turn
from caseload.models import Draft, Staff

KEPT: Final = timedelta(days=7)
LARGEST: Final = 64 * 1024
LONGEST_PLACE: Final = 200
UNKEPT: Final = frozenset({"csrfmiddlewaretoken", "key", "sure", "ours", "live", "leaving", "preview"})
"""What belongs to one sending of a form and not to what was typed. The marks of what was seen are kept: a draft that
is saved later is held against what somebody else recorded meanwhile."""


def keep(staff: Staff, place: str, data: Mapping[str, Sequence[str]], at: datetime) -> bool:
    """Keep what was typed at the address `place`, instead of what was kept there before; False if it is too much."""
    body = _body(data)
    if len(place) > LONGEST_PLACE or len(json.dumps(body, ensure_ascii=False).encode()) > LARGEST:
        return False
    with in_turn(), transaction.atomic():
        Draft.objects.update_or_create(staff=staff, place=place, defaults={"body": body, "saved_at": at})
    return True


def kept(staff: Staff, place: str) -> Draft | None:
    """What this person typed there and did not save."""
    return Draft.objects.filter(staff=staff, place=place).first()


def kept_around(staff: Staff, place: str) -> list[Draft]:
    """What this person typed there or at an address that differs in its query only, the shortest address first."""
    path = place.partition("?")[0]
    return sorted(Draft.objects.filter(staff=staff, place__startswith=path), key=lambda draft: len(draft.place))


def forget(staff: Staff, place: str, saved: Mapping[str, Sequence[str]] | None = None) -> None:
    """It is saved, or thrown away; so is what was typed there before more was added to the address.

    `saved` is what was saved: something else that the same person typed there in another window stays.
    """
    body = None if saved is None else _body(saved)
    before = [draft for draft in kept_around(staff, place) if place.startswith(draft.place)]
    gone = [draft.pk for draft in before if body is None or draft.place != place or draft.body == body]
    if gone:
        with in_turn(), transaction.atomic():
            Draft.objects.filter(pk__in=gone).delete()


def _body(data: Mapping[str, Sequence[str]]) -> dict[str, list[str]]:
    return {_plain(name): [_plain(value) for value in values] for name, values in data.items() if name not in UNKEPT}


def _plain(text: str) -> str:
    """PostgreSQL holds no text with a zero character, and no field of ours can read one."""
    return text.replace("\0", "")


def forget_old(now: datetime) -> None:
    """What nobody came back to."""
    Draft.objects.filter(saved_at__lt=now - KEPT).delete()
