"""What is to happen, by form: instructions, reviews, calls."""

from datetime import date

import pytest
from django.test import Client

from caseload.actions import episodes
from caseload.models import Contact, Episode, Instruction, SetReview
from tests.scenario import Fernhollow, by
from tests.web.posting import errors, send
from tests.web.reading import read


@pytest.fixture
def episode(clinic: Fernhollow) -> Episode:
    return clinic.episode()


@pytest.fixture
def address(episode: Episode) -> str:
    return f"/episodes/{episode.code}/"


@pytest.mark.parametrize(
    ("typed", "wrong"),
    [
        ({"item": "stitches-out", "earliest": "16"}, {"earliest": ["window-incomplete"]}),
        ({"item": "stitches-out", "earliest": "20", "target": "18", "latest": "21"}, {"target": ["window-order"]}),
        ({"item": "driving"}, {"from_day": ["one-thing"]}),
        ({"item": "driving", "from_day": "9", "locked": "on"}, {"from_day": ["one-thing"]}),
        ({"item": "juggling", "from_day": "9"}, {"item": ["invalid_choice"]}),
        ({"item": "driving", "from_day": "9", "why": ""}, {"why": ["required"]}),
    ],
)
def test_an_instruction_that_says_nothing_clear_is_refused(therapist: Client, address: str, typed, wrong):
    answer = send(therapist, f"{address}instructions/new/", **({"by_whom": "Dr Wren", "why": "thin skin"} | typed))
    assert errors(answer) == wrong


def test_days_after_surgery_are_said_as_dates(therapist: Client, episode: Episode, address: str):
    window = {"item": "stitches-out", "earliest": "16", "target": "18", "latest": "21"}
    page = send(therapist, f"{address}instructions/new/", by_whom="Dr Wren", why="thin skin", **window, preview="1")
    text = page.content.decode()
    assert all(
        day in text for day in ("Sun 5 Apr 2026</output>", "Tue 7 Apr 2026</output>", "Fri 10 Apr 2026</output>")
    )
    asked = {"text": "16", "as": "number", "since": "2026-03-20"}
    assert therapist.post("/dates/", asked).content.decode() == "Sun 5 Apr 2026"
    for wrong in ({"text": "x"}, {"text": "9999"}, {"since": "9999-12-31"}, {"since": ""}, {"text": ""}):
        assert therapist.post("/dates/", asked | wrong).content.decode() == ""


def test_how_each_item_stands_is_shown_beside_the_form(therapist: Client, clinic: Fernhollow, address: str):
    rows = therapist.get(f"{address}instructions/new/").context["stands"]
    assert {"stitches-out", "driving", "scar-massage"} <= {str(row.kind) for row in rows}
    send(therapist, f"{address}instructions/new/", item="driving", from_day="9", by_whom="Dr Wren", why="swelling")
    rows = {str(row.kind): row for row in therapist.get(f"{address}instructions/new/").context["stands"]}
    assert rows["driving"].ordered and rows["driving"].from_on == date(2026, 3, 29)


def test_after_a_corrected_surgery_date_an_instruction_is_confirmed_and_says_what_moves(
    therapist: Client, clinic: Fernhollow, episode: Episode, address: str
):
    window = {"item": "stitches-out", "earliest": "16", "target": "18", "latest": "21"}
    send(therapist, f"{address}instructions/new/", by_whom="Dr Wren", why="thin skin", **window)
    given = Instruction.objects.get()
    episodes.correct(episode, by=by(clinic.admin), version=None, surgery_on=date(2026, 3, 23))
    assert "The surgery date was corrected since. Does this still hold?" in therapist.get(address).content.decode()
    assert episode.follow_ups.get(key="stitches-out").latest_on == date(2026, 4, 13), "it survives the new date"
    confirm = f"{address}instructions/{given.pk}/confirm/"
    page = therapist.get(confirm)
    assert "counted from the surgery on Mon 23 Mar 2026" in read(page)
    assert page.context["moves"] == []
    assert send(therapist, confirm, page=page).status_code == 302
    text = therapist.get(address).content.decode()
    assert "Does this still hold?" not in text
    assert "Dr Wren: thin skin." in text


def test_an_instruction_replaces_the_rules_and_can_be_withdrawn(therapist: Client, episode: Episode, address: str):
    window = {"item": "stitches-out", "earliest": "16", "target": "18", "latest": "21"}
    send(therapist, f"{address}instructions/new/", by_whom="Dr Wren", why="thin skin", **window)
    assert "Stitches out: day 16 to 21 after surgery, best on day 18" in therapist.get(address).content.decode()
    assert episode.follow_ups.get(key="stitches-out").latest_on == date(2026, 4, 10)
    page = f"{address}instructions/{Instruction.objects.get().pk}/withdraw/"
    assert errors(send(therapist, page, why=" ")) == {"why": ["required"]}
    shown = send(therapist, page, why="Dr Wren rang: two weeks will do", preview="1")
    assert "Stitches out: Tue 7 Apr 2026 → Thu 2 Apr 2026" in shown.context["moves"]
    send(therapist, page, page=shown)
    assert "holds no more since" in (text := therapist.get(address).content.decode())
    assert "Dr Wren rang: two weeks will do" in text
    assert episode.follow_ups.get(key="stitches-out").latest_on == date(2026, 4, 5)


def test_a_review_is_set_with_its_window_shown_first(therapist: Client, episode: Episode, address: str):
    page = send(therapist, f"{address}reviews/new/", in_days="14", preview="1")
    assert page.context["moves"] == ["Review as set: added, Wed 15 Apr 2026"]
    send(therapist, f"{address}reviews/new/", page=page)
    assert SetReview.objects.get().in_days == 14


@pytest.mark.parametrize("days", ["0", "366", "a week", ""])
def test_a_review_is_set_in_one_to_365_days(therapist: Client, address: str, days: str):
    assert set(errors(send(therapist, f"{address}reviews/new/", in_days=days))) == {"in_days"}


def test_a_review_is_ticked_off_but_a_removal_never(therapist: Client, episode: Episode, address: str):
    form = f"{address}follow-ups/stitches-out/done/"
    assert errors(send(therapist, form)) == {"__all__": ["needs-a-finding"]}
    assert send(therapist, f"{address}follow-ups/outcome-review/done/", note="seen on the ward").status_code == 302
    assert episode.follow_ups.get(key="outcome-review").state == "done"


def test_a_call_is_logged_for_the_episode_or_the_patient(admin: Client, episode: Episode, address: str):
    send(admin, f"{address}contacts/new/", reached="no-answer")
    send(admin, f"/patients/{episode.patient.code}/contacts/new/", reached="spoke", text="will come on Thursday")
    assert [row.episode for row in Contact.objects.order_by("id")] == [episode, None]
    assert "will come on Thursday" in admin.get(f"/patients/{episode.patient.code}/").content.decode()
