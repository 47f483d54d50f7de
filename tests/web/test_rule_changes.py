"""The pages on which a lead changes rules, and what an episode shows of its version."""

import pytest

from caseload.actions import jobs
from caseload.models import Job, RuleChange, RuleSet, Staff
from caseload.reads.rule_changes import effect_said
from caseload.web.forms.rule_change import CountsForm, SignForm
from tests import scenario
from tests.web.posting import held
from tests.web.reading import said

LATEST, TARGET = "follow_ups.0.latest", "follow_ups.0.target"


@pytest.fixture
def change(clinic, lead) -> str:
    """The address of a copy in which the latest day of the first rule is 15."""
    begun = lead.post("/rules/changes/new/?set=two-week 1", {"why": "agreed with the surgeons"})
    lead.post(begun.url, held(lead.get(begun.url).context["form"]) | {LATEST: "15"})
    return begun.url


def count(lead, change) -> None:
    job = Job.objects.get(code=lead.post(f"{change}effect/").url.split("/")[2])
    assert jobs.run_job(job.pk)


def test_the_whole_way_from_a_copy_to_the_episodes_that_are_moved(clinic, lead, sign_in, change):
    episode, _ = clinic.episode(), scenario.rules("ten-to-fourteen")
    unsound = lead.post(change, held(lead.get(change).context["form"]) | {LATEST: "11"})
    assert unsound.status_code == 422 and "out of order" in said(unsound)
    count(lead, change)
    page = said(lead.get(change))
    assert "1 open or planned episode looked at" in page and "<b>1 would move</b>" in page and "1 fewer" in page
    second = sign_in(Staff.objects.create(username="sten", name="Sten Marsh", password=None, is_lead=True))
    signing = second.get(f"{change}sign/").context["form"]
    assert second.post(f"{change}sign/", held(signing) | {"move": "on"}).url == change
    assert jobs.run_job(Job.objects.get(kind="rules-move").pk)
    episode.refresh_from_db()
    shown = lead.get("/rules/")
    assert str(episode.rules) == "two-week 2" and "Lena Marsh and Sten Marsh" in said(shown)
    assert [str(row) for row in shown.context["sets"]] == ["two-week 2", "ten-to-fourteen 1"]


def typed(**said: str) -> CountsForm:
    form = CountsForm(rules=scenario.written("two-week"), today=scenario.TODAY)
    return CountsForm(held(form) | said, rules=form.rules, today=scenario.TODAY)


def test_a_window_that_goes_back_is_told_of_at_its_number():
    form = typed(**{TARGET: "19"})
    assert form.errors[TARGET][0].startswith("Stitches out: 12 / 19 / 16 is out of order")
    assert form[TARGET].value() == "19"


def test_what_the_whole_set_cannot_have_is_told_of_at_its_number():
    said = typed(safety_alert_day="50").errors["safety_alert_day"][0]
    assert said.startswith("The alert of day 50 does not fit day 21") and said.endswith("give a day from 22 to 35.")
    form = typed(**{LATEST: "17"})
    assert form.is_valid() and form.numbers() == {LATEST: 17}


def test_who_would_move_farthest_is_named_to_whoever_may_see_them(clinic, lead, change):
    colleague = Staff.objects.create(username="sten", name="Sten Marsh", password=None, is_therapist=True)
    episode = clinic.episode(clinic.patient(family="Farthest", given="Ada"), therapist=colleague)
    count(lead, change)
    page = said(lead.get(change))
    assert f'<a href="/episodes/{episode.code}/">FARTHEST, Ada</a>, right ring finger: Stitches out' in page
    (far,) = effect_said(RuleChange.objects.get().effect, scenario.by(clinic.therapist)).farthest
    assert far.episode is None and far.kind == "stitches-out"


@pytest.mark.parametrize("number", ["", "-1", "1e3", "9999", "½", "x", "\0", "9" * 400])
def test_nonsense_for_a_number_is_told_of(number):
    assert list(typed(**{LATEST: number}).errors) == [LATEST]


@pytest.mark.parametrize("said", [{"how": "letter"}, {"surgeon": "Miss R. Lanyon"}, {"on": "today"}])
def test_a_surgeon_is_named_with_how_and_when_or_not_at_all(said):
    assert SignForm({}, today=scenario.TODAY).is_valid()
    assert set(SignForm(said, today=scenario.TODAY).errors) == {"surgeon", "how", "on"} - said.keys()


def test_of_two_who_edit_a_copy_the_later_sees_what_the_other_changed(lead, change):
    old = held(lead.get(change).context["form"])
    lead.post(change, old | {TARGET: "13", "key": ""})
    answer = lead.post(change, old | {LATEST: "17", "key": ""})
    assert answer.status_code == 409 and "Somebody else changed this" in said(answer) and "<b>13</b>" in said(answer)
    again = lead.post(change, held(answer.context["form"]) | {"key": ""})
    assert again.url == change and "<b>17</b>" in said(lead.get(change))


def test_whoever_proposed_it_cannot_sign_alone(clinic, lead, change):
    count(lead, change)
    answer = lead.post(f"{change}sign/", held(lead.get(f"{change}sign/").context["form"]))
    assert answer.status_code == 422 and "somebody else signs" in said(answer) and RuleSet.objects.count() == 1


def test_two_versions_stand_side_by_side(clinic, therapist):
    scenario.rules("ten-to-fourteen")
    page = said(therapist.get("/rules/side-by-side/?before=two-week 1&after=ten-to-fourteen 1"))
    assert "rules differ" in page and "fewer" in page
    for nonsense in ("none", "two-week", "", "%00"):
        assert therapist.get(f"/rules/side-by-side/?before={nonsense}&after=two-week 1").status_code == 404


def test_the_episode_shows_which_rules_it_has_and_a_lead_moves_it(clinic, lead, therapist, change):
    episode = clinic.episode()
    assert "Two weeks, version 1" in said(therapist.get(f"/episodes/{episode.code}/"))
    count(lead, change)
    signing = lead.get(f"{change}sign/").context["form"]
    lead.post(f"{change}sign/", held(signing) | {"surgeon": "Miss R. Lanyon", "how": "letter", "on": "yesterday"})
    own = f"/episodes/{episode.code}/rules/"
    assert own in said(lead.get(f"/episodes/{episode.code}/")) and own not in said(
        therapist.get(f"/episodes/{episode.code}/")
    )
    moves = lead.post(own, held(lead.get(own).context["form"]) | {"preview": "1"})
    assert "What saving changes" in said(moves) and "Stitches out" in said(moves)
    lead.post(own, held(lead.get(own).context["form"]))
    episode.refresh_from_db()
    assert str(episode.rules) == "two-week 2"
    assert lead.get(own).status_code == 404


def test_only_a_lead_changes_rules(clinic, therapist, admin, change):
    for client in (therapist, admin):
        assert client.get(change).status_code == 403 and client.post(f"{change}withdraw/").status_code == 403
        assert "Change these rules" not in said(client.get("/rules/"))
