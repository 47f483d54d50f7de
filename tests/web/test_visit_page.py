"""The page of a visit: what it asks, what it shows before saving, what it saves, and what it refuses."""

from datetime import date

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from caseload.actions import findings
from caseload.models import Episode, Examined, FollowUp, Measurement, Visit
from tests.scenario import TODAY, Fernhollow, by
from tests.web.posting import errors, held, send
from tests.web.reading import read
from tests.web.visiting import ORDINARY, preview, record, said

MOST_FIELDS = 12


@pytest.fixture
def episode(clinic: Fernhollow) -> Episode:
    return clinic.episode(clinic.patient(given="Nell", family="Harbour"))


@pytest.fixture
def address(episode: Episode) -> str:
    return f"/episodes/{episode.code}/visit/"


def found(episode: Episode) -> list[tuple[str, str]]:
    return [(row.kind, row.wound) for row in episode.findings.order_by("id")]


def fields(client: Client, episode: Episode) -> set[str]:
    return set(client.get(f"/episodes/{episode.code}/visit/").context["form"].fields)


class TestGrip:
    """Trying the grip is tight gripping: it waits as that does (no tight gripping until closed)."""

    def test_while_tight_grip_is_locked_the_page_says_so(self, therapist: Client, address: str):
        assert "not to be tried yet: tight grip locked" in therapist.get(address).content.decode()

    def test_a_grip_tried_all_the_same_is_asked_back(self, therapist: Client, address: str):
        own = preview(therapist, address, **ORDINARY, d1_grip_1="20")
        other = preview(therapist, address, **ORDINARY, d1_grip_1="", d1_grip_other_1="20")
        [question] = own.context["doubts"]  # of day 12 it is the day alone: the wound is found closed by this visit
        why = "from Fri 3 Apr 2026 (day\N{NO-BREAK SPACE}14)"
        assert question == f"The grip was tried although tight grip was not open: {why}. Is that right?"
        assert other.context["doubts"] == []

    def test_once_it_is_open_nothing_is_asked(self, therapist: Client, clinic: Fernhollow):
        episode = clinic.episode(surgery_on=date(2026, 3, 2), suture="absorbable", stitches_in=None)
        findings.record(episode, by=by(clinic.therapist), kind="wound", on=date(2026, 3, 20), wound="closed")
        page = preview(therapist, f"/episodes/{episode.code}/visit/", d1_after="continue", d1_grip_1="20")
        assert page.context["doubts"] == [] and "not to be tried yet" not in page.content.decode()


def test_a_discharge_with_a_wound_that_is_not_closed_is_asked_back(therapist: Client, episode: Episode, address: str):
    gone = {"d1_stitches_out": "4", "d1_stitches_left": "0", "d1_after": "discharge"}
    asked = preview(therapist, address, **gone, d1_wound="not-closed").context["doubts"]
    assert asked == ["The wound is not recorded as closed. Is the discharge right?"]
    assert preview(therapist, address, **gone, d1_wound="closed").context["doubts"] == []


class TestSaving:
    def test_nothing_is_saved_before_it_was_shown(self, therapist: Client, episode: Episode, address: str):
        page = preview(therapist, address, **ORDINARY)
        told = said(page)
        assert (
            "Stitches out: done, Wed 1 Apr 2026 (day\N{NO-BREAK SPACE}12)" in told
            and "Scar massage: unlocked, from Thu 2 Apr 2026 (day\N{NO-BREAK SPACE}13)" in told
        )
        assert sum("Scar massage" in line for line in told) == 1, "what is unlocked and moves is told once"
        assert found(episode) == [] and not Visit.objects.exists()

    def test_what_was_shown_is_saved_by_the_second_press(self, therapist: Client, episode: Episode, address: str):
        answer = record(therapist, address, **ORDINARY)
        assert answer.status_code == 302, errors(answer)
        assert found(episode) == [("stitches", ""), ("wound", "closed")]
        assert FollowUp.objects.get(episode=episode, key="stitches-out").done_on == TODAY
        assert Examined.objects.get().after == "continue"

    def test_what_was_changed_after_it_was_shown_is_shown_again(self, therapist: Client, address: str):
        page = preview(therapist, address, **ORDINARY)
        changed = held(page.context["form"]) | {"sure": page.context["sure"], "d1_wound": "not-closed"}
        answer = therapist.post(address, changed)
        assert answer.status_code == 200 and not Visit.objects.exists()
        assert therapist.post(address, changed | {"sure": answer.context["sure"]}).status_code == 302

    def test_an_ordinary_visit_is_twelve_fields_at_most(self, therapist: Client, address: str, episode: Episode):
        typed = {
            "d1_stitches_out": "4", "d1_stitches_left": "0", "d1_wound": "closed", "d1_started": ["gentle-bending"],
            "d1_after": "review", "d1_in_days": "14", "taught": "scar massage",
        }  # fmt: skip
        assert len(typed) <= MOST_FIELDS
        assert record(therapist, address, **typed).status_code == 302
        assert Examined.objects.get().review.in_days == 14
        assert episode.follow_ups.filter(kind="set-review").count() == 1

    def test_a_form_sent_twice_records_once(self, therapist: Client, address: str):
        page = preview(therapist, address, **ORDINARY)
        data = held(page.context["form"]) | {"sure": page.context["sure"]}
        answers = [therapist.post(address, data) for _ in range(2)]
        assert answers[0].url == answers[1].url and Visit.objects.count() == 1

    def test_a_discharge_sent_twice_leads_to_its_visit(self, therapist: Client, address: str, episode: Episode):
        record(therapist, address, **ORDINARY)
        page = preview(therapist, address, d1_after="discharge")
        data = held(page.context["form"]) | {"sure": page.context["sure"]}
        answers = [therapist.post(address, data) for _ in range(2)]
        assert [answer.status_code for answer in answers] == [302, 302]
        episode.refresh_from_db()
        assert episode.ended_how == "discharged"

    def test_a_visit_that_moves_nothing_says_so(self, therapist: Client, address: str):
        record(therapist, address, **ORDINARY)
        text = preview(therapist, address, meets=[], d1_pain="2", d1_after="continue").content.decode()
        assert "No date and no lock changes." in text

    def test_a_removal_that_was_reported_is_done_and_opens_nothing(self, therapist: Client, address: str):
        elsewhere = {"source": "reported", "reported_by": "Nurse Lind"}
        told = said(preview(therapist, address, **ORDINARY | elsewhere))
        assert "Stitches out: done, Wed 1 Apr 2026 (day\N{NO-BREAK SPACE}12)" in told and not any(
            "unlocked" in line for line in told
        )

    def test_a_red_flag_is_recorded_with_the_rest(self, therapist: Client, episode: Episode, address: str):
        record(therapist, address, d1_red_flag="spreading redness", d1_infection="deep", d1_after="continue")
        assert episode.findings.get().note == "spreading redness"
        assert Measurement.objects.get().kind == "infection"


class TestLive:
    def test_the_panel_alone_is_answered_and_nothing_is_saved(self, therapist: Client, address: str):
        answer = send(therapist, address, **ORDINARY, live="1")
        text = read(answer)
        assert answer.status_code == 200 and "<html" not in text
        assert "Scar massage: unlocked, from Thu 2 Apr 2026" in text and 'name="sure"' in text
        assert not Visit.objects.exists()

    def test_what_is_not_ready_is_a_list(self, therapist: Client, address: str):
        answer = send(therapist, address, d1_stitches_out="4", live="1")
        text = answer.content.decode()
        assert answer.status_code == 200 and "Say what is to happen next" in text and 'name="sure"' not in text

    def test_the_seal_of_the_panel_saves_with_one_press(self, therapist: Client, address: str):
        page = therapist.get(address)
        data = held(page.context["form"]) | ORDINARY
        sure = therapist.post(address, data | {"live": "1"}).context["sure"]
        assert therapist.post(address, data | {"sure": sure}).status_code == 302


class TestWhatIsAsked:
    def test_the_next_step_is_never_chosen_beforehand(self, therapist: Client, address: str):
        assert therapist.get(address).context["form"]["d1_after"].value() is None
        assert errors(preview(therapist, address, d1_wound="closed")) == {"d1_after": ["required"]}

    @pytest.mark.parametrize("suture", ["non-absorbable", "absorbable", "unknown", "none"])
    def test_whatever_the_form_asks_stands_on_the_page(self, therapist: Client, clinic: Fernhollow, suture: str):
        page = therapist.get(f"/episodes/{clinic.episode(suture=suture, stitches_in=None).code}/visit/")
        assert {name for name in page.context["form"].fields if f'name="{name}"' not in page.content.decode()} == set()

    def test_where_there_are_no_stitches_none_are_counted(self, therapist: Client, clinic: Fernhollow):
        asked = fields(therapist, clinic.episode(suture="none", technique="percutaneous", stitches_in=None))
        assert not asked & {"d1_stitches_in", "d1_stitches_out", "d1_trim", "d1_suture"}

    def test_ends_are_trimmed_of_absorbable_stitches_only(self, therapist: Client, clinic: Fernhollow):
        absorbable = clinic.episode(suture="absorbable", stitches_in=None)
        assert {"d1_stitches_out", "d1_trim"} <= fields(therapist, absorbable)
        assert "d1_trim" not in fields(therapist, clinic.episode())
        record(therapist, f"/episodes/{absorbable.code}/visit/", d1_trim="trim-needed", d1_wound="closed",
               d1_after="continue")  # fmt: skip
        assert found(absorbable) == [("wound", "closed"), ("trim-needed", "")]

    def test_stitches_that_are_not_known_are_asked_for(self, therapist: Client, clinic: Fernhollow):
        episode = clinic.episode(suture="unknown", stitches_in=None)
        address = f"/episodes/{episode.code}/visit/"
        answer = record(therapist, address, d1_suture="non-absorbable", d1_stitches_in="4", **ORDINARY)
        assert answer.status_code == 302, errors(answer)
        episode.refresh_from_db()
        assert (episode.suture, episode.stitches_in) == ("non-absorbable", 4)

    def test_a_number_put_in_is_corrected_where_the_stitches_are_seen(
        self, therapist: Client, episode: Episode, address
    ):
        record(therapist, address, **ORDINARY | {"d1_stitches_in": "5", "d1_stitches_out": "5"})
        episode.refresh_from_db()
        assert episode.stitches_in == 5 and found(episode) == [("stitches", ""), ("wound", "closed")]

    def test_a_thumb_has_two_joints(self, therapist: Client, clinic: Fernhollow):
        asked = fields(therapist, clinic.episode(digit="thumb"))
        assert {"d1_mcp_flexion", "d1_ip_deficit"} <= asked and "d1_pip_flexion" not in asked

    def test_a_child_is_not_asked_for_quickdash(self, therapist: Client, clinic: Fernhollow):
        child = clinic.episode(clinic.patient(born_on=date(2010, 4, 2)))
        assert "dash_1" not in fields(therapist, child) and "dash_11" in fields(therapist, clinic.episode())

    def test_what_is_locked_says_by_what(self, therapist: Client, address: str):
        text = therapist.get(address).content.decode()
        assert "locked: the wound is not recorded as closed" in text

    def test_with_a_namesake_the_birth_date_is_confirmed(self, therapist: Client, clinic: Fernhollow, address: str):
        clinic.episode(clinic.patient(given="Nell", family="Harbour", born_on=date(1971, 2, 3)))
        assert errors(preview(therapist, address, **ORDINARY)) == {"birth_date_confirmed": ["required"]}
        assert 'I confirmed the birth date: <span class="nowrap">' in therapist.get(address).content.decode()
        assert record(therapist, address, **ORDINARY, birth_date_confirmed="on").status_code == 302

    def test_much_that_was_found_before_costs_no_more_queries(
        self, therapist: Client, clinic: Fernhollow, episode: Episode, address: str, django_assert_max_num_queries
    ):
        therapist.get(address)
        with CaptureQueriesContext(connection) as first:
            therapist.get(address)
        for _ in range(4):
            findings.record(episode, by=by(clinic.therapist), kind="wound", on=TODAY, wound="concern")
        with django_assert_max_num_queries(len(first)):
            therapist.get(address)

    def test_what_to_mind_stands_above_and_beside_the_hand(self, therapist: Client, clinic: Fernhollow):
        person = clinic.patient(dressing_allergy="adhesive strips")
        episode = clinic.episode(person, raised_risk=True, risks=["diabetes"])
        findings.record(episode, by=by(clinic.therapist), kind="red-flag", on=TODAY, note="finger held bent")
        text = therapist.get(f"/episodes/{episode.code}/visit/").content.decode()
        assert "Dressing allergy: adhesive strips" in text and "Raised risk: diabetes" in text
        assert "finger held bent" in text, "an open red flag stands on every page about the patient"
        assert "what the treating team ordered and what your clinic has agreed come first" in text


class TestRefusals:
    @pytest.mark.parametrize(
        ("typed", "wrong"),
        [
            ({"on": "32/4/26"}, {"on": ["date-impossible"]}),
            ({"on": "tomorrow"}, {"on": ["visit-in-future"]}),
            ({"on": "1/3/26"}, {"on": ["finding-before-surgery"]}),
            ({"source": "reported"}, {"reported_by": ["reporter-missing"]}),
            ({"d1_stitches_out": "2"}, {"d1_stitches_out": ["counts-missing"]}),
            ({"d1_stitches_out": "3", "d1_stitches_left": "0"}, {"d1_confirmed_full": ["count-unconfirmed"]}),
            ({"d1_stitches_out": "4", "d1_stitches_left": "0", "d1_wound": ""}, {"d1_wound": ["wound-missing"]}),
            ({"d1_started": ["scar-massage"]}, {"d1_started": ["locked"]}),
            ({"d1_after": "review"}, {"d1_in_days": ["review-days"]}),
            ({"d1_after": "refer-back"}, {"d1_received_by": ["receiver-missing"]}),
            ({"d1_after": "discharge"}, {"d1_after": ["stitches-in"]}),
            ({"d1_pain": "11"}, {"d1_pain": ["impossible"]}),
            ({"d1_antibiotic": "flucloxacillin"}, {"d1_infection": ["infection-missing"]}),
            ({"d1_trigger_grade": "II"}, {"d1_trigger_scale": ["scale-missing"]}),
            ({"dash_3": "6"}, {"dash_3": ["impossible"]}),
        ],
    )  # fmt: skip
    def test_each_stands_where_it_belongs(self, therapist: Client, address: str, typed, wrong):
        answer = preview(therapist, address, **{"d1_wound": "closed", "d1_after": "continue"} | typed)
        assert answer.status_code == 422 and errors(answer) == wrong

    def test_what_was_typed_survives(self, therapist: Client, address: str):
        text = preview(therapist, address, on="1/4/26", d1_stitches_out="4", note="dry, no <b>pus</b>").content.decode()
        assert 'value="1/4/26"' in text and "dry, no &lt;b&gt;pus&lt;/b&gt;" in text
        assert "Wed 1 Apr 2026 (day first; if Sun 4 Jan 2026 is meant, type the month as a word)" in text

    def test_the_summary_leads_to_the_field(self, therapist: Client, address: str):
        text = preview(therapist, address, on="nonsense", d1_after="continue").content.decode()
        assert '<a href="#id_on">' in text and 'aria-describedby="id_on_helptext id_on_error"' in text

    def test_a_conflict_keeps_what_was_typed_and_shows_both(self, therapist: Client, episode: Episode, address: str):
        page = therapist.get(address)
        record(therapist, address, d1_wound="concern", d1_after="continue")
        answer = preview(therapist, address, page=page, **ORDINARY)
        assert answer.status_code == 409 and "of concern" in answer.content.decode()
        again = preview(therapist, address, page=answer)
        assert again.status_code == 200 and again.context["sure"]

    def test_a_closed_episode_takes_no_visit(self, therapist: Client, clinic: Fernhollow, address: str):
        record(therapist, address, **ORDINARY)
        record(therapist, address, d1_after="discharge")
        answer = therapist.get(address)
        assert answer.status_code == 409 and "closed" in answer.content.decode()


class TestMeasures:
    TYPED = {
        "d1_pain": "3", "d1_swelling_cm": "42,5", "d1_mcp_flexion": "85", "d1_mcp_deficit": "0", "d1_grip_1": "21",
        "d1_trigger_scale": "green", "d1_trigger_grade": "II", **{f"dash_{place}": "2" for place in range(1, 12)},
    }  # fmt: skip

    def test_each_is_saved_under_its_kind(self, therapist: Client, address: str):
        answer = record(therapist, address, d1_after="continue", **self.TYPED)
        assert answer.status_code == 302, errors(answer)
        kinds = {"pain", "swelling", "motion", "trigger", "grip", "quickdash"}
        assert set(Measurement.objects.values_list("kind", flat=True)) == kinds
        assert Measurement.objects.get(kind="swelling").body["cm"] == 42.5

    def test_what_is_unusual_is_asked_back_and_then_saved(self, therapist: Client, address: str):
        page = preview(therapist, address, d1_after="continue", d1_mcp_flexion="130")
        assert page.context["doubts"] == ["130° of bending at the MCP joint lies outside 0–110°. Is that right?"]
        data = held(page.context["form"]) | {"sure": page.context["sure"]}
        assert therapist.post(address, data).status_code == 302
