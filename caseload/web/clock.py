"""The one place of the pages that asks what time it is. A view asks once and hands it on."""

from datetime import datetime
from uuid import UUID

from django.http import HttpRequest
from django.utils import timezone

from caseload.actions.act import By
from caseload.errors import Refusal
from caseload.models import Staff
from caseload.web.origin import origin_of


def by_of(request: HttpRequest) -> By:
    """Who acts and when: the signed-in person, this instant, the local day, and the form's key if it has one.

    Raises Refusal `key-unreadable` on a key that no form of ours wrote.
    """
    at = now()
    key = _key(request.POST.get("key", ""))
    return By(staff_of(request), at, timezone.localdate(at), key, origin_of(request))


def now() -> datetime:
    """This instant, where nobody acts."""
    return timezone.now()


def staff_of(request: HttpRequest) -> Staff:
    """The person who is signed in; every page but the sign-in asks for one first."""
    assert isinstance(request.user, Staff)
    return request.user


def _key(text: str) -> UUID | None:
    try:
        return UUID(text) if text else None
    except ValueError:
        raise Refusal("key-unreadable", "This form was not sent from its page. Open the page again.") from None
