"""A therapist's private calendar address: made, withdrawn, with initials or without; a digest of its key is kept."""

import secrets
from typing import Final

from caseload.access import Act
from caseload.actions.act import By, act, trail
from caseload.errors import Refusal
from caseload.models import Feed
from caseload.reads.feeds import digest_of

KEY_BYTES: Final = 20
"""160 bits of chance: guessing needs no throttle."""


@act(Act.FEED_MAKE)
def make(*, by: By) -> str:
    """A new address in place of an earlier one, without initials. Its key is what comes back, and is nowhere else."""
    key = secrets.token_hex(KEY_BYTES)
    said = {"digest": digest_of(key), "initials": False, "made_at": by.at}
    feed, fresh = Feed.objects.update_or_create(staff=by.person, defaults=said)
    trail(Act.FEED_MAKE, feed, by=by, patient_id=None, changed={"address": ("" if fresh else "earlier", "made")})
    return key


@act(Act.FEED_MAKE)
def set_initials(*, by: By, shown: bool) -> Feed:
    """Whether the calendar names patients by their initials. Raises Refusal `no-feed`."""
    feed = _feed(by)
    was, feed.initials = feed.initials, shown
    feed.save(update_fields=["initials"])
    trail(Act.FEED_MAKE, feed, by=by, patient_id=None, changed={"initials": (was, shown)})
    return feed


@act(Act.FEED_REVOKE)
def revoke(*, by: By) -> None:
    """Withdraw the address: whoever asks there finds nothing. Raises Refusal `no-feed`."""
    feed = _feed(by)
    trail(Act.FEED_REVOKE, feed, by=by, patient_id=None, changed={"address": ("made", "")})
    feed.delete()


def _feed(by: By) -> Feed:
    feed = Feed.objects.select_for_update().filter(staff=by.person).first()
    if feed is None:
        raise Refusal("no-feed", "You have no calendar address. Make one first.")
    return feed
