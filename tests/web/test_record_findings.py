"""Findings through their forms: recorded, corrected, withdrawn, countersigned."""

from datetime import date

import pytest
from django.test import Client

from caseload.models import Episode, Finding, FollowUp
from tests.scenario import TODAY, Fernhollow
from tests.web.posting import errors, send


@pytest.fixture
def episode(clinic: Fernhollow) -> Episode:
    return clinic.episode(clinic.patient(given="Nell", family="Harbour"))


@pytest.fixture
def address(episode: Episode) -> str:
    return f"/episodes/{episode.code}/findings/new/"


def found(episode: Episode) -> list[tuple[str, str]]:
    return [(row.kind, row.wound) for row in episode.findings.order_by("id")]


def test_one_look_at_the_hand_is_saved_in_one_sending(therapist: Client, episode: Episode, address: str):
    answer = send(therapist, address, on="today", stitches_out="4", stitches_left="0", wound="closed")
    assert answer.status_code == 302 and answer.url == f"/episodes/{episode.code}/#findings"
    assert found(episode) == [("stitches", ""), ("wound", "closed")]
    assert FollowUp.objects.get(episode=episode, key="stitches-out").done_on == TODAY


def test_a_date_is_read_day_first(therapist: Client, episode: Episode, address: str):
    send(therapist, address, on="1/4/26", wound="closed")
    assert episode.findings.get().on == date(2026, 4, 1)


def test_taking_stitches_out_needs_the_state_of_the_wound(therapist: Client, episode: Episode, address: str):
    answer = send(therapist, address, stitches_out="4", stitches_left="0")
    assert answer.status_code == 422 and errors(answer) == {"wound": ["wound-missing"]}
    assert found(episode) == []


def test_counts_that_do_not_add_up_ask_for_a_second_look(therapist: Client, episode: Episode, address: str):
    typed = {"stitches_out": "3", "stitches_left": "0", "wound": "closed"}
    answer = send(therapist, address, **typed)
    assert errors(answer) == {"confirmed_full": ["count-unconfirmed"]}
    assert send(therapist, address, **typed, confirmed_full="on").status_code == 302
    assert episode.findings.filter(confirmed_full=True).exists()


def test_what_was_typed_survives_a_refusal(therapist: Client, address: str):
    page = send(therapist, address, on="1/4/26", stitches_out="4", stitches_left="0", note="dry, no <b>swelling</b>")
    text = page.content.decode()
    assert 'value="1/4/26"' in text and "dry, no &lt;b&gt;swelling&lt;/b&gt;" in text
    assert "Wed 1 Apr 2026 (day first; if Sun 4 Jan 2026 is meant, type the month as a word)" in text


@pytest.mark.parametrize(
    ("typed", "wrong"),
    [
        ({"on": "32/4/26", "wound": "closed"}, {"on": ["date-impossible"]}),
        ({"on": "tomorrow", "wound": "closed"}, {"on": ["finding-in-future"]}),
        ({"on": "1/3/26", "wound": "closed"}, {"on": ["finding-before-surgery"]}),
        ({"source": "reported", "wound": "closed"}, {"reported_by": ["reporter-missing"]}),
        ({"stitches_out": "2", "wound": "closed"}, {"stitches_out": ["counts-missing"]}),
        ({}, {"__all__": ["nothing-found"]}),
    ],
)
def test_each_refusal_stands_where_it_belongs(therapist: Client, address: str, typed, wrong):
    assert errors(send(therapist, address, **typed)) == wrong


def test_the_summary_of_errors_leads_to_the_field(therapist: Client, address: str):
    text = send(therapist, address, on="nonsense").content.decode()
    assert '<a href="#id_on">' in text and 'id="id_on_error"' in text
    assert 'aria-invalid="true" aria-describedby="id_on_helptext id_on_error"' in text


def test_only_what_applies_to_the_suture_is_asked(therapist: Client, clinic: Fernhollow):
    none = clinic.episode(suture="none", technique="percutaneous", stitches_in=None)
    absorbable = clinic.episode(suture="absorbable", stitches_in=None)
    asked = [
        set(therapist.get(f"/episodes/{row.code}/findings/new/").context["form"].fields) for row in (none, absorbable)
    ]
    assert "stitches_out" not in asked[0] and "trim" not in asked[0]
    assert {"stitches_out", "trim"} <= asked[1]


def test_ends_to_trim_are_recorded_for_absorbable_stitches(therapist: Client, clinic: Fernhollow):
    row = clinic.episode(suture="absorbable", stitches_in=None)
    send(therapist, f"/episodes/{row.code}/findings/new/", trim="trim-needed", wound="closed")
    assert found(row) == [("wound", "closed"), ("trim-needed", "")]


def test_the_preview_says_what_moves_and_saves_nothing(therapist: Client, episode: Episode, address: str):
    typed = {"stitches_out": "4", "stitches_left": "0", "wound": "closed"}
    page = send(therapist, address, **typed, preview="1")
    assert "Stitches out: done, Wed 1 Apr 2026" in page.context["moves"]
    assert "Scar massage: unlocked" in page.context["moves"]
    assert found(episode) == []
    assert send(therapist, address, page=page).status_code == 302, "the previewed form is saved as it stands"
    assert len(found(episode)) == 2


def test_a_preview_refuses_what_saving_would_refuse(therapist: Client, address: str):
    assert errors(send(therapist, address, stitches_out="3", stitches_left="0", wound="closed", preview="1")) == {
        "confirmed_full": ["count-unconfirmed"]
    }


def test_a_form_sent_twice_records_once(therapist: Client, episode: Episode, address: str):
    page = therapist.get(address)
    answers = [send(therapist, address, page=page, wound="closed") for _ in range(2)]
    assert [answer.status_code for answer in answers] == [302, 302]
    assert answers[0].url == answers[1].url
    assert episode.findings.count() == 1


def test_with_a_namesake_on_the_caseload_the_birth_date_is_confirmed(
    therapist: Client, clinic: Fernhollow, address: str, episode: Episode
):
    clinic.episode(clinic.patient(given="Nell", family="Harbour", born_on=date(1971, 2, 3)))
    answer = send(therapist, address, wound="closed")
    assert errors(answer) == {"birth_date_confirmed": ["required"]}
    assert send(therapist, address, wound="closed", birth_date_confirmed="on").status_code == 302


def test_a_correction_leaves_the_earlier_finding_readable(therapist: Client, episode: Episode, address: str):
    send(therapist, address, wound="closed")
    first = episode.findings.get()
    send(therapist, f"/episodes/{episode.code}/findings/{first.pk}/correct/", wound="not-closed", note="a gap")
    text = therapist.get(f"/episodes/{episode.code}/").content.decode()
    assert "<s>Wound closed</s>" in text and "<b>Wound not closed</b>, a gap" in text
    assert "corrected by Thea Marsh" in text


def test_a_finding_is_corrected_once(therapist: Client, episode: Episode, address: str):
    send(therapist, address, wound="closed")
    first = episode.findings.get()
    correct = f"/episodes/{episode.code}/findings/{first.pk}/correct/"
    send(therapist, correct, wound="not-closed")
    assert errors(send(therapist, correct, wound="concern")) == {"__all__": ["corrected-already"]}


def test_a_withdrawn_finding_stays_with_its_reason(therapist: Client, episode: Episode, address: str):
    send(therapist, address, wound="closed")
    first = episode.findings.get()
    withdraw = f"/episodes/{episode.code}/findings/{first.pk}/withdraw/"
    assert errors(send(therapist, withdraw, why="  ")) == {"why": ["required"]}
    send(therapist, withdraw, why="recorded for the other hand")
    text = therapist.get(f"/episodes/{episode.code}/").content.decode()
    assert "<s>Wound closed</s>" in text and "withdrawn by Thea Marsh" in text and "the other hand" in text


def test_a_report_opens_its_gate_when_countersigned(therapist: Client, episode: Episode, address: str):
    report = {"source": "reported", "reported_by": "Nurse Lind", "stitches_out": "4", "stitches_left": "0"}
    send(therapist, address, **report)
    page = therapist.get(f"/episodes/{episode.code}/")
    assert "Countersign" in page.content.decode()
    finding = episode.findings.get()
    answer = therapist.post(f"/episodes/{episode.code}/findings/{finding.pk}/countersign/")
    assert answer.status_code == 302
    assert "countersigned by Thea Marsh" in therapist.get(f"/episodes/{episode.code}/").content.decode()


def test_a_finding_of_another_episode_is_not_found(
    therapist: Client, clinic: Fernhollow, episode: Episode, address: str
):
    send(therapist, address, wound="closed")
    other = clinic.episode()
    finding = Finding.objects.get()
    assert therapist.get(f"/episodes/{other.code}/findings/{finding.pk}/correct/").status_code == 404
