"""A text that is made once answers as the query does that is made anew, whatever the values."""

from datetime import date, timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from caseload.models import FollowUp, Standing
from caseload.reads.prepared import Prepared
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


def test_no_key_asks_nothing_and_no_row_is_an_empty_list(clinic):
    prepared = Prepared(windows)
    with CaptureQueriesContext(connection) as asked:
        assert prepared([], TODAY) == []
    assert not asked.captured_queries
    assert prepared([0], TODAY) == []
