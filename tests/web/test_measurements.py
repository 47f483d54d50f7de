"""Measurements on the page of an episode: over time, as numbers and as small charts, corrected and withdrawn."""

from datetime import date
from typing import Any

import pytest
from django.test import Client

from caseload.actions import visits
from caseload.measures.bodies import KIND_OF, Body, Grip, Infection, Motion, Pain, QuickDash, Reach, Swelling, Trigger
from caseload.measures.terms import InfectionKind, Joint, MeasureKind, TriggerScale
from caseload.models import Episode, Measurement, Visit
from caseload.reads.measured import measured_of
from caseload.timetable.terms import AfterVisit, Digit
from caseload.web.forms.measures import body_of, fields_of, values_of
from tests.measures.builders import bent, joints
from tests.scenario import TODAY, Fernhollow, by
from tests.web.posting import errors, held, send
from tests.wording.test_waits import kept

FINGER = bent((85, 100, 60), (0, 15, 10))
DASH = QuickDash((3, 2, 4, 2, 3, 1, 2, 3, 3, 2, 4))
EVERY = [
    Infection(InfectionKind.SUPERFICIAL, "amoxicillin", date(2026, 3, 30), date(2026, 4, 6)), Pain(3),
    Swelling(42.5, 41.0), FINGER, Trigger(TriggerScale.GREEN, "IIIA"), Grip((24.5, 25.0, 24.0), (30.0,)), DASH,
]  # fmt: skip


def visit(clinic: Fernhollow, episode: Episode, *bodies: Body, on: date = TODAY) -> Visit:
    look = visits.Look(episode, AfterVisit.CONTINUE, measured={KIND_OF[type(body)]: body for body in bodies})
    return visits.record(episode.patient, by=by(clinic.therapist), on=on, looks=[look])


def page(client: Client, episode: Episode) -> str:
    return client.get(f"/episodes/{episode.code}/").content.decode()


def at(row: Measurement, act: str = "correct") -> str:
    return f"/visits/{row.visit.code}/measurements/{row.pk}/{act}/"


@pytest.fixture
def episode(clinic: Fernhollow) -> Episode:
    return clinic.episode()


@pytest.fixture
def pain(clinic: Fernhollow, episode: Episode) -> Measurement:
    return visit(clinic, episode, Pain(5)).measurements.get()


def test_a_visit_is_headed_by_its_date_and_beside_it_the_day(therapist: Client, episode: Episode, pain: Measurement):
    assert 'Wed 1 Apr 2026</span></a>&nbsp;<span class="soft">day ' in page(therapist, episode)


# ---- the fields and what is read from them ----


@pytest.mark.parametrize("body", EVERY, ids=lambda body: type(body).__name__)
def test_what_fills_the_fields_is_read_back_as_it_was(body: Body):
    kind = KIND_OF[type(body)]
    assert set(values_of(body)) <= set(fields_of(kind, Digit.RING))
    assert body_of(kind, Digit.RING, {f"d2_{name}": value for name, value in values_of(body).items()}, "d2_") == body


def test_every_kind_is_tried():
    assert {type(body) for body in EVERY} == KIND_OF.keys()


@pytest.mark.parametrize("kind", list(MeasureKind))
def test_nothing_typed_is_no_measure(kind: MeasureKind):
    assert body_of(kind, Digit.THUMB, {}) is None


def test_a_thumb_is_asked_for_two_joints_and_an_unknown_digit_for_none():
    own = [name for name in fields_of(MeasureKind.MOTION, Digit.THUMB) if not name.startswith("other_")]
    assert own == ["mcp_flexion", "mcp_deficit", "ip_flexion", "ip_deficit"]
    assert fields_of(MeasureKind.MOTION, None) == {}


# ---- the page over time ----


def test_measures_stand_in_the_order_of_time_with_what_follows_from_them(
    therapist: Client, clinic: Fernhollow, episode: Episode
):
    visit(clinic, episode, Pain(5), FINGER)
    visit(clinic, episode, Pain(7), on=date(2026, 3, 27))
    said = [line.said for line in measured_of(episode).lines]
    assert said == ["pain 7 of 10", "pain 5 of 10", kept("TAM 220°, 84.6 % of 260°: good; Strickland 77 %: good")]
    text = page(therapist, episode)
    assert kept("84.6 % of 260°: good") in text and text.index("pain 7 of 10") < text.index("pain 5 of 10")


def test_a_hand_and_a_person_are_measured_for_all_their_digits(clinic: Fernhollow, episode: Episode):
    index = clinic.episode(episode.patient, digit="index")
    left = clinic.episode(episode.patient, side="left")
    visit(clinic, episode, Pain(5), Grip((24.0,), (30.0,)), Swelling(42.0), DASH)
    assert [line.kind for line in measured_of(index).lines] == ["grip", "swelling", "quickdash"]
    assert all(line.elsewhere == episode for line in measured_of(index).lines)
    assert [line.kind for line in measured_of(left).lines] == ["quickdash"]
    assert measured_of(clinic.episode()).lines == []


def test_hands_that_are_not_known_share_nothing(clinic: Fernhollow, episode: Episode):
    one, two = (clinic.episode(episode.patient, side="", digit=digit) for digit in ("ring", "little"))
    visit(clinic, one, Grip((24.0,)))
    assert measured_of(two).lines == []


def test_however_much_is_measured_it_is_one_query(clinic: Fernhollow, episode: Episode, django_assert_num_queries):
    for day in range(1, 5):
        visit(clinic, episode, *EVERY, on=date(2026, 3, 20 + day))
    with django_assert_num_queries(1):
        assert len(measured_of(episode).lines) == 4 * len(EVERY)


def test_what_is_followed_over_time_are_its_standing_values(clinic: Fernhollow, episode: Episode):
    visit(clinic, episode, Pain(7), FINGER, DASH, Grip((24.0,), (30.0,)), on=date(2026, 3, 27))
    beside = Motion(joints((85, 100, 60), (0, 0, 0)), joints((90, 100, 60), (0, 0, 0)))
    visit(clinic, episode, Pain(5), beside, QuickDash((1,) * 9 + (None, None)))
    found = {series.quantity: series for series in measured_of(episode).series}
    assert [tuple(point) for point in found["pain"].points] == [(date(2026, 3, 27), 7), (TODAY, 5)]
    assert [round(point.value, 1) for point in found["motion"].points] == [84.6, 98.0]
    assert found["motion"].whole == "mixed"
    assert len(found["grip"].points) == len(found["disability"].points) == 1


def test_a_chart_needs_two_values_and_says_them_all(therapist: Client, clinic: Fernhollow, episode: Episode):
    visit(clinic, episode, Pain(7), DASH, on=date(2026, 3, 27))
    assert "<figure>" not in page(therapist, episode)
    visit(clinic, episode, Pain(5), QuickDash((1,) * 11))
    text = page(therapist, episode)
    assert text.count("<figure>") == 2
    said = "Pain: 7 on Fri 27 Mar 2026 (day\N{NO-BREAK SPACE}7), 5 on Wed 1 Apr 2026 (day\N{NO-BREAK SPACE}12)."
    assert f'aria-label="{said}"' in text
    assert "fewer than about 14 points may mean little" in text
    assert "style=" not in text[text.index("<figure>") :]


def test_where_nothing_was_measured_the_page_says_so(therapist: Client, episode: Episode):
    assert "Nothing has been measured yet." in page(therapist, episode)


# ---- correcting and withdrawing ----


def test_a_correction_leaves_the_earlier_value_readable(therapist: Client, episode: Episode, pain: Measurement):
    send(therapist, at(pain), pain="3", why="mistyped")
    text = page(therapist, episode)
    assert "<s>pain 5 of 10</s>" in text and "<b>pain 3 of 10</b>" in text
    assert "corrected by Thea Marsh" in text and "mistyped" in text
    assert "Pain: pain 5 of 10 → pain 3 of 10" in text, "the history says it too"


def test_a_withdrawn_value_stays_with_its_reason(therapist: Client, episode: Episode, pain: Measurement):
    assert errors(send(therapist, at(pain, "withdraw"), why=" ")) == {"why": ["required"]}
    send(therapist, at(pain, "withdraw"), why="of the other hand")
    text = page(therapist, episode)
    assert "<s>pain 5 of 10</s>" in text and "withdrawn by Thea Marsh" in text and "of the other hand" in text
    assert "measurements/" not in text, "there is nothing left to correct"


@pytest.mark.parametrize("body", EVERY, ids=lambda body: type(body).__name__)
def test_the_form_holds_the_fields_of_its_kind_with_their_values(
    therapist: Client, clinic: Fernhollow, episode: Episode, body: Body
):
    row = visit(clinic, episode, body).measurements.get()
    form = therapist.get(at(row)).context["form"]
    assert set(form.fields) == {"key", "version", "why", *fields_of(KIND_OF[type(body)], Digit.RING)}
    assert errors(send(therapist, at(row), why="nothing")) == {"__all__": ["nothing-changed"]}, held(form)


@pytest.mark.parametrize(
    ("body", "typed", "wrong"),
    [
        (Pain(5), {"pain": "11"}, {"pain": ["impossible"]}),
        (Pain(5), {"pain": "3,5"}, {"pain": ["number-not-whole"]}),
        (Pain(5), {"pain": "much"}, {"pain": ["number-unreadable"]}),
        (Pain(5), {"pain": ""}, {"__all__": ["nothing-measured"]}),
        (DASH, {"dash_3": "6"}, {"dash_3": ["impossible"]}),
        (FINGER, {"pip_flexion": "190"}, {"pip_flexion": ["impossible"]}),
        (FINGER, {"pip_flexion": "130", "other_mcp_deficit": "95"},
         {"pip_flexion": ["unusual"], "other_mcp_deficit": ["unusual"]}),
        (Trigger(TriggerScale.GREEN, "III"), {"trigger_grade": ""}, {"trigger_grade": ["grade-missing"]}),
        (Trigger(TriggerScale.GREEN, "III"), {"trigger_scale": ""}, {"trigger_scale": ["scale-missing"]}),
        (Trigger(TriggerScale.GREEN, "III"), {"trigger_grade": "3"}, {"trigger_grade": ["impossible"]}),
        (EVERY[0], {"infection": ""}, {"infection": ["infection-missing"]}),
        (EVERY[0], {"antibiotic_until": "29 mar"}, {"antibiotic_until": ["impossible"]}),
        (Grip((24.0,)), {"grip_2": "250"}, {"grip_2": ["impossible"]}),
    ],
)  # fmt: skip
def test_what_cannot_stand_is_said_at_its_field(
    therapist: Client, clinic: Fernhollow, episode: Episode, body: Body, typed: dict[str, Any], wrong
):
    row = visit(clinic, episode, body).measurements.get()
    assert errors(send(therapist, at(row), why="mistyped", **typed)) == wrong
    assert Measurement.objects.count() == 1


def test_an_unusual_value_is_kept_once_it_is_confirmed_as_it_is(
    therapist: Client, clinic: Fernhollow, episode: Episode
):
    row = visit(clinic, episode, Grip((24.0,))).measurements.get()
    asked = send(therapist, at(row), why="mistyped", grip_1="95,5")
    assert "A grip of 95.5 kg lies outside 0–90 kg. Is that right?" in asked.content.decode()
    other = send(therapist, at(row), page=asked, grip_1="98", sure=["grip_1:95.5"])
    assert errors(other) == {"grip_1": ["unusual"]}, "another value is asked about anew"
    assert send(therapist, at(row), page=asked, sure=["grip_1:95.5"]).status_code == 302
    assert measured_of(episode).lines[-1].said == "grip 95.5 kg"


def test_numbers_are_typed_with_comma_or_point(therapist: Client, clinic: Fernhollow, episode: Episode):
    row = visit(clinic, episode, Swelling(42.0)).measurements.get()
    send(therapist, at(row), why="mistyped", swelling_cm="42,5", swelling_other_cm="41.25 cm")
    assert measured_of(episode).lines[-1].said == "figure of eight 42.5 cm, other hand 41.25 cm"


def test_a_joint_measured_one_way_only_is_kept_without_a_sum(therapist: Client, clinic: Fernhollow, episode: Episode):
    row = visit(clinic, episode, FINGER).measurements.get()
    send(therapist, at(row), why="not measured", mcp_flexion="", mcp_deficit="", dip_flexion="", dip_deficit="")
    assert Motion({Joint.PIP: Reach(100, 15)}) == measured_of(episode).lines[-1].body


def test_a_measure_is_corrected_once(therapist: Client, pain: Measurement):
    send(therapist, at(pain), pain="3", why="mistyped")
    assert errors(send(therapist, at(pain), pain="2", why="again")) == {"__all__": ["corrected-already"]}


def test_a_correction_sent_twice_is_made_once(therapist: Client, pain: Measurement):
    form = therapist.get(at(pain))
    answers = [send(therapist, at(pain), page=form, pain="3", why="mistyped") for _ in range(2)]
    assert [answer.status_code for answer in answers] == [302, 302]
    assert Measurement.objects.count() == 2


def test_a_measure_of_another_visit_and_a_withdrawal_are_not_found(
    therapist: Client, clinic: Fernhollow, episode: Episode, pain: Measurement
):
    other = visit(clinic, clinic.episode(), Pain(1))
    assert therapist.get(f"/visits/{other.code}/measurements/{pain.pk}/correct/").status_code == 404
    send(therapist, at(pain, "withdraw"), why="never so")
    assert therapist.get(at(pain.corrected_by)).status_code == 404


def test_whoever_is_no_clinician_corrects_nothing(admin: Client, episode: Episode, pain: Measurement):
    assert admin.get(at(pain)).status_code == 403
    assert "measurements/" not in page(admin, episode)
