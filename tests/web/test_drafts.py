"""Nothing typed is lost: kept as it is sent, kept past a time-out, read by nobody else, forgotten once it is saved."""

from datetime import UTC, datetime, timedelta

import pytest
import time_machine
from django.core import signing
from django.http import QueryDict
from django.test import Client

from caseload.actions import drafts
from caseload.models import Draft, Staff
from caseload.web.drafts import SALT
from tests.scenario import Fernhollow
from tests.web.posting import held
from tests.web.reading import read
from tests.web.visiting import preview, record

AT = datetime(2026, 4, 1, 9, tzinfo=UTC)
PLACE = "/episodes/abc/visit/"


def sent(text: str) -> dict[str, list[str]]:
    return dict(QueryDict(text).lists())


def seal(staff: Staff, place: str) -> str:
    return signing.dumps([staff.pk, place], salt=SALT)


def test_what_was_typed_is_kept_without_what_belongs_to_one_sending(clinic):
    drafts.keep(
        clinic.therapist, PLACE, sent("note=red&meets=a&meets=b&d1_seen=1-2-3-4&key=x&sure=y&ours=z&live=1"), AT
    )
    kept = drafts.kept(clinic.therapist, PLACE)
    assert kept and kept.body == {"note": ["red"], "meets": ["a", "b"], "d1_seen": ["1-2-3-4"]}


def test_a_zero_character_is_no_fault(clinic, therapist):
    drafts.keep(clinic.therapist, PLACE, {"no\0te": ["d\0ry"]}, AT)
    assert Draft.objects.get().body == {"note": ["dry"]}
    assert therapist.post("/drafts/throw-away/", {"back": f"{PLACE}\0"}).url == PLACE


@pytest.mark.parametrize("back", ["", "//example.org/", "https://example.org/", "x"])
def test_throwing_away_leads_nowhere_else(therapist, back):
    assert therapist.post("/drafts/throw-away/", {"back": back}).url == "/"


def test_the_last_sending_stands(clinic):
    for text in ("note=one", "note=two"):
        drafts.keep(clinic.therapist, PLACE, sent(text), AT)
    assert Draft.objects.get().body == {"note": ["two"]}


def test_nobody_else_reads_it(clinic):
    drafts.keep(clinic.therapist, PLACE, sent("note=mine"), AT)
    assert drafts.kept(clinic.lead, PLACE) is None
    drafts.forget(clinic.lead, PLACE)
    assert drafts.kept(clinic.therapist, PLACE)


def test_what_another_window_typed_at_the_same_place_outlives_a_saving(clinic):
    drafts.keep(clinic.therapist, PLACE, sent("note=theirs"), AT)
    drafts.forget(clinic.therapist, PLACE, sent("note=saved&key=x"))
    assert Draft.objects.get().body == {"note": ["theirs"]}
    drafts.forget(clinic.therapist, PLACE, sent("note=theirs&key=y"))
    assert not Draft.objects.exists()


@pytest.mark.parametrize(("place", "size"), [(PLACE, drafts.LARGEST), ("/" * (drafts.LONGEST_PLACE + 1), 1)])
def test_what_is_too_much_is_not_kept(clinic, place, size):
    assert not drafts.keep(clinic.therapist, place, {"note": ["ä" * size]}, AT)
    assert not Draft.objects.exists()


def test_it_is_forgotten_after_seven_days_and_not_before(clinic):
    drafts.keep(clinic.therapist, PLACE, sent("note=old"), AT)
    drafts.forget_old(AT + timedelta(days=7))
    assert Draft.objects.exists()
    drafts.forget_old(AT + timedelta(days=7, seconds=1))
    assert not Draft.objects.exists()


@pytest.fixture
def address(clinic: Fernhollow) -> str:
    return f"/episodes/{clinic.episode().code}/correct/"


@pytest.mark.parametrize("wrong", ["", "x", "place", "salt", "old", "gone"])
def test_without_a_seal_of_this_page_nothing_is_kept_for_nobody(clinic, address, wrong):
    ours = {
        "": "", "x": "x", "place": seal(clinic.therapist, PLACE),
        "salt": signing.dumps([clinic.therapist.pk, address], salt="other"),
        "old": seal(clinic.therapist, address), "gone": seal(clinic.therapist, address),
    }[wrong]  # fmt: skip
    if wrong == "gone":
        Staff.objects.filter(pk=clinic.therapist.pk).update(is_active=False)
    with_age = AT + timedelta(hours=25) if wrong == "old" else AT
    with time_machine.travel(with_age, tick=False):
        answer = Client().post(address, {"note": "typed", "ours": ours})
    assert answer.status_code == 302 and not Draft.objects.exists()


def test_a_seal_of_the_page_keeps_what_a_signed_out_person_sent(clinic, address):
    answer = Client().post(address, {"note": "typed", "ours": seal(clinic.therapist, address)})
    assert answer.url == f"/sign-in/?next={address}"
    assert Draft.objects.get().staff == clinic.therapist


def test_the_seal_saves_no_form_from_another_site(clinic, address):
    client = Client(enforce_csrf_checks=True)
    answer = client.post(address, {"note": "typed", "ours": seal(clinic.therapist, address)})
    assert answer.status_code == 403 and not Draft.objects.exists()


def test_who_signed_in_again_meanwhile_finds_it_on_the_page(clinic, address):
    client = Client(enforce_csrf_checks=True)
    client.force_login(clinic.therapist)
    answer = client.post(address, {"note": "typed", "ours": seal(clinic.therapist, address)})
    assert (answer.status_code, answer.url) == (302, address)
    assert Draft.objects.get().body == {"note": ["typed"]}


def test_who_signed_in_instead_of_somebody_else_leaves_nothing(clinic, address):
    client = Client(enforce_csrf_checks=True)
    client.force_login(clinic.lead)
    assert client.post(address, {"note": "typed", "ours": seal(clinic.therapist, address)}).status_code == 403
    assert not Draft.objects.exists()


def test_a_draft_is_thrown_away(clinic, therapist):
    drafts.keep(clinic.therapist, "/today/", sent("note=old"), AT)
    assert therapist.post("/drafts/throw-away/", {"back": "/today/"}).url == "/today/"
    assert not Draft.objects.exists()
    assert therapist.get("/drafts/throw-away/").status_code == 405


# ---- on the page of a visit ----

TYPED = {"d1_stitches_out": "4", "d1_stitches_left": "0", "d1_wound": "closed", "d1_after": "continue", "note": "dry"}


@pytest.fixture
def visit(clinic: Fernhollow) -> str:
    return f"/episodes/{clinic.episode().code}/visit/"


def value(page, name: str) -> str:
    return str(page.context["form"][name].value())


def test_a_press_that_does_not_save_keeps_what_was_typed(clinic, therapist, visit):
    preview(therapist, visit, **TYPED)
    page = therapist.get(visit)
    assert {name: value(page, name) for name in TYPED} == TYPED
    said = " ".join(read(page).split())
    assert "You typed this on Wed 1 Apr 2026 at 10:00 and did not save it." in said and "Nothing is saved yet" in said


def test_an_unreadable_form_is_kept_as_it_was_typed(therapist, visit):
    preview(therapist, visit, on="some day", d1_stitches_out="many", note="dry")
    page = therapist.get(visit)
    assert [value(page, name) for name in ("on", "d1_stitches_out", "note")] == ["some day", "many", "dry"]


def test_what_was_emptied_or_unticked_stays_so(therapist, visit):
    preview(therapist, visit, on="", meets=[], source="photo")
    page = therapist.get(visit)
    assert value(page, "on") == "" and not page.context["form"]["meets"].value() and value(page, "source") == "photo"


def test_saving_forgets_it_in_the_same_request(therapist, visit):
    assert record(therapist, visit, **TYPED).status_code == 302
    assert not Draft.objects.exists()


def test_a_colleague_opens_an_empty_page(clinic, therapist, lead, visit):
    preview(therapist, visit, **TYPED)
    page = lead.get(visit)
    assert "did not save it" not in page.content.decode() and not page.context["form"]["note"].value()


def test_thrown_away_the_page_is_as_it_is_on_record(therapist, visit):
    preview(therapist, visit, **TYPED)
    page = therapist.post("/drafts/throw-away/", {"back": visit}, follow=True)
    assert "did not save it" not in page.content.decode() and not page.context["form"]["note"].value()


def test_what_is_sent_while_typing_is_kept_and_answered_by_the_changes_alone(therapist, visit):
    answer = preview(therapist, visit, live="1", **TYPED)
    assert answer["X-Kept"] == "10:00" and "Stitches out: done" in answer.content.decode()
    assert "<html" not in answer.content.decode() and value(therapist.get(visit), "note") == "dry"


def test_the_seal_in_the_answer_lets_one_press_save(therapist, visit):
    page = therapist.get(visit)
    typed = held(page.context["form"]) | TYPED | {"ours": "x"}
    sure = therapist.post(visit, typed | {"live": "1"}).context["sure"]
    assert therapist.post(visit, typed | {"sure": sure}).url.startswith("/visits/")


def test_a_sending_that_comes_after_the_saving_keeps_nothing(therapist, visit):
    shown = preview(therapist, visit, **TYPED)
    saved = held(shown.context["form"]) | {"sure": shown.context["sure"]}
    assert therapist.post(visit, saved).status_code == 302
    assert "X-Kept" not in therapist.post(visit, saved | {"live": "1"})
    assert not Draft.objects.exists()


def test_after_the_time_out_every_field_is_there_once_the_same_person_signs_in(clinic, therapist, sign_in, visit):
    page = therapist.get(visit)
    ours = page.content.decode().split('name="ours" value="')[1].split('"')[0]
    typed = held(page.context["form"]) | TYPED | {"ours": ours}
    therapist.session.flush()
    assert therapist.post(visit, typed).url == f"/sign-in/?next={visit}"
    assert "What you typed is kept" in therapist.get("/sign-in/").content.decode()
    other = sign_in(clinic.lead).get(visit)
    assert "did not save it" not in other.content.decode() and not other.context["form"]["note"].value()
    again = sign_in(clinic.therapist).get(visit)
    assert {name: value(again, name) for name in TYPED} == TYPED


def test_a_draft_holds_to_what_was_seen_when_it_was_typed(clinic, therapist, lead, visit):
    preview(therapist, visit, **TYPED)
    assert record(lead, visit, d1_wound="concern", d1_after="continue").status_code == 302
    draft = held(therapist.get(visit).context["form"])
    assert therapist.post(visit, draft).status_code == 409


def test_adding_a_finger_carries_over_what_was_typed_and_saving_forgets_both(clinic, therapist):
    first = clinic.episode()
    other = clinic.episode(first.patient, digit="little")
    alone = f"/episodes/{first.code}/visit/"
    both = f"{alone}?also={other.code}"
    preview(therapist, alone, **TYPED)
    page = therapist.get(both)
    assert {name: value(page, name) for name in TYPED} == TYPED
    assert page.context["form"]["d2_of"].value() == other.code and page.context["form"]["d2_seen"].value()
    preview(therapist, both, d2_wound="concern", d2_after="continue")
    assert f'<a href="{both}">open that</a>' in therapist.get(alone).content.decode()
    assert record(therapist, both).status_code == 302
    assert not Draft.objects.exists()


def test_saving_one_finger_keeps_what_was_typed_of_two(clinic, therapist):
    first = clinic.episode()
    other = clinic.episode(first.patient, digit="little")
    alone = f"/episodes/{first.code}/visit/"
    preview(therapist, f"{alone}?also={other.code}", **TYPED, d2_after="continue")
    assert record(therapist, alone, **TYPED).status_code == 302
    assert Draft.objects.get().body["d2_after"] == ["continue"]


def test_a_day_that_was_typed_in_words_is_the_one_that_was_meant_then(clinic, therapist):
    address = f"/episodes/{clinic.episode().code}/visit/"
    preview(therapist, address, on="yesterday", d1_wound="closed", d1_after="continue")
    with time_machine.travel(AT + timedelta(days=1), tick=False):
        therapist.force_login(clinic.therapist)
        assert therapist.get(address).context["form"]["on"].value() == "Tue 31 Mar 2026"
