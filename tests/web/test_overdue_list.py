"""The overdue list: one headline for each open episode, with whose it is, why and what to do; counts that add up."""

from collections import Counter
from datetime import date, timedelta

import pytest

from caseload.actions import appointments, episodes, findings
from caseload.models import Absence, Episode, Staff
from caseload.reads import overdue
from caseload.reads.away import away_on
from caseload.timetable.terms import Ending
from tests.scenario import TODAY, by
from tests.web.reading import read
from tests.web.test_caseload_list import names

ADDRESS = "/overdue/"


@pytest.fixture
def troubles(clinic):
    """One episode in hand, one planned, one closed, and several that need somebody for different reasons."""
    clinic.episode(clinic.patient(family="Fine"), surgery_on=date(2026, 3, 30))
    clinic.episode(clinic.patient(family="Planned"), surgery_on=TODAY + timedelta(days=9))
    clinic.episode(clinic.patient(family="Unknown"), suture="unknown", site=clinic.quay)
    clinic.episode(clinic.patient(family="Late"), surgery_on=date(2026, 3, 14), therapist=None)
    clinic.episode(clinic.patient(family="Alert"), surgery_on=date(2026, 3, 1))
    flagged = clinic.episode(clinic.patient(family="Flagged"), surgery_on=date(2026, 3, 30))
    findings.record(flagged, by=by(clinic.therapist), kind="red-flag", on=TODAY, note="spreading redness")
    return clinic


def test_whoever_needs_somebody_is_listed_the_most_pressing_first(troubles, admin):
    assert names(admin.get(ADDRESS)) == ["Flagged", "Alert", "Unknown", "Late"]


def test_headlines_and_those_in_hand_add_up_to_the_open_episodes(troubles, lead):
    tally = lead.get(ADDRESS).context["tally"]
    on_caseload = Episode.objects.on_caseload(TODAY).count()
    assert sum(each.episodes for each in tally.headlines) + tally.in_hand == tally.open == on_caseload == 5
    assert sum(each.episodes for each in tally.owners) + tally.in_hand == tally.open


def test_sites_and_therapists_each_add_up_to_the_open_episodes(troubles, lead):
    tally = lead.get(ADDRESS).context["tally"]
    for parts in (tally.sites, tally.therapists):
        assert sum(part.share.open for part in parts) == tally.open
        assert sum(part.share.needing for part in parts) == tally.needing


def test_the_page_shows_the_sum(troubles, lead):
    assert "4 need somebody + 1 in hand = 5 open" in " ".join(lead.get(ADDRESS).content.decode().split())


def test_names_in_the_counts_are_text_whatever_signs_they_hold(troubles, lead):
    type(troubles.quay).objects.filter(pk=troubles.quay.pk).update(name="Quay <7> & Pier")
    Staff.objects.filter(pk=troubles.therapist.pk).update(name='Ann "Nan" <b>Marsh')
    page = lead.get(ADDRESS).content.decode()
    counts = page[page.index('<section class="tally"') : page.index("</section>")]
    assert ">Quay &lt;7&gt; &amp; Pier</a>" in counts and "Nan&quot; &lt;b&gt;Marsh</a>" in counts


def test_each_count_is_the_number_of_rows_that_it_leads_to(troubles, lead):
    tally = lead.get(ADDRESS).context["tally"]
    for each in [*tally.headlines, *tally.owners]:
        assert len(names(lead.get(ADDRESS + each.href))) == each.episodes
    for part in [*tally.sites, *tally.therapists]:
        assert len(names(lead.get(ADDRESS + part.href))) == part.share.needing


def test_counted_in_the_database_and_by_hand_is_the_same(troubles):
    rows = overdue.rows(overdue.standings(overdue.Asked(), TODAY), (), 0, 50, TODAY)
    assert overdue.counts(TODAY).by("headline") == Counter(row.headline for row in rows)


def test_every_row_says_why_and_what_to_do(troubles, admin):
    page = read(admin.get(ADDRESS))
    for said in (
        "A red flag was recorded on Wed 1 Apr 2026 and is not closed.",
        "Day 31, and the stitches are not recorded as fully out and the wound is not recorded as closed.",
        "Not known: the kind of stitches.",
        "The last day for stitches out was Mon 30 Mar 2026, 2 days ago; nothing is booked.",
        "Ring today, and book the first day there is.",
    ):
        assert said in page


def test_other_headlines_stand_under_the_first(clinic, admin):
    clinic.episode(surgery_on=date(2026, 3, 1))
    assert "Also: Visit not booked." in admin.get(ADDRESS).content.decode()


def test_the_telephone_number_stands_where_somebody_has_to_ring(clinic, admin):
    clinic.episode(clinic.patient(phone="07700 900118"), surgery_on=date(2026, 3, 14))
    clinic.episode(clinic.patient(phone="07700 900119"), suture="unknown", surgery_on=date(2026, 3, 24))
    page = read(admin.get(ADDRESS))
    assert "07700 900118" in page and "07700 900119" not in page


def test_a_day_that_passed_without_an_outcome_is_the_therapists(clinic, therapist):
    episode = clinic.episode(clinic.patient(family="Passed"), surgery_on=date(2026, 3, 18), today=date(2026, 3, 20))
    due = episode.follow_ups.get(key="stitches-out")
    clinic.book([due], date(2026, 3, 31), today=date(2026, 3, 20))
    page = read(therapist.get(ADDRESS, {"owner": "therapist", "therapist": "mine"}))
    assert "Stitches out was booked for Tue 31 Mar 2026; no outcome is recorded." in page


def test_a_closed_episode_is_counted_nowhere(clinic, lead):
    episode = clinic.episode(surgery_on=date(2026, 3, 1))
    episodes.close(episode, by=by(clinic.lead), version=None, how=Ending.NOT_DONE, on=TODAY)
    assert lead.get(ADDRESS).context["tally"].open == 0


def test_ten_queries_do_for_any_number_of_rows(clinic, lead, django_assert_max_num_queries):
    clinic.episode()
    lead.get(ADDRESS)
    with django_assert_max_num_queries(10) as few:
        lead.get(ADDRESS)
    for _ in range(12):
        clinic.episode()
    with django_assert_max_num_queries(10) as many:
        lead.get(ADDRESS)
    assert len(few) == len(many)


def test_when_all_is_in_hand_the_page_says_so(clinic, lead):
    clinic.episode(surgery_on=date(2026, 3, 30))
    assert "Everything is in hand" in lead.get(ADDRESS).content.decode()


def test_the_list_is_exported_with_its_reasons(troubles, lead):
    text = lead.post(f"{ADDRESS}?headline=visit-unbooked", {"kind": "csv"}).content.decode("utf-8-sig")
    assert text.count("\r\n") == 2 and "Ring today, and book the first day there is." in text


def test_a_workbook_holds_the_same_rows(troubles, lead):
    file = lead.post(ADDRESS, {"kind": "xlsx"})
    assert file.content.startswith(b"PK") and f"overdue-{TODAY}.xlsx" in file.headers["Content-Disposition"]


def away(clinic, therapist=None, **own) -> None:
    days = {"starts_on": TODAY - timedelta(days=1), "ends_on": TODAY + timedelta(days=1), "reason": "leave"}
    Absence.objects.create(therapist=therapist or clinic.therapist, **(days | own))


def colleague(**roles) -> Staff:
    return Staff.objects.create(username="joan", name="Joan Petherick", **(roles or {"is_therapist": True}))


def passed(clinic) -> None:
    """A visit of yesterday without an outcome: the therapist's."""
    episode = clinic.episode(clinic.patient(family="Passed"), surgery_on=date(2026, 3, 18), today=date(2026, 3, 20))
    clinic.book([episode.follow_ups.get(key="stitches-out")], date(2026, 3, 31), today=date(2026, 3, 20))


def test_what_is_an_absent_therapists_passes_to_the_cover(clinic, sign_in):
    cover = colleague()
    passed(clinic)
    assert names(sign_in(cover).get(ADDRESS, {"therapist": "mine"})) == []
    away(clinic, cover=cover)
    answer = sign_in(cover).get(ADDRESS, {"therapist": "mine"})
    assert names(answer) == ["Passed"]
    assert "Thea Marsh is away; Joan Petherick covers" in answer.content.decode()


def test_without_a_cover_it_passes_to_the_lead_and_the_counts_still_add_up(clinic, lead):
    passed(clinic)
    away(clinic)
    page = lead.get(ADDRESS, {"owner": "lead", "therapist": "mine"})
    assert names(page) == ["Passed"] and "Thea Marsh is away; the lead has it" in page.content.decode()
    assert names(lead.get(ADDRESS, {"owner": "therapist"})) == []
    tally = lead.get(ADDRESS).context["tally"]
    assert [each.episodes for each in tally.owners] == [0, 0, 1]
    for each in [*tally.headlines, *tally.owners]:
        assert len(names(lead.get(ADDRESS + each.href))) == each.episodes


def test_where_the_cover_is_away_too_their_own_cover_has_it(clinic):
    cover, other = colleague(), Staff.objects.create(username="ida", name="Ida Marsh", is_therapist=True)
    away(clinic, cover=cover)
    away(clinic, cover, cover=other)
    assert away_on(TODAY).passed_to(other) == {clinic.therapist.pk, cover.pk}
    assert away_on(TODAY)[clinic.therapist.pk].name == "Thea Marsh"


def test_covers_who_lead_round_in_a_circle_leave_it_to_the_lead(clinic):
    cover = colleague()
    away(clinic, cover=cover)
    away(clinic, cover, cover=clinic.therapist)
    assert away_on(TODAY).passed_to(clinic.lead) == {clinic.therapist.pk, cover.pk}


def test_who_is_back_has_what_is_theirs(clinic, sign_in):
    cover = colleague()
    passed(clinic)
    away(clinic, cover=cover, ends_on=TODAY - timedelta(days=1))
    assert names(sign_in(cover).get(ADDRESS, {"therapist": "mine"})) == []


def test_an_interpreter_who_does_not_know_two_open_days_before_is_the_admins(clinic, admin):
    """Common practice: both are told two open days before."""
    patient = clinic.patient(family="Spoken", interpreter=True, language="Polish")
    episode = clinic.episode(patient, surgery_on=date(2026, 3, 20))
    appointment = clinic.book([episode.follow_ups.get(key="stitches-out")], date(2026, 4, 2))
    page = admin.get(ADDRESS, {"headline": "untold"})
    assert names(page) == ["Spoken"]
    assert "booked for Thu 2 Apr 2026: the patient, or the interpreter they need" in read(page)
    appointments.tell(appointment, by=by(clinic.admin), told="told", interpreter_told=True)
    assert names(admin.get(ADDRESS, {"headline": "untold"})) == []


def test_a_visit_presses_where_only_two_session_days_are_left(clinic, admin):
    """Surgery on 26 March: the window runs from 7 to 11 April, four open days; sessions are held on two of them."""
    clinic.episode(clinic.patient(family="Pressing"), surgery_on=date(2026, 3, 26))
    assert names(admin.get(ADDRESS)) == []
    for on in (date(2026, 4, 2), date(2026, 4, 8), date(2026, 4, 9), date(2026, 4, 14)):
        clinic.session(on)
    page = admin.get(ADDRESS)
    assert names(page) == ["Pressing"] and "at most two usable days are left" in page.content.decode()
