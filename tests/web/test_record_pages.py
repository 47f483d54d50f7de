"""The pages of an episode and of a patient: what stands on them, for whom, in how many queries."""

from datetime import date, timedelta

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from caseload.actions import contacts, episodes, findings, instructions
from caseload.models import Episode, Look
from caseload.timetable.terms import Ending
from tests.scenario import TODAY, Fernhollow, by
from tests.web.reading import read

MOST_QUERIES = 30


def shown(client: Client, episode: Episode) -> str:
    return read(client.get(f"/episodes/{episode.code}/"))


def test_the_page_names_the_patient_the_hand_and_the_day(clinic: Fernhollow, therapist: Client):
    episode = clinic.episode(clinic.patient(nhs_number="999 000 0018"))
    text = shown(therapist, episode)
    for said in (str(episode.patient), "Sat 2 Jan 1960", "999 000 0018", "Right ring finger", "day 12"):
        assert said in text


def test_opening_the_page_is_recorded(clinic: Fernhollow, admin: Client):
    episode = clinic.episode()
    shown(admin, episode)
    assert Look.objects.get().patient == episode.patient


def test_what_to_mind_stands_on_top(clinic: Fernhollow, therapist: Client):
    person = clinic.patient(given="Nell", family="Harbour", dressing_allergy="adhesive strips", interpreter=True)
    clinic.episode(clinic.patient(given="Nell", family="Harbour"), digit="index")
    text = shown(therapist, clinic.episode(person, raised_risk=True, risks=["diabetes", "smoking"]))
    for said in (
        "Dressing allergy: adhesive strips", "Interpreter: language not known", "Raised risk: diabetes, smoking",
        "Same name on the caseload: confirm the birth date",
    ):  # fmt: skip
        assert said in text


def test_every_date_says_why(clinic: Fernhollow, therapist: Client):
    text = shown(therapist, clinic.episode())
    assert "Counted from surgery on Fri 20 Mar 2026." in text
    assert "a public holiday (Good Friday)" in text


def test_what_hangs_on_something_not_recorded_says_that_it_is_provisional(clinic: Fernhollow, therapist: Client):
    page = therapist.get(f"/episodes/{clinic.episode().code}/").context["page"]
    review = next(line for line in page.follow_ups if line.kind == "therapy-review")
    assert review.row.provisional and review.status == "ahead"


def test_activities_say_what_keeps_them_locked(clinic: Fernhollow, therapist: Client):
    episode = clinic.episode()
    text = shown(therapist, episode)
    assert "the wound is not recorded as closed" in text and "the stitches are not recorded as fully out" in text
    stitches = {"kind": "stitches", "on": TODAY, "stitches_out": 4, "stitches_left": 0}
    wound = {"kind": "wound", "on": TODAY, "wound": "closed"}
    findings.record_visit(episode, by=by(clinic.therapist), sayings=[stitches, wound])
    assert "not recorded as closed" not in shown(therapist, episode)


def test_the_other_finger_of_the_hand_holds_back_what_the_whole_hand_does(clinic: Fernhollow, therapist: Client):
    ring = clinic.episode(surgery_on=date(2026, 2, 20))
    clinic.episode(ring.patient, digit="index", surgery_on=date(2026, 3, 30))
    page = therapist.get(f"/episodes/{ring.code}/").context["page"]
    lifting = next(line for line in page.activities if line.kind == "heavy-lifting")
    assert lifting.row.from_on == date(2026, 4, 20)
    assert any("right index finger" in sentence for sentence in lifting.why)
    massage = next(line for line in page.activities if line.kind == "scar-massage")
    assert not any("index" in sentence for sentence in massage.why)


def test_the_headline_has_an_owner_a_reason_and_a_remedy(clinic: Fernhollow, admin: Client):
    episode = clinic.episode(surgery_on=TODAY - timedelta(days=23), today=TODAY - timedelta(days=23))
    page = admin.get(f"/episodes/{episode.code}/").context["page"]
    assert (page.headline.word, page.headline.owner) == ("safety-alert", "lead")
    assert "the stitches are not recorded as fully out" in page.headline.advice.why
    assert [word for word, _ in page.headline.others] == ["visit-unbooked"]


def test_the_page_agrees_with_the_list_of_those_who_need_somebody(clinic: Fernhollow, admin: Client):
    for ago in range(0, 40, 4):
        episode = clinic.episode(surgery_on=TODAY - timedelta(days=ago))
        stored = episode.standings.on(TODAY).get()
        headline = admin.get(f"/episodes/{episode.code}/").context["page"].headline
        assert (stored.headline or None) == (headline and headline.word)
        assert stored.others == [word for word, _ in (headline.others if headline else [])]


def test_the_history_says_who_did_what_and_what_moved(clinic: Fernhollow, therapist: Client):
    episode = clinic.episode(therapist=None)
    episodes.correct(episode, by=by(clinic.admin), version=1, surgery_on=date(2026, 3, 23), therapist=clinic.therapist)
    text = shown(therapist, episode)
    assert "Ada Marsh: <b>facts corrected</b>" in text
    assert "Surgery date: Fri 20 Mar 2026 → Mon 23 Mar 2026" in text
    assert "Therapist: Thea Marsh" in text
    assert "Stitches out: due Wed 1 Apr 2026 to Sun 5 Apr 2026, proposed Thu 2 Apr 2026 → due" in text


def test_each_gate_says_how_it_stands_and_why(clinic: Fernhollow, therapist: Client):
    episode = clinic.episode(suture="none", technique="percutaneous", stitches_in=None)
    findings.record(episode, by=by(clinic.therapist), kind="wound", on=TODAY, wound="closed")
    assert "Gate open: wound closed Wed 1 Apr 2026 (day\N{NO-BREAK SPACE}12)." in shown(therapist, episode)
    findings.record(episode, by=by(clinic.therapist), kind="wound", on=TODAY, wound="concern")
    text = shown(therapist, episode)
    assert "Gate shut: the wound is not recorded as closed." in text
    assert "Locked: on Wed 1 Apr 2026 the wound was of concern." in text


def test_a_planned_episode_says_that_it_is_not_on_the_caseload_yet(clinic: Fernhollow, therapist: Client):
    text = shown(therapist, clinic.episode(surgery_on=TODAY + timedelta(days=3)))
    assert "it is not on the caseload yet" in text
    assert "<b>3 days before</b>" in text and "day -3" not in text


def test_a_closed_episode_can_be_read_and_no_more(clinic: Fernhollow, therapist: Client):
    episode = clinic.episode()
    episodes.close(episode, by=by(clinic.therapist), version=1, how=Ending.DIED, on=TODAY)
    text = shown(therapist, episode)
    assert "Closed</b>, died on" in text and "None is left: the episode is closed." in text
    for act in ("Record findings</a>", "Set a review</a>", "Close the episode</a>"):
        assert act not in text


@pytest.mark.parametrize("many", [1, 12])
def test_the_queries_of_the_page_are_few_and_do_not_grow(clinic: Fernhollow, therapist: Client, many: int):
    episode = clinic.episode(therapist=None)
    clinic.episode(episode.patient, digit="index")
    who = by(clinic.therapist)
    for _ in range(many):
        findings.record(episode, by=who, kind="wound", on=TODAY, wound="not-closed")
        contacts.log(episode.patient, by=who, how="phone", reached="spoke", episode=episode)
        instructions.give(episode, by=who, item="driving", by_whom="Dr Wren", why="swelling", from_day=9)
    episodes.correct(episode, by=who, version=None, therapist=clinic.therapist)
    with CaptureQueriesContext(
        connection,
    ) as asked:
        assert therapist.get(f"/episodes/{episode.code}/").status_code == 200
    assert len(asked) <= MOST_QUERIES


def test_the_queries_of_the_patient_page_do_not_grow(clinic: Fernhollow, admin: Client):
    patient = clinic.patient()
    counts = []
    for digit in ("ring", "index", "middle", "little"):
        clinic.episode(patient, digit=digit)
        with CaptureQueriesContext(connection) as asked:
            admin.get(f"/patients/{patient.code}/")
        counts.append(len(asked))
    assert len(set(counts)) == 1 and counts[0] <= MOST_QUERIES
