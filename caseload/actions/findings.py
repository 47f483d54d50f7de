"""Findings: recorded, corrected by a later one, withdrawn, countersigned. None is ever changed."""

from typing import Any

from caseload.access import Act
from caseload.actions import closing
from caseload.actions.act import By, act, fresh, trail
from caseload.actions.settle import settle, together
from caseload.errors import Refusal
from caseload.models import Countersignature, Episode, Finding, RedFlagClosure, RedFlagEscalation
from caseload.timetable.terms import FindingKind, Source, Suture


@act(Act.FINDING_RECORD)
def record(episode: Episode, *, by: By, **said: Any) -> Finding:
    """Record one finding (see models.Finding for `said`). Refuses one that cannot be, or that leaves a doubt open."""
    fresh(episode, None)
    finding = Finding(episode=episode, by=by.person, recorded_at=by.at, recorded_on=by.today, **said)
    check(finding, by)
    finding.save()
    _settled(Act.FINDING_RECORD, finding, by)
    return finding


@act(Act.FINDING_RECORD)
def record_visit(episode: Episode, *, by: By, sayings: list[dict[str, Any]]) -> Episode:
    """Record what one look at the hand found. Taking stitches out needs the state of the wound in the same breath."""
    kinds = {said["kind"] for said in sayings}
    if not sayings:
        raise Refusal("nothing-found", "Nothing was filled in. Say what was found, or leave the page.")
    taken_here = any(said["kind"] == FindingKind.STITCHES and said.get("source") == Source.SEEN for said in sayings)
    if taken_here and FindingKind.WOUND not in kinds:
        raise Refusal(
            "wound-missing",
            "Stitches were taken out: say whether the wound is closed, not closed, or of concern.",
            field="wound",
        )
    with together():  # a removal without its wound would make a re-check that nobody needs
        for said in sayings:
            record(episode, by=by.unkeyed, **said)
    return episode


@act(Act.FINDING_CORRECT)
def correct(finding: Finding, *, by: By, **said: Any) -> Finding:
    """Correct a finding by a later one that names it. A finding is corrected once; the next corrects the correction."""
    later = _later(finding, by, **said)
    check(later, by)
    later.save()
    _settled(Act.FINDING_CORRECT, later, by)
    return later


@act(Act.FINDING_CORRECT)
def withdraw(finding: Finding, *, by: By, why: str) -> Finding:
    """Say that a finding was never so (recorded for the wrong hand, say). It stays readable; a discharge that rested
    on it is taken back.
    """
    if not why.strip():
        raise Refusal("why-missing", "Say why the finding is withdrawn.", field="why")
    names = ("kind", "on", "source", "reported_by", "stitches_out", "stitches_left", "wound")
    later = _later(finding, by, withdraws=True, note=why, **{name: getattr(finding, name) for name in names})
    later.save()
    _settled(Act.FINDING_CORRECT, later, by, closing.hold_to_discharge(later.episode))
    return later


@act(Act.FINDING_COUNTERSIGN)
def countersign(finding: Finding, *, by: By) -> Finding:
    """A therapist vouches for what was reported or pictured; only then may it open a gate."""
    fresh(finding.episode, None)
    if finding.source not in (Source.REPORTED, Source.PHOTO):
        raise Refusal("nothing-to-countersign", "Only a report or a picture can be countersigned.")
    _, new = Countersignature.objects.get_or_create(
        finding=finding, defaults={"on": by.today, "by": by.person, "recorded_at": by.at}
    )
    if new:
        _settled(Act.FINDING_COUNTERSIGN, finding, by)
    return finding


@act(Act.RED_FLAG_ESCALATE)
def escalate(finding: Finding, *, by: By, to: str) -> Finding:
    """Note to whom a red flag was passed on before its outcome is known. It stays open until it is closed."""
    fresh(finding.episode, None)
    if not to.strip():
        raise Refusal("to-whom", "Say to whom it was passed on.", field="to")
    _still_open(finding)
    RedFlagEscalation.objects.create(finding=finding, to=to, by=by.person, recorded_at=by.at)
    _settled(Act.RED_FLAG_ESCALATE, finding, by, {"escalated_to": ("", to)})
    return finding


@act(Act.RED_FLAG_CLOSE)
def close_red_flag(finding: Finding, *, by: By, escalated_to: str, outcome: str) -> Finding:
    """Close a red flag: to whom it was escalated and what came of it are both needed."""
    fresh(finding.episode, None)
    for field, value in (("escalated_to", escalated_to), ("outcome", outcome)):
        if not value.strip():
            raise Refusal(
                "closure-incomplete", "A red flag closes with whom it was escalated to and the outcome.", field=field
            )
    _still_open(finding)
    RedFlagClosure.objects.create(
        finding=finding, on=by.today, by=by.person, recorded_at=by.at, escalated_to=escalated_to, outcome=outcome
    )
    _settled(Act.RED_FLAG_CLOSE, finding, by, {"escalated_to": ("", escalated_to), "outcome": ("", outcome)})
    return finding


def _still_open(finding: Finding) -> None:
    """As stored: somebody else may have closed or withdrawn it since it was read."""
    open_now = Finding.objects.standing().filter(pk=finding.pk, kind=FindingKind.RED_FLAG, closure__isnull=True)
    if not open_now.exists():
        raise Refusal("no-open-red-flag", "This is not an open red flag.")


def _later(finding: Finding, by: By, **said: Any) -> Finding:
    fresh(finding.episode, None)
    if hasattr(finding, "corrected_by"):
        raise Refusal("corrected-already", "This finding was corrected already. Correct the later one.")
    own = {"kind": finding.kind, "on": finding.on, "source": finding.source, "reported_by": finding.reported_by}
    return Finding(
        **(own | said), episode=finding.episode, visit=finding.visit, by=by.person, recorded_at=by.at,
        recorded_on=by.today, corrects=finding, first_id=finding.first_id or finding.pk,
    )  # fmt: skip


def check(finding: Finding, by: By) -> None:
    """Refuse a finding that cannot be: its day, its reporter, its counts."""
    episode = finding.episode
    if episode.ended_on:
        raise Refusal("episode-closed", "This episode is closed. Open a new one for a new operation.")
    if finding.on > by.today:
        raise Refusal("finding-in-future", "A finding cannot be dated after today.", field="on")
    if episode.surgery_on and finding.on < episode.surgery_on:
        raise Refusal("finding-before-surgery", "A finding cannot be dated before the surgery.", field="on")
    if finding.source == Source.REPORTED and not finding.reported_by.strip():
        raise Refusal("reporter-missing", "Name the clinician who reported it.", field="reported_by")
    if finding.kind == FindingKind.STITCHES:
        _check_stitches(finding)
    if finding.kind in (FindingKind.TRIM_NEEDED, FindingKind.TRIMMED) and episode.suture != Suture.ABSORBABLE:
        raise Refusal("nothing-to-trim", "Only absorbable stitches have ends to trim. Correct the suture first.")


def _check_stitches(finding: Finding) -> None:
    """Where the counts do not add up, or the number put in is unknown, "none left" needs an explicit confirmation."""
    episode, out, left = finding.episode, finding.stitches_out, finding.stitches_left
    if out is None or left is None:
        raise Refusal("counts-missing", "Say how many stitches came out and how many are left.", field="stitches_out")
    if episode.suture == Suture.NONE:
        raise Refusal(
            "no-stitches",
            "The episode says that no stitches were put in. Correct the suture first.",
            field="stitches_out",
        )
    earlier = Finding.objects.standing().filter(episode=episode, kind=FindingKind.STITCHES, on__lte=finding.on)
    before = sum(row.stitches_out or 0 for row in earlier.exclude(source=Source.PATIENT) if row != finding.corrects)
    if left == 0 and before + out != episode.stitches_in and not finding.confirmed_full:
        known = "is not known" if episode.stitches_in is None else f"was {episode.stitches_in}"
        raise Refusal(
            "count-unconfirmed",
            f"The number put in {known}; {before + out} came out in all. Look again, then confirm that none are left.",
            field="confirmed_full",
        )


def _settled(name: Act, finding: Finding, by: By, said: dict[str, tuple[object, object]] | None = None) -> None:
    moved = settle(finding.episode)
    trail(name, finding, by=by, patient_id=finding.episode.patient_id, changed=(said or {}) | moved)
