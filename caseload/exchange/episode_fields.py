"""The parts of an episode line (findings, reviews, instructions, appointments, done), read strictly."""

from typing import Final

from caseload.errors import Refusal
from caseload.timetable.facts import Appointment, Done, Finding, Instruction, SetReview
from caseload.timetable.fields import Fields, refusal
from caseload.timetable.orders import check_instruction
from caseload.timetable.rule import LONGEST
from caseload.timetable.terms import FindingKind, FollowUpKind, Outcome, Source, WoundState

MOST_STITCHES: Final = 99
MOST_MINUTES: Final = 240
OF_EVERY_FINDING: Final = frozenset({"ref", "kind", "on", "source", "recorded_on", "countersigned_on"})
OF_A_KIND: Final = {
    FindingKind.STITCHES: frozenset({"out", "left", "confirmed_full"}),
    FindingKind.WOUND: frozenset({"state"}),
    FindingKind.RED_FLAG: frozenset({"closed_on"}),
    FindingKind.TRIM_NEEDED: frozenset(),
    FindingKind.TRIMMED: frozenset(),
}
FINDING: Final = OF_EVERY_FINDING.union(*OF_A_KIND.values())
REVIEW: Final = frozenset({"ref", "on", "in_days", "minutes"})
INSTRUCTION: Final = frozenset({"item", "by", "why", "earliest", "target", "latest", "from", "locked", "confirmed"})
APPOINTMENT: Final = frozenset({"on", "serves", "outcome", "ended_on", "approved", "untold_since"})
DONE: Final = frozenset({"kind", "on"})


def read_finding(body: object, where: str) -> Finding:
    fields = Fields(body, FINDING, where)
    kind = fields.word("kind", FindingKind)
    _check_belonging(fields, kind)
    on = fields.day("on")
    fields.not_before("recorded_on", on, "the finding")
    fields.not_before("countersigned_on", on, "the finding")
    fields.not_before("closed_on", on, "the finding")
    has_counts = kind is FindingKind.STITCHES
    return Finding(
        ref=fields.text_or("ref", where),
        kind=kind,
        on=on,
        source=fields.word_or("source", Source, Source.SEEN),
        recorded_on=fields.day_or("recorded_on", None),
        countersigned_on=fields.day_or("countersigned_on", None),
        out=fields.whole("out", 0, MOST_STITCHES) if has_counts else None,
        left=fields.whole("left", 0, MOST_STITCHES) if has_counts else None,
        confirmed_full=fields.flag("confirmed_full"),
        state=fields.word("state", WoundState) if kind is FindingKind.WOUND else None,
        closed_on=fields.day_or("closed_on", None),
    )


def read_review(body: object, where: str) -> SetReview:
    fields = Fields(body, REVIEW, where)
    in_days = fields.whole("in_days", 1, LONGEST)
    minutes = fields.whole_or("minutes", 20, 5, MOST_MINUTES)
    return SetReview(fields.text_or("ref", where), fields.day("on"), in_days, minutes)


def read_instruction(body: object, where: str) -> Instruction:
    fields = Fields(body, INSTRUCTION, where)
    given = Instruction(
        item=fields.text("item"),
        by=fields.text_or("by", "the surgeon"),
        why=fields.text_or("why", "no reason given"),
        earliest=fields.whole_or("earliest", None, 0, LONGEST),
        target=fields.whole_or("target", None, 0, LONGEST),
        latest=fields.whole_or("latest", None, 0, LONGEST),
        from_day=fields.whole_or("from", None, 0, LONGEST),
        locked=fields.flag("locked"),
        confirmed=fields.flag("confirmed", default=True),
    )
    _check_placed(given, where)
    return given


def read_appointment(body: object, where: str) -> Appointment:
    fields = Fields(body, APPOINTMENT, where)
    return Appointment(
        on=fields.day("on"),
        serves=fields.each("serves", _follow_up_name),
        outcome=fields.word_or("outcome", Outcome, None),
        ended_on=fields.day_or("ended_on", None),
        approved=fields.flag("approved"),
        untold_since=fields.day_or("untold_since", None),
    )


def read_done(body: object, where: str) -> Done:
    fields = Fields(body, DONE, where)
    return Done(_follow_up_name(fields.text("kind"), fields.place("kind")), fields.day("on"))


def _check_belonging(fields: Fields, kind: FindingKind) -> None:
    for name in FINDING - OF_EVERY_FINDING - OF_A_KIND[kind]:
        if name in fields:
            raise fields.refusal(name, f"a finding of the kind {kind} does not have it", "leave it out")


def _follow_up_name(value: object, where: str) -> str:
    """A follow-up by its kind, or by its key: kind, colon, cause."""
    if isinstance(value, str) and value.split(":")[0] in frozenset(FollowUpKind):
        return value
    raise refusal(where, f"“{value}” is not a follow-up", f"give one of {', '.join(FollowUpKind)}")


def _check_placed(given: Instruction, where: str) -> None:
    """A refusal of the instruction says where it stands."""
    try:
        check_instruction(given)
    except Refusal as refused:
        field = f"{where}.{refused.details['field']}"
        raise Refusal(refused.code, f"{field}: {refused.message}", field=field) from refused
