"""What the plan sheet says to the patient: short sentences in plain words, at a reading age of about eleven.

A sentence that says “you” has a second form, for the adult who is responsible for a child. The cautions are those that
every sheet carries; how often and how long a thing is done is common practice.
"""

from collections.abc import Collection, Iterable
from datetime import date
from typing import Final

from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop as text

from caseload.booking.slots import clock
from caseload.timetable.terms import ActivityKind, Anchor, FollowUpKind, Lock

TITLE: Final = text("Plan for your hand"), text("Plan for your child's hand")
VISITS: Final = text("Your appointments"), text("Your child's appointments")
NOW: Final = text("What you may do now"), text("What your child may do now")
SURGEON: Final = text("your surgeon"), text("your child's surgeon")

UNTIL_CLOSED: Final = (
    text("No heavy lifting."),
    text("No tight gripping."),
    text("No passive stretching: do not push or pull the finger."),
    text("Keep the dressing clean and dry."),
)
HELP_AT_ONCE: Final = (
    text("a temperature above 38 °C"),
    text("discharge on the dressing that is new or has changed colour"),
    text("wound pain that is strong or growing"),
    text("chest pain or trouble breathing"),
    text("a fast pulse"),
    text("feeling faint or giddy"),
    text("spreading redness"),
    text("a finger held bent and painful to straighten"),
    text("new numbness"),
    text("a cold or blue finger"),
    text("a gaping wound"),
)
BESIDES: Final = (
    text("What your treating team told you comes first."),
    text("Altered feeling round the wound and soreness usually settle within some weeks."),
    text("Pain medicine: only as prescribed."),
)

VISIT_FOR: Final[dict[FollowUpKind, str]] = {
    FollowUpKind.STITCHES_OUT: text("stitches out"),
    FollowUpKind.WOUND_CHECK: text("a check of the wound"),
    FollowUpKind.STITCHES_RECHECK: text("a check of the stitches still in"),
    FollowUpKind.WOUND_RECHECK: text("another check of the wound"),
    FollowUpKind.THERAPY_REVIEW: text("the first hand therapy visit"),
    FollowUpKind.SET_REVIEW: text("a hand therapy visit"),
    FollowUpKind.OUTCOME_REVIEW: text("a check of how the hand works"),
    FollowUpKind.CLOSE: text("the end of the treatment"),
}
DOING: Final[dict[ActivityKind, str]] = {
    ActivityKind.HAND_RAISED: text("Keeping the hand raised"),
    ActivityKind.GENTLE_BENDING: text("Bending the finger gently"),
    ActivityKind.LIGHT_TASKS: text("Light tasks"),
    ActivityKind.COVERED_SHOWER: text("A shower with the hand covered"),
    ActivityKind.DRESSING_REDUCED: text("A smaller dressing"),
    ActivityKind.HANDFREE_WORK: text("Work that does not need this hand"),
    ActivityKind.DRIVING: text("Driving"),
    ActivityKind.SCAR_MASSAGE: text("Rubbing the scar"),
    ActivityKind.PASSIVE_STRETCH: text("Stretching the finger with the other hand"),
    ActivityKind.SOAKING: text("Swimming and soaking the hand"),
    ActivityKind.TIGHT_GRIP: text("Gripping tightly"),
    ActivityKind.HEAVY_LIFTING: text("Lifting heavy things"),
    ActivityKind.LIGHT_MANUAL_WORK: text("Light work with the hands"),
    ActivityKind.HEAVY_WORK: text("Heavy, wet or dirty work"),
}
THUMB: Final[dict[ActivityKind, str]] = {
    ActivityKind.GENTLE_BENDING: text("Bending the thumb gently"),
    ActivityKind.PASSIVE_STRETCH: text("Stretching the thumb with the other hand"),
}
HOW: Final[dict[str, str]] = {
    "hand-raised": text("at rest, keep it above the heart for two to three days."),
    "gentle-bending": text(
        "joint by joint, then from a hook to a fist. Hold for 5 seconds, 10 times. Do it 3 to 4 times a day."
    ),
    "dressing-reduced": text("when and how your treating team says, by day 5."),
    "driving": text("only with full control of the car. Ask the insurer."),
    "scar-massage": text("5 minutes, 3 times a day. Start gently. Press more as the pain settles."),
    "passive-stretch": text("hold for 10 seconds, 10 times. Do it 3 times a day."),
}
"""How a thing is done, by the code that its rule notes; a clinic's own words stand as they are."""
HOW_THUMB: Final = {
    "gentle-bending": text("joint by joint. Hold for 5 seconds, 10 times. Do it 3 to 4 times a day."),
}  # fmt: skip
GO_ON: Final = text("go on as you were shown.")

GATES: Final[dict[str, str]] = {
    Lock.STITCHES_OUT: text("all stitches are out"),
    Lock.TRIMMED: text("the stitch ends are cut"),
    Lock.WOUND_CLOSED: text("we have seen that the wound has closed"),
}
"""What is waited for, in the order in which it comes; an anchor is named as its lock is."""


def say_day(on: date, today: date | None = None) -> str:
    """`2 April 2026`, as the language spoken has it; without the year where it is that of `today`."""
    day = date_format(on, "MONTH_DAY_FORMAT")
    if today and on.year == today.year:
        return day
    return _("%(day)s %(year)s") % {"day": day, "year": date_format(on, "Y")}


def say_weekday(on: date, today: date | None = None) -> str:
    """`Thursday 2 April 2026`."""
    return _("%(weekday)s %(day)s") % {"weekday": date_format(on, "l"), "day": say_day(on, today)}


def say_born(on: date | None) -> str:
    return _("Born on %(date)s") % {"date": say_day(on)} if on else ""


def say_to_whom(name: str, child: bool) -> str:
    return (_("For the parent or guardian of %(name)s") if child else _("For %(name)s")) % {"name": name}


def say_surgery(on: date | None, today: date) -> str:
    if on is None:
        return _("Operation: we do not know the day yet.")
    if on > today:
        return _("Operation: to come on %(date)s.") % {"date": say_weekday(on)}
    return _("Operation: %(date)s.") % {"date": say_weekday(on)}


def say_today(surgery_on: date | None, today: date) -> str:
    """The day of printing, and its number in plain words."""
    said: dict[str, object] = {"date": say_weekday(today), "days": (today - surgery_on).days if surgery_on else 0}
    if surgery_on is None or surgery_on > today:
        return _("Printed on %(date)s.") % said
    if surgery_on == today:
        return _("Printed on %(date)s: day 0, the day of the operation.") % said
    if said["days"] == 1:
        return _("Printed on %(date)s: day 1, the day after the operation.") % said
    return _("Printed on %(date)s: day %(days)d, that is %(days)d days after the operation.") % said


def say_visit(on: date, minute: int | None, where: str, what: Iterable[str]) -> str:
    """`Thursday 2 April 2026 at 10:20, Fernhollow: stitches out.`"""
    said = {"when": say_weekday(on), "where": where, "what": join(what)}
    if minute is not None:
        said["when"] = _("%(day)s at %(time)s") % {"day": said["when"], "time": clock(minute)}
    return _("%(when)s, %(where)s: %(what)s.") % said


def say_to_book(kind: FollowUpKind, first: date, last: date, today: date, *, provisional: bool) -> str:
    """That somebody will ring, and the days between which the visit should be."""
    said = {"what": _(VISIT_FOR[kind]), "first": say_day(first, today), "last": say_day(last, today)}
    if last < today and not provisional:
        return _("Please ring us about %(what)s. It should have been by %(last)s.") % said
    if first <= today:
        window = _("It should be by about %(last)s.") if provisional else _("It should be by %(last)s.")
    elif provisional:
        window = _("It should be between about %(first)s and %(last)s.")
    else:
        window = _("It should be between %(first)s and %(last)s.")
    return f"{_('We will ring you about %(what)s.') % said} {window % said}"


def say_may_change(anchor: Anchor) -> str:
    """That a day hangs on something which is not recorded yet."""
    if anchor not in GATES:
        return _("This may change.")
    return _("This may change once %(gate)s.") % {"gate": _(GATES[anchor])}


def say_doing(kind: ActivityKind, thumb: bool) -> str:
    return _((THUMB if thumb else {}).get(kind) or DOING[kind])


def say_how(note: str, thumb: bool) -> str:
    known = (HOW_THUMB if thumb else {}).get(note) or HOW.get(note)
    return _(known) if known else note


def say_wait(gates: Collection[Lock], asked: bool, child: bool) -> str:
    """What a thing waits for beside its day; empty where it is the day alone."""
    until = {"gates": join(_(said) for gate, said in GATES.items() if gate in gates)}
    if asked:
        said = _("Your child's surgeon has asked that your child waits with this.") if child else _(
            "Your surgeon has asked that you wait with this."
        )  # fmt: skip
        return f"{said} {_('It waits also until %(gates)s.') % until}" if until["gates"] else said
    return _("Wait until %(gates)s.") % until if until["gates"] else ""


def say_not_before(on: date, today: date, *, gated: bool, provisional: bool, asked: bool, child: bool) -> str:
    """The first day; with its weekday where the day alone decides, which a patient may then look for in a diary."""
    if provisional:
        return _("not before about %(day)s. This may change.") % {"day": say_day(on, today)}
    said = {"day": (say_day if gated else say_weekday)(on, today), "surgeon": _(SURGEON[child])}
    return (_("%(surgeon)s has asked that this waits until %(day)s.") if asked else _("not before %(day)s.")) % said


def say_no_visit(surgery_on: date | None) -> str:
    if surgery_on is None:
        return _("We will ring you about your visits.")
    return _("There is no visit to come. Ring us if you are worried.")


def say_asked(child: bool) -> str:
    return _("Your child's surgeon has asked for this.") if child else _("Your surgeon has asked for this.")


def say_unconfirmed() -> str:
    return _("This may change: we will ask the surgeon again.")


def say_because(finger: str) -> str:
    return _("This is because of the %(finger)s.") % {"finger": finger}


def say_ring(clinic: str, telephone: str) -> str:
    if telephone:
        return _("Not sure, or worried? Ring %(clinic)s on %(telephone)s.") % {
            "clinic": clinic,
            "telephone": telephone,
        }
    return _("Not sure, or worried? Ring the clinic where the hand was operated on.")


def join(parts: Iterable[str]) -> str:
    """`a`, `a and b`, `a and b and c`."""
    first, *rest = [*parts] or [""]
    for part in rest:
        first = _("%(one)s and %(other)s") % {"one": first, "other": part}
    return first
