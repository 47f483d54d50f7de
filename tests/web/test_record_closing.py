"""An episode closed through its pages: after a second operation nobody is without an episode, after a death nobody
is asked to ring."""

from datetime import date

from django.test import Client

from caseload.actions import episodes
from caseload.models import Appointment, Episode
from caseload.timetable.terms import Ending
from tests.scenario import TODAY, Fernhollow, by
from tests.web.posting import errors, send


def again(therapist: Client, episode: Episode) -> str:
    """Choose “operated on again”: the address of the form that follows."""
    return send(therapist, f"/episodes/{episode.code}/close/", how=Ending.REOPERATION).url


def test_operated_on_again_leads_to_the_new_episode_and_closes_nothing_yet(therapist: Client, clinic: Fernhollow):
    episode = clinic.episode(surgeon="Dr Wren")
    address = again(therapist, episode)
    assert address == f"/patients/{episode.patient.code}/episodes/new/?after={episode.code}"
    page = therapist.get(address)
    assert page.context["form"]["surgeon"].value() == "Dr Wren" and page.context["form"]["digit"].value() == "ring"
    assert "until then it stays open" in page.content.decode()
    assert Episode.objects.open().get() == episode


def test_saving_the_new_episode_closes_the_old_one_with_it(therapist: Client, clinic: Fernhollow):
    episode = clinic.episode()
    booked = clinic.book([episode.follow_ups.get(key="stitches-out")], date(2026, 4, 2))
    answer = send(therapist, again(therapist, episode), surgery_on="31/3/26", suture="non-absorbable", stitches_in="3")
    later = Episode.objects.get(reoperation_of=episode)
    episode.refresh_from_db()
    assert answer.url == f"/episodes/{later.code}/" and (later.side, later.digit) == ("right", "ring")
    assert (episode.ended_how, episode.ended_on) == ("reoperation", date(2026, 3, 31))
    assert Appointment.objects.get(pk=booked.pk).outcome == "cancelled-by-clinic"


def test_a_form_of_a_second_operation_that_is_refused_leaves_the_old_episode_open(
    therapist: Client, clinic: Fernhollow
):
    episode = clinic.episode()
    address = again(therapist, episode)
    assert errors(send(therapist, address, surgery_on="20/4/26")) == {"surgery_on": ["reoperation-to-come"]}
    assert errors(send(therapist, address, surgery_on="1/3/26")) == {"surgery_on": ["reoperation-before"]}
    assert errors(send(therapist, address, surgery_on="31/3/26", digit="index")) == {"digit": ["other-digit"]}
    assert Episode.objects.open().get() == episode


def test_a_second_operation_sent_twice_opens_one_episode(therapist: Client, clinic: Fernhollow):
    episode = clinic.episode()
    page = therapist.get(address := again(therapist, episode))
    first, second = (send(therapist, address, page=page, surgery_on="today") for _ in range(2))
    assert first.url == second.url and Episode.objects.filter(reoperation_of=episode).count() == 1


def test_an_earlier_episode_changed_meanwhile_is_shown_before_it_is_closed(therapist: Client, clinic: Fernhollow):
    episode = clinic.episode(surgeon="Dr Wren")
    page = therapist.get(address := again(therapist, episode))
    episodes.correct(episode, by=by(clinic.lead), version=1, surgeon="Dr Vane")
    answer = send(therapist, address, page=page, surgery_on="today")
    assert answer.status_code == 409 and answer.context["differences"] == [("Surgeon", "Dr Vane", "Dr Wren")]
    assert Episode.objects.open().get() == episode


def test_where_the_theatre_list_opened_the_next_one_already_the_old_one_is_closed_at_once(
    therapist: Client, clinic: Fernhollow
):
    episode = clinic.episode()
    later = clinic.episode(episode.patient, surgery_on=date(2026, 3, 31))
    assert again(therapist, episode) == f"/episodes/{episode.code}/"
    episode.refresh_from_db()
    later.refresh_from_db()
    assert episode.ended_how == "reoperation" and later.reoperation_of == episode


def test_an_admin_opens_an_episode_but_closes_none_with_it(admin: Client, clinic: Fernhollow):
    episode = clinic.episode()
    address = f"/patients/{episode.patient.code}/episodes/new/"
    assert admin.get(address).status_code == 200
    for answer in (admin.get(f"{address}?after={episode.code}"), admin.post(f"{address}?after={episode.code}")):
        assert answer.status_code == 403
    assert Episode.objects.get().ended_on is None


def test_after_a_death_no_list_asks_to_ring(therapist: Client, admin: Client, clinic: Fernhollow):
    episode = clinic.episode(surgery_on=date(2026, 3, 1))
    other = clinic.episode(episode.patient, digit="index")
    clinic.book([other.follow_ups.get(key="stitches-out")], date(2026, 4, 7), told="untold")
    send(therapist, f"/episodes/{episode.code}/close/", how="died", on=TODAY.strftime("%d/%m/%Y"))
    assert not Episode.objects.open().exists()
    for address in ("/to-book/", "/overdue/", "/"):
        page = admin.get(address, follow=True)
        assert page.status_code == 200 and episode.patient.family.upper() not in page.content.decode().upper()


def test_a_discharge_with_a_wound_not_on_record_as_closed_is_asked_back_once(therapist: Client, clinic: Fernhollow):
    """What is refused is stitches and red flags; an open wound is asked back."""
    episode = clinic.episode(suture="none", technique="percutaneous", stitches_in=None)
    address = f"/episodes/{episode.code}/close/"
    asked = send(therapist, address, how=Ending.DISCHARGED)
    assert "The wound is not recorded as closed" in asked.content.decode() and Episode.objects.open().exists()
    send(therapist, address, page=asked, sure=asked.context["sure"])
    assert not Episode.objects.open().exists()


def test_what_is_refused_anyway_asks_nothing(therapist: Client, clinic: Fernhollow):
    answer = send(therapist, f"/episodes/{clinic.episode().code}/close/", how=Ending.DISCHARGED)
    assert errors(answer) == {"how": ["stitches-in"]}


def test_an_episode_closed_by_mistake_is_opened_again_from_its_page_with_a_reason(
    therapist: Client, clinic: Fernhollow
):
    episode = clinic.episode()
    address = f"/episodes/{episode.code}/open-again/"
    episodes.close(episode, by=by(clinic.lead), version=None, how=Ending.DIED, on=TODAY)
    assert address in therapist.get(f"/episodes/{episode.code}/").content.decode()
    page = therapist.get(address).content.decode()
    assert "Stitches out" in page and "was said to have died" in page
    assert send(therapist, address).status_code == 422 and not Episode.objects.open().exists()
    assert send(therapist, address, why="pressed for the wrong patient").url == f"/episodes/{episode.code}/"
    assert Episode.objects.open().get() == episode
    shown = therapist.get(f"/episodes/{episode.code}/").content.decode()
    assert address not in shown and "pressed for the wrong patient" in shown


def test_an_episode_opened_again_meanwhile_says_so(therapist: Client, clinic: Fernhollow):
    episode = clinic.episode()
    episodes.close(episode, by=by(clinic.lead), version=None, how=Ending.DIED, on=TODAY)
    page = therapist.get(address := f"/episodes/{episode.code}/open-again/")
    episodes.reopen(episode, by=by(clinic.lead), version=None, why="not so")
    assert send(therapist, address, page=page, why="not so").status_code == 409
