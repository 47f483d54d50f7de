"""What visits and measures the demo shows, so that whoever opens it finds each kind at least once."""

from collections import defaultdict
from itertools import pairwise

import pytest

from caseload.measures import disability, grip, motion
from caseload.measures.bodies import read
from caseload.measures.grades import LEVELS
from caseload.measures.limits import doubts
from caseload.measures.terms import Joint, MeasureKind
from caseload.models import Appointment, Episode, Examined, Finding, FollowUp, Measurement, Visit
from caseload.timetable.terms import AfterVisit, Digit, FindingKind, Outcome, Source, WoundState
from tests.demo.conftest import TODAY

FEW, MANY = 3, 12
"""Episodes measured often enough for a curve: of what is measured at reviews only, and of all else."""


def series(kind):
    """What stands of a measure: for each episode that has it, its digit and its bodies in the order of their days."""
    found = defaultdict(list)
    for row in Measurement.objects.standing().filter(kind=kind).order_by("on", "pk").select_related("episode"):
        found[row.episode].append(read(MeasureKind(kind), row.body))
    return [(Digit(episode.digit), bodies) for episode, bodies in found.items()]


def curves(kind, number, least=2):
    """Numbers of each episode that was measured so often; a measure that gives none is left out."""
    rows = [[each for each in (number(body, digit) for body in bodies) if each is not None]
            for digit, bodies in series(kind)]  # fmt: skip
    return [numbers for numbers in rows if len(numbers) >= least]


def total(body, digit):
    return motion.total_active_motion(body.joints, digit)


def test_every_appointment_that_was_kept_has_its_visit(built):
    kept = Appointment.objects.filter(outcome=Outcome.ATTENDED)
    assert kept.count() > 100 and not kept.filter(visit__isnull=True).exists()
    assert not Finding.objects.filter(visit__isnull=True, corrects__isnull=True).exists()


def test_visits_say_what_was_begun_and_taught(built):
    assert Visit.objects.exclude(taught="").count() > 100
    assert Examined.objects.exclude(started=[]).count() > 20
    assert {str(after) for after in AfterVisit} == set(Examined.objects.values_list("after", flat=True))


@pytest.mark.parametrize(
    ("kind", "number", "episodes"),
    [
        (MeasureKind.PAIN, lambda body, _: body.score, MANY),
        (MeasureKind.SWELLING, lambda body, _: body.cm - body.other_cm, FEW),
        (MeasureKind.QUICKDASH, lambda body, _: disability.score(body), FEW),
    ],
)
def test_pain_swelling_and_disability_fall(built, kind, number, episodes):
    found = curves(kind, number)
    assert len(found) >= episodes
    assert all(later <= earlier for numbers in found for earlier, later in pairwise(numbers))


@pytest.mark.parametrize(
    ("kind", "number", "episodes"),
    [(MeasureKind.MOTION, total, MANY), (MeasureKind.GRIP, lambda body, _: grip.share(body), FEW)],
)
def test_motion_and_grip_come_back(built, kind, number, episodes):
    found = curves(kind, number)
    assert len(found) >= episodes
    assert all(numbers[-1] > numbers[0] for numbers in found)


def test_motion_is_compared_with_the_other_hand_and_fingers_have_a_strickland(built):
    both = [(digit, bodies[-1]) for digit, bodies in series(MeasureKind.MOTION) if bodies[-1].other]
    assert len(both) >= MANY
    assert all(motion.total_active_motion(body.other, digit) >= total(body, digit) for digit, body in both)
    assert any(motion.strickland(body, digit) for digit, body in both)


def test_a_thumb_has_two_joints(built):
    thumbs = [body for digit, bodies in series(MeasureKind.MOTION) if digit is Digit.THUMB for body in bodies]
    assert thumbs and all(set(body.joints) == {Joint.MCP, Joint.IP} for body in thumbs)


def test_triggering_is_graded_before_and_after_on_one_scale(built):
    pairs = [(bodies[0], bodies[-1]) for _, bodies in series(MeasureKind.TRIGGER) if len(bodies) > 1]
    levels = [[LEVELS[body.scale][body.grade] for body in pair] for pair in pairs if pair[0].scale is pair[1].scale]
    assert any(after < before for before, after in levels)


def test_no_number_would_be_asked_back(built):
    rows = Measurement.objects.select_related("episode")
    bodies = [(read(MeasureKind(row.kind), row.body), Digit(row.episode.digit)) for row in rows]
    assert not [doubt for body, digit in bodies for doubt in doubts(body, digit)]


def test_an_infection_has_its_antibiotic_and_its_days(built):
    infections = [body for _, bodies in series(MeasureKind.INFECTION) for body in bodies]
    assert any(body.antibiotic and body.from_on < body.until_on for body in infections)


def test_one_questionnaire_has_no_score_for_two_answers_are_missing(built):
    answered = [body for _, bodies in series(MeasureKind.QUICKDASH) for body in bodies]
    assert [disability.unanswered(body) for body in answered if disability.score(body) is None] == [2]


def test_a_child_is_measured_without_the_questionnaire(built):
    children = Measurement.objects.filter(episode__patient__born_on__gt=TODAY.replace(year=TODAY.year - 16))
    assert set(children.values_list("kind", flat=True)) == {MeasureKind.MOTION}


@pytest.mark.parametrize("source", [Source.PHOTO, Source.REPORTED])
def test_a_visit_from_afar_waits_for_its_countersignature(built, source):
    waiting = Finding.objects.standing().filter(source=source, countersignature__isnull=True, visit__source=source)
    assert waiting.filter(episode__ended_on__isnull=True).exists()


def test_two_digits_of_one_hand_were_seen_in_one_visit(built):
    visits = [list(visit.examined.all()) for visit in Visit.objects.prefetch_related("examined__episode")]
    hands = [{(each.episode.side, each.episode.digit) for each in seen} for seen in visits if len(seen) == 2]
    assert any(len(hand) == 2 and len({side for side, _ in hand}) == 1 for hand in hands)


def test_one_red_flag_is_of_today_and_one_was_passed_on_and_closed(built):
    flags = Finding.objects.standing().filter(kind=FindingKind.RED_FLAG)
    assert flags.filter(on=TODAY, closure__isnull=True).exists()
    assert flags.filter(escalations__isnull=False).exclude(closure__outcome="").filter(closure__isnull=False).exists()


def test_a_wound_opened_again_and_was_closed_later(built):
    wounds = Finding.objects.standing().filter(kind=FindingKind.WOUND).order_by("on", "pk")
    courses = [list(wounds.filter(episode=row).values_list("wound", flat=True)) for row in Episode.objects.all()]
    assert [WoundState.CLOSED, WoundState.NOT_CLOSED, WoundState.CLOSED] in courses


def test_a_visit_of_the_wrong_hand_is_withdrawn_with_what_hung_on_it(built):
    visit = Visit.objects.get(withdrawn_at__isnull=False)
    assert "wrong hand" in visit.withdrawn_why
    assert not visit.findings.standing().exists()
    assert not Measurement.objects.standing().filter(visit=visit).exists()


def test_of_today_one_visit_is_recorded_and_others_are_still_to_be(built):
    here = Appointment.objects.filter(on=TODAY, arrived_at__isnull=False, walk_in=False)
    assert here.filter(outcome=Outcome.ATTENDED, visit__on=TODAY).count() == 1
    waiting = here.filter(outcome="")
    assert waiting.filter(session__site__name="Fernhollow").count() >= 2


def test_nobody_with_stitches_in_was_discharged(built):
    """What is due is dropped when an episode closes: a removal that was never done would lie among it."""
    removals = FollowUp.objects.filter(kind="stitches-out", state="dropped", episode__ended_how="discharged")
    assert not removals.exists()
