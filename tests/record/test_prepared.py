"""A text that is made once answers as the query does that is made anew, whatever the values."""

from datetime import date, timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from caseload.models import Episode, FollowUp, Patient, Standing
from caseload.reads.prepared import Prepared
from caseload.reads.prepared_models import PreparedModels, put
from tests.scenario import TODAY

pytestmark = pytest.mark.django_db


def windows(episodes, today):
    rows = FollowUp.objects.filter(episode__in=episodes, earliest_on__gte=today).order_by("id")
    return rows.values_list("id", "episode_id", "kind", "earliest_on", "provisional", "episode__patient__family")


def test_rows_are_those_of_the_query_for_any_number_of_keys_and_any_day(clinic):
    keys = [clinic.episode().pk for _ in range(3)]
    prepared = Prepared(windows)
    for asked in (keys[:1], keys, keys * 20, [0]):
        for today in (TODAY - timedelta(days=90), TODAY, date.max):
            assert prepared(asked, today) == list(windows(asked, today))


def test_columns_are_read_as_the_model_has_them(clinic):
    clinic.episode()
    rows = Standing.objects.order_by("id").values_list("others", "due_on", "from_on")
    prepared = Prepared(lambda today: rows.filter(from_on__lte=today, until_on__gt=today))
    assert prepared(TODAY) == list(rows.on(TODAY))
    assert prepared(TODAY)


def test_a_day_that_many_rows_share_is_read_as_a_day_and_a_list_is_each_row_s_own(clinic):
    clinic.episode(), clinic.episode()
    prepared = Prepared(lambda today: Standing.objects.on(today).values_list("from_on", "due_on", "others"))
    first, second = prepared(TODAY)
    assert first == second and isinstance(first[0], date)
    first[2].append("changed")
    assert second[2] != first[2]


def test_no_key_asks_nothing_and_no_row_is_an_empty_list(clinic):
    prepared = Prepared(windows)
    with CaptureQueriesContext(connection) as asked:
        assert prepared([], TODAY) == []
    assert not asked.captured_queries
    assert prepared([0], TODAY) == []


def test_a_text_of_letters_is_a_value_too(clinic):
    for family in ("Wren", "O'Hara", "text 0"):
        clinic.patient(family=family)
    prepared = Prepared(lambda name: Patient.objects.filter(family=name).values_list("family"))
    for name in ("Wren", "O'Hara", "text 0", "Nobody"):
        assert prepared(name) == list(Patient.objects.filter(family=name).values_list("family"))


def test_models_are_those_of_the_query_with_what_it_selects_along(clinic):
    first, second = clinic.episode(), clinic.episode(therapist=None)
    prepared = PreparedModels(
        lambda code: Episode.objects.filter(code=code).select_related("patient", "therapist").defer("notes")
    )
    for code in (first.code, second.code, "none"):
        with CaptureQueriesContext(connection) as asked:
            found = prepared(code)
            said = [(str(row.patient), row.therapist and row.therapist.name) for row in found]
        assert len(asked) == 1
        assert found == list(Episode.objects.filter(code=code))
        assert said == [(str(row.patient), row.therapist and row.therapist.name) for row in found]
    assert prepared(first.code)[0].get_deferred_fields() == {"notes"}


def test_what_is_put_with_rows_is_not_asked_again(clinic):
    episodes = [clinic.episode(), clinic.episode()]
    of_first = list(episodes[0].follow_ups.all())
    put(episodes, "follow_ups", {episodes[0].pk: of_first})
    with CaptureQueriesContext(connection) as asked:
        assert [list(each.follow_ups.all()) for each in episodes] == [of_first, []]
    assert not asked.captured_queries


def test_a_text_with_a_nul_is_nobody_s_on_either_database(clinic):
    clinic.patient(family="Wren")
    prepared = Prepared(lambda name: Patient.objects.filter(family=name).values_list("family"))
    assert prepared("Wr\0en") == [] and prepared("Wren") == [("Wren",)]
