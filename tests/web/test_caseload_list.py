"""The caseload: which episodes it lists, in which order, and what its filters leave."""

import csv
from datetime import date, timedelta
from io import StringIO

from caseload.actions import findings
from caseload.models import Look, Patient
from tests.scenario import TODAY, by
from tests.web.reading import read

ADDRESS = "/caseload/"


def names(response) -> list[str]:
    """The family names of the rows, in order."""
    body = response.content.decode().split("<tbody>")[-1]
    return [part.split(",")[0].title() for part in body.split('class="who-is"')[1:] for part in [part.split(">")[1]]]


def patients(clinic, count: int, **facts):
    return [clinic.episode(**facts) for _ in range(count)]


def test_every_open_episode_that_was_operated_on_is_listed(clinic, therapist):
    clinic.episode(clinic.patient(family="Now"))
    clinic.episode(clinic.patient(family="Later"), surgery_on=TODAY + timedelta(days=5))
    clinic.episode(clinic.patient(family="Undated"), surgery_on=None)
    assert sorted(names(therapist.get(ADDRESS))) == ["Now", "Undated"]


def test_planned_surgery_is_listed_when_asked_for(clinic, therapist):
    clinic.episode(clinic.patient(family="Later"), surgery_on=TODAY + timedelta(days=5))
    assert names(therapist.get(ADDRESS, {"planned": "yes"})) == ["Later"]


def test_a_row_says_who_which_finger_which_day_and_what_is_next(clinic, therapist):
    clinic.episode(clinic.patient(family="Okafor", given="Ada", born_on=date(1958, 1, 11)))
    page = read(therapist.get(ADDRESS))
    for said in ("OKAFOR, Ada", "born Sat 11 Jan 1958", "right ring finger", "Stitches out", "Thu 2 Apr 2026 · day 13"):
        assert said in page


def test_the_next_step_that_comes_first_stands_first(clinic, therapist):
    clinic.episode(clinic.patient(family="Second"), surgery_on=date(2026, 3, 27))
    clinic.episode(clinic.patient(family="First"), surgery_on=date(2026, 3, 19))
    assert names(therapist.get(ADDRESS)) == ["First", "Second"]


def test_a_column_orders_both_ways_and_says_so(clinic, therapist):
    for family in ("Beta", "Alpha"):
        clinic.episode(clinic.patient(family=family))
    assert names(therapist.get(ADDRESS, {"sort": "patient"})) == ["Alpha", "Beta"]
    page = therapist.get(ADDRESS, {"sort": "-patient"})
    assert names(page) == ["Beta", "Alpha"] and 'aria-sort="descending"' in page.content.decode()


def test_mine_are_the_episodes_of_whoever_asks(clinic, therapist):
    clinic.episode(clinic.patient(family="Mine"))
    clinic.episode(clinic.patient(family="Nobodys"), therapist=None)
    assert names(therapist.get(ADDRESS, {"therapist": "mine"})) == ["Mine"]
    assert names(therapist.get(ADDRESS, {"therapist": "nobody"})) == ["Nobodys"]


def test_site_stitches_and_state_narrow_the_list(clinic, therapist):
    clinic.episode(clinic.patient(family="Quay"), site=clinic.quay, surgery_on=date(2026, 3, 30))
    clinic.episode(clinic.patient(family="Unknown"), suture="unknown")
    assert names(therapist.get(ADDRESS, {"site": clinic.quay.code})) == ["Quay"]
    assert names(therapist.get(ADDRESS, {"suture": "unknown"})) == ["Unknown"]
    assert names(therapist.get(ADDRESS, {"state": "missing-fact"})) == ["Unknown"]
    assert names(therapist.get(ADDRESS, {"state": "in-hand"})) == ["Quay"]
    assert names(therapist.get(ADDRESS, {"owner": "admin"})) == ["Unknown"]


def test_a_typed_name_filters_without_standing_in_the_address(clinic, therapist):
    clinic.episode(clinic.patient(family="Szczęsny"))
    clinic.episode(clinic.patient(family="Other"))
    answer = therapist.post(ADDRESS, {"name": "szczes", "site": clinic.site.code})
    assert answer.url == f"{ADDRESS}?site={clinic.site.code}"
    assert names(therapist.get(answer.url)) == ["Szczęsny"]


def test_filters_that_match_nobody_offer_the_whole_list(clinic, therapist):
    clinic.episode()
    page = therapist.get(ADDRESS, {"suture": "absorbable"}).content.decode()
    assert "No open episode matches these filters" in page and "Show the whole caseload" in page


def test_an_empty_caseload_teaches_where_episodes_come_from(therapist):
    assert "from a theatre list" in therapist.get(f"{ADDRESS}?therapist=all").content.decode()


def test_a_page_beyond_the_last_is_the_last_with_a_notice(clinic, therapist):
    clinic.episode()
    page = therapist.get(ADDRESS, {"page": "9"}).content.decode()
    assert "The list has no page 9" in page and "1 to 1 of 1" in " ".join(page.split())


def test_a_filter_that_is_no_choice_is_left_out_and_named(clinic, therapist):
    clinic.episode(clinic.patient(family="Kept"))
    page = therapist.get(ADDRESS, {"site": "nowhere"})
    assert names(page) == ["Kept"] and "was left out" in page.content.decode()


def test_eight_queries_do_for_any_number_of_rows(clinic, therapist, django_assert_max_num_queries):
    patients(clinic, 2)
    therapist.get(ADDRESS)
    with django_assert_max_num_queries(8) as few:
        therapist.get(ADDRESS)
    for episode in patients(clinic, 12):
        findings.record(episode, by=by(clinic.therapist), kind="wound", on=TODAY, wound="not-closed")
    with django_assert_max_num_queries(8) as many:
        therapist.get(ADDRESS)
    assert len(few) == len(many)


def test_no_row_is_lost_or_doubled_between_pages(clinic, therapist):
    patients(clinic, 27)
    pages = [names(therapist.get(ADDRESS, {"sort": "hand", "page": str(page)})) for page in (1, 2)]
    assert len(pages[0]) == 25 and len(set(pages[0] + pages[1])) == 27


def test_names_are_shown_as_text_never_as_markup(clinic, therapist):
    clinic.episode()
    Patient.objects.update(family="O'<b>Neil")
    assert "O&#x27;&lt;B&gt;NEIL" in therapist.get(ADDRESS).content.decode()


def test_the_list_can_be_taken_away_as_it_is_shown_and_that_is_recorded(clinic, therapist):
    clinic.episode(clinic.patient(family="Taken"), site=clinic.quay)
    clinic.episode(clinic.patient(family="Left"))
    file = therapist.post(f"{ADDRESS}?site={clinic.quay.code}", {"kind": "csv"})
    text = file.content.decode("utf-8-sig")
    assert "Taken" in text and "Left" not in text and text.count("\r\n") == 2
    assert Look.objects.get().route == "caseload-file" and Look.objects.get().rows == 1


def test_an_export_has_real_dates_and_the_day_as_a_number(clinic, therapist):
    clinic.episode(clinic.patient(family="Taken"))
    heads, row = therapist.post(ADDRESS, {"kind": "csv"}).content.decode("utf-8-sig").splitlines()
    cells = dict(zip(heads.split(","), row.split(","), strict=True))
    assert cells['"Surgery"'] == '"2026-03-20"' and cells['"Day"'] == "12" and cells['"Site"'] == '"Fernhollow"'


def test_an_export_says_states_in_words_as_the_page_does(clinic, therapist):
    clinic.episode()
    clinic.episode(surgery_on=None)
    rows = list(csv.DictReader(StringIO(therapist.post(ADDRESS, {"kind": "csv"}).content.decode("utf-8-sig"))))
    assert {row["Finger"] for row in rows} == {"ring finger"}
    assert {row["Suture"] for row in rows} == {"non-absorbable stitches"}
    assert {row["Next step"] for row in rows} == {"Stitches out", "find the missing fact"}
    assert {row["Next step is with"] for row in rows} == {"booking admin"}


def test_a_name_that_could_be_a_formula_is_exported_as_text(clinic, therapist):
    clinic.episode()
    Patient.objects.update(family="=1+1")
    assert '"=1+1"' not in therapist.post(ADDRESS, {"kind": "csv"}).content.decode("utf-8-sig")


def test_a_file_of_another_kind_is_refused(clinic, therapist):
    assert therapist.post(ADDRESS, {"kind": "exe"}).status_code == 400
    assert not Look.objects.exists()
