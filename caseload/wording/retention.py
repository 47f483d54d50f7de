"""How long records are kept, in words."""

from collections.abc import Mapping
from typing import Final

from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as lazy
from django.utils.translation import ngettext

from caseload.access.retention import Why

WHY: Final[Mapping[Why, str | Promise]] = {
    Why.OPEN: lazy("something is open, waits or is to be taken in"),
    Why.KEPT: lazy("a lead keeps it"),
    Why.UNDATED: lazy("no day of any contact is on record"),
    Why.ADULT: lazy("an adult at the last contact"),
    Why.CHILD: lazy("a child at the last contact"),
    Why.BIRTH_UNKNOWN: lazy("the birth date is not known"),
}


def say_why(why: Why) -> str:
    return str(WHY[why])


def say_removed(removed: int, kept: int) -> str:
    """What came of a removal: “2 records were removed. 1 was kept …”."""
    gone = ngettext("%(count)d record was removed.", "%(count)d records were removed.", removed) % {"count": removed}
    if not kept:
        return gone
    left = ngettext(
        "%(count)d was kept: something changed since it was listed.",
        "%(count)d were kept: something changed since they were listed.",
        kept,
    )
    return f"{gone} {left % {'count': kept}}"
