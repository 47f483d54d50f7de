"""Measurements: corrected by a later one that names the earlier, or withdrawn. None is ever changed."""

from datetime import date

from caseload.access import Act
from caseload.actions import closing
from caseload.actions.act import By, act, fresh, trail
from caseload.errors import Refusal
from caseload.measures.bodies import KIND_OF, Body, Infection, QuickDash, read, write
from caseload.measures.limits import refuse_impossible
from caseload.measures.terms import InfectionKind, MeasureKind
from caseload.models import Episode, Measurement
from caseload.timetable.activities import is_child
from caseload.timetable.terms import Digit


@act(Act.MEASUREMENT_CORRECT)
def correct(measurement: Measurement, *, by: By, body: Body, why: str) -> Measurement:
    """Say a measurement again. One is corrected once; the next corrects the correction.

    Raises Refusal for what cannot be, and `deep-without-flag` for an infection that turns out to be deep.
    """
    if KIND_OF[type(body)] != measurement.kind:
        raise Refusal("other-measure", "A correction says the same measure again. Withdraw this one instead.")
    check(body, measurement.episode, measurement.on)
    if not _is_deep(read(MeasureKind(measurement.kind), measurement.body)):
        check_flagged(body, measurement.episode)
    return _later(measurement, by, body=write(body), why=why)


@act(Act.MEASUREMENT_CORRECT)
def withdraw(measurement: Measurement, *, by: By, why: str) -> Measurement:
    """Say that a measurement was never so. It stays readable."""
    return _later(measurement, by, body=measurement.body, why=why, withdraws=True)


def check(body: Body, episode: Episode, on: date) -> None:
    """Refuse what cannot have been measured of this digit, or is not asked of this person on that day."""
    refuse_impossible(body, Digit(episode.digit or Digit.RING))  # one not known yet is taken for a finger
    if isinstance(body, QuickDash) and is_child(episode.patient.born_on, on):
        raise Refusal("under-16", "The questionnaire is for people of 16 and over.", field="dash_1")


def check_flagged(body: Body, episode: Episode) -> None:
    """A deep infection is a red flag: it is said, and open, before the measure stands."""
    if _is_deep(body) and not closing.red_flags(episode).exists():
        raise Refusal("deep-without-flag", "A deep or spreading infection is a red flag: say so, and whom it went to.",
                      field="red_flag")  # fmt: skip


def _is_deep(body: Body) -> bool:
    return isinstance(body, Infection) and body.kind is InfectionKind.DEEP


def _later(measurement: Measurement, by: By, *, why: str, withdraws: bool = False, body: dict) -> Measurement:
    fresh(measurement.episode, None)
    if not why.strip():
        raise Refusal("why-missing", "Say why: the earlier value stays readable beside it.", field="why")
    if measurement.withdraws or Measurement.objects.filter(corrects=measurement).exists():
        raise Refusal("corrected-already", "This was corrected or withdrawn already. Correct the later one.")
    later = Measurement.objects.create(
        visit=measurement.visit, episode=measurement.episode, kind=measurement.kind, on=measurement.on, body=body,
        by=by.person, recorded_at=by.at, corrects=measurement, withdraws=withdraws, why=why,
    )  # fmt: skip
    changed = {str(measurement.kind): (measurement.body, None if withdraws else body)}
    trail(Act.MEASUREMENT_CORRECT, later, by=by, patient_id=measurement.episode.patient_id, changed=changed)
    return later
