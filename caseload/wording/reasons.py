"""Why a date is what it is: each reason of the timetable as a sentence that a therapist would say.

A plain reason is a text with the names of its values; one that varies has a function below the table.
"""

from collections.abc import Callable, Sequence
from datetime import date
from enum import StrEnum
from functools import lru_cache
from typing import Final

from django.utils.translation import get_language
from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop as text

from caseload.timetable.plan import Reason
from caseload.timetable.terms import Anchor, Ending, FollowUpKind, Lock, Suture, Technique
from caseload.wording.dates import say_date, say_days
from caseload.wording.labels import label


def sentence(reason: Reason) -> str:
    """One reason as one or two sentences. Raises KeyError for a code that has no words."""
    return _said(reason, get_language())


@lru_cache(maxsize=16_384)
def _said(reason: Reason, language: str | None) -> str:
    """The sentence in a language; many episodes share most of theirs."""
    if reason.code in VARYING:
        return VARYING[reason.code](*reason.values)
    names, said = PLAIN[reason.code]
    return _(said) % {name: _say(name, value) for name, value in zip(names.split(), reason.values, strict=True)}


PLAIN: Final[dict[str, tuple[str, str]]] = {
    "rule-window": (
        "title version kind earliest target days anchor",
        text(
            "Rules “%(title)s”, version %(version)s: %(earliest)s to %(days)s after %(anchor)s, best on day %(target)s."
        ),
    ),
    "rule-not-before": ("days anchor", text("Never sooner than %(days)s after %(anchor)s.")),
    "not-before-decides": (
        "days anchor on",
        text("The latest condition decides: %(days)s after %(anchor)s is %(on)s."),
    ),
    "suture-unknown": (
        "",
        text("Nobody recorded which stitches were used, so no day for taking them out is made up; please ask."),
    ),
    "suture-unnamed": (
        "",
        text("These rules do not name such stitches yet, so no day for taking them out is made up."),
    ),
    "counted-surgery": ("on", text("Counted from surgery on %(on)s.")),
    "counted-stitches-out": ("on source", text("Counted from %(on)s, when the stitches were fully out (%(source)s).")),
    "counted-wound-closed": (
        "on source",
        text("Counted from %(on)s, when the wound was recorded as closed (%(source)s)."),
    ),
    "after-partial": (
        "on out left",
        text("On %(on)s some stitches stayed in (%(out)s out, %(left)s left), so they are looked at again."),
    ),
    "after-not-closed": (
        "on state source",
        text("On %(on)s the wound was %(state)s (%(source)s), so it is looked at again."),
    ),
    "after-removal": (
        "on source",
        text("The stitches came out on %(on)s, but nobody recorded the wound that day, so it is looked at."),
    ),
    "after-report": (
        "on source",
        text("On %(on)s the stitches were said to be out (%(source)s), so somebody here looks at the wound."),
    ),
    "after-trim-needed": ("on", text("Ends of stitches were marked for trimming on %(on)s.")),
    "set-review": ("on days", text("At the visit of %(on)s a review in %(days)s was set.")),
    "beyond-holiday-data": (
        "first last",
        text("Public holidays are known from %(first)s to %(last)s only, so part of this window is not safe to book."),
    ),
    "done-removal": ("on source", text("Done on %(on)s, when the stitches were recorded as fully out (%(source)s).")),
    "done-checked": ("on", text("Done on %(on)s, when the wound was looked at.")),
    "done-found": ("on", text("Done on %(on)s, when the next finding was recorded.")),
    "done-entered": ("on", text("Done on %(on)s, as entered.")),
    "replaced-by-recheck": ("on", text("Some stitches stayed in on %(on)s, so a re-check takes its place.")),
    "counts-disagree": (
        "put_in out",
        text("%(put_in)s stitches were put in and %(out)s counted out, so “none left” needs to be confirmed."),
    ),
    "removal-not-vouched-for": (
        "on",
        text(
            "The removal of %(on)s was not seen here: nothing opens until the wound is seen closed here "
            "or a therapist countersigns."
        ),
    ),
    "removal-not-recorded": ("", text("Locked: the stitches are not recorded as fully out.")),
    "stitches-still-in": ("on left", text("Locked: on %(on)s stitches were still in (%(left)s left).")),
    "wound-not-recorded": ("", text("Locked: the wound is not recorded as closed.")),
    "wound-not-closed": ("on state", text("Locked: on %(on)s the wound was %(state)s.")),
    "wound-held-by-stitches": (
        "on",
        text("Locked: on %(on)s the wound looked closed, but stitches still held it; it must be seen without them."),
    ),
    "trim-pending": ("on", text("Ends of stitches marked for trimming on %(on)s are not recorded as trimmed.")),
    "ordered-window": (
        "by why earliest target days",
        text("%(by)s ordered: %(earliest)s to %(days)s after surgery, best on day %(target)s (%(why)s)."),
    ),
    "ordered-day": ("by why from", text("%(by)s ordered: from day %(from)s after surgery (%(why)s).")),
    "ordered-lock": ("by why", text("%(by)s ordered: not until further notice (%(why)s).")),
    "ordered-unconfirmed": (
        "by",
        text("The surgery date was corrected after %(by)s ordered this; please have the order confirmed."),
    ),
}
"""Each text with the names of its values in order; a value called `days` is said with its unit."""


def _say(name: str, value: object) -> str:
    if isinstance(value, StrEnum):
        return label(value)
    if isinstance(value, date):
        return say_date(value)
    return say_days(value) if name == "days" and isinstance(value, int) else str(value)


def _rule_day(
    title: str, version: str, kind: object, from_day: int, anchor: Anchor, aim: int | None, until: int | None
) -> str:
    start = _("from %(days)s after %(anchor)s") if from_day else _("from the day of %(anchor)s")
    parts = [start % {"days": say_days(from_day), "anchor": label(anchor)}]
    if aim is not None:
        parts.append(_("best from day %(day)d") % {"day": aim})
    if until is not None:
        parts.append(_("until day %(day)d") % {"day": until})
    said = {"title": title, "version": version, "days": ", ".join(parts)}
    return _("Rules “%(title)s”, version %(version)s: %(days)s.") % said


def _rule_applies(
    sutures: Sequence[Suture], techniques: Sequence[Technique], raised_risk: bool | None, referral: bool | None
) -> str:
    facts = [_(" or ").join(map(label, sutures)), _(" or ").join(map(label, techniques))]
    facts.append({None: "", True: _("a raised healing risk"), False: _("no raised healing risk")}[raised_risk])
    facts.append({None: "", True: _("a referral for therapy"), False: _("no referral for therapy")}[referral])
    return _("This rule is for %(facts)s.") % {"facts": _(" and ").join(filter(None, facts))}


def _counted_provisional(anchor: Anchor, on: date, kind: FollowUpKind, how: str) -> str:
    missing = {
        Anchor.STITCHES_OUT: _("The stitches are not recorded as fully out yet."),
        Anchor.WOUND_CLOSED: _("The wound is not recorded as closed yet."),
    }[anchor]
    step = label(kind)
    said = {"on": say_date(on), "step": step[0].lower() + step[1:]}
    return f"{missing} {_(EXPECTED[how]) % said}"


EXPECTED: Final = {
    "today": text("Provisional: counted from today, %(on)s, at the earliest."),
    "booked": text("Provisional: counted from %(on)s, the day booked for %(step)s."),
    "proposed": text("Provisional: counted from %(on)s, the day proposed for %(step)s."),
    "first-after": text("Provisional: counted from %(on)s, the first open day after the window for %(step)s."),
    "target": text("Provisional: counted from %(on)s, the day aimed at for %(step)s."),
    "done": text("Provisional: counted from %(on)s, the day of %(step)s."),
}


def _moved(target: date, closed: Reason, proposed: date, day: int, tied: bool) -> str:
    said = {"target": say_date(target), "why": _why_closed(closed), "on": say_date(proposed), "day": day}
    moved = _("%(target)s is %(why)s; the nearest open day inside the window is %(on)s, day %(day)d.") % said
    return f"{moved} {_('A day before was as near; the later is taken.')}" if tied else moved


def _why_closed(closed: Reason) -> str:
    first, *_rest = closed.values
    if closed.code == "holiday":
        return _("a public holiday (%(name)s)") % {"name": first}
    if closed.code == "closure":
        return _("a day on which the clinic is closed (%(why)s)") % {"why": first} if first else _("a closed day")
    if closed.code == "weekday":
        return _(WEEKDAYS[int(str(first))])
    return _("beyond the public holidays known so far")


WEEKDAYS: Final = (
    text("a Monday, when the clinic is closed"),
    text("a Tuesday, when the clinic is closed"),
    text("a Wednesday, when the clinic is closed"),
    text("a Thursday, when the clinic is closed"),
    text("a Friday, when the clinic is closed"),
    text("a Saturday"),
    text("a Sunday"),
)


def _no_open_day(earliest: date, latest: date, first_after: date | None) -> str:
    said = {"first": say_date(earliest), "last": say_date(latest)}
    none = _("There is no open day from %(first)s to %(last)s, so a person must decide.") % said
    if first_after is None:
        return none
    return f"{none} {_('The first open day after it is %(on)s.') % {'on': say_date(first_after)}}"


def _episode_closed(on: date, how: Ending | None) -> str:
    said = {"on": say_date(on), "how": label(how) if how else ""}
    closed = _("the episode was closed on %(on)s (%(how)s)") if how else _("the episode was closed on %(on)s")
    return _("Not needed any more: %(closed)s.") % {"closed": closed % said}


def _other_digit(ref: str, from_on: date | None, locks: Sequence[Lock]) -> str:
    parts = [_("not before %(on)s") % {"on": say_date(from_on)}] if from_on else []
    parts += [_("locked (%(lock)s)") % {"lock": label(lock)} for lock in locks]
    said = {"ref": ref, "terms": "; ".join(parts)}
    return _("The other operated digit of this hand (%(ref)s) decides: %(terms)s.") % said


VARYING: Final[dict[str, Callable[..., str]]] = {
    "rule-day": _rule_day,
    "rule-applies": _rule_applies,
    "counted-provisional": _counted_provisional,
    "moved": _moved,
    "no-open-day": _no_open_day,
    "episode-closed": _episode_closed,
    "other-digit": _other_digit,
}
