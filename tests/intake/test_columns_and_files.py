"""What the columns of a list mean, asked and remembered, and the rows left out as a file (issue "Real input")."""

import pytest
from django.forms import Form

from caseload.actions import intake
from caseload.models import Episode, IntakeBatch, IntakeSource
from tests.exchange.lists import FIXTURES
from tests.intake.conftest import listing, said, verdicts
from tests.intake.pages import TWO_WAYS, press
from tests.scenario import by
from tests.web.posting import send


def column(form: Form, field: str, header: str) -> dict[str, str]:
    """What choosing a header for a field sends."""
    choices = [value for value, _ in form.fields[f"column-{field}"].choices]
    return {f"column-{field}": next(value for value in choices if value.endswith(header))}


RENAMED = listing(said()).replace(b"Digit", b"Item 7").replace(b"Surgery date", b"Item 8")


def test_unknown_columns_are_asked_for_and_the_answer_is_remembered(admin, uploaded):
    batch = uploaded(RENAMED, source="Quay theatre")
    address = f"/intake/{batch.code}/columns/"
    page = admin.get(f"/intake/{batch.code}/", follow=True)
    assert page.redirect_chain[-1][0] == address
    form = page.context["form"]
    answer = send(admin, address, **column(form, "digit", "Item 7"), **column(form, "surgery_on", "Item 8"))
    assert answer.url == f"/intake/{batch.code}/" and verdicts(batch) == ["new"]
    again = uploaded(RENAMED, source="Quay theatre")
    assert again.question == "" and verdicts(again) == ["new"]
    assert IntakeSource.objects.get(name="Quay theatre").columns["digit"] == "Item 7"


def test_a_choice_that_leaves_the_question_open_is_refused_at_the_form(admin, uploaded):
    batch = uploaded(RENAMED)
    address = f"/intake/{batch.code}/columns/"
    answer = send(admin, address, **column(admin.get(address).context["form"], "digit", "Item 7"))
    assert answer.status_code == 422 and 'role="alert"' in answer.content.decode()
    assert batch.rows.exclude(verdict="refused").count() == 0


def test_dates_written_month_first_are_read_so_once_it_is_said(admin, uploaded):
    batch = uploaded(said(surgery_date="3/4/26"))
    assert verdicts(batch) == ["doubtful"]
    send(admin, f"/intake/{batch.code}/columns/", **{"month-first-surgery_on": "on"})
    press(admin, batch, "confirm")
    assert str(Episode.objects.get().surgery_on) == "2026-03-04"


@pytest.mark.parametrize(("name", "ending"), [("dirty.csv", "csv"), ("workbook.xlsx", "xlsx")])
def test_rows_left_out_are_a_file_like_the_one_uploaded(admin, uploaded, name, ending):
    batch = uploaded((FIXTURES / name).read_bytes())
    press(admin, batch, "confirm")
    answer = press(admin, batch, "refused")
    left = batch.rows.filter(outcome="").count()
    assert answer.headers["Content-Disposition"].endswith(f'.{ending}"')
    again = uploaded(answer.content)
    assert left > 0 and (again.rows.count(), again.workbook) == (left, batch.workbook)
    assert again.headers[: len(batch.headers)] == batch.headers and not again.question


def test_a_mended_row_is_taken_in_from_the_file_of_those_left_out(admin, uploaded):
    batch = uploaded(said(), said(**TWO_WAYS))
    press(admin, batch, "confirm")
    mended = press(admin, batch, "refused").content.replace(b"3/4/26", b"3 Apr 2026")
    press(admin, uploaded(mended), "confirm")
    assert {str(episode.surgery_on) for episode in Episode.objects.all()} == {"2026-03-20", "2026-04-03"}


def test_columns_that_somebody_else_chose_meanwhile_are_shown_and_the_next_sending_counts(admin, clinic, uploaded):
    batch = uploaded(said())
    address = f"/intake/{batch.code}/columns/"
    page = admin.get(address)
    meaning = intake.Meaning({}, ["born_on"], clinic.quay)
    intake.remap(batch, by=by(clinic.lead), version=None, meaning=meaning)
    conflict = send(admin, address, page=page)
    assert conflict.status_code == 409
    assert [(stored, typed) for _, stored, typed in conflict.context["differences"]] == [
        ("yes", "no"),
        ("Quay Street", "–"),
    ]
    assert send(admin, address, page=conflict).status_code == 302
    assert IntakeBatch.objects.get().site is None


def test_columns_are_named_as_the_trade_writes_them(admin, uploaded):
    labels = [field.label for field in admin.get(f"/intake/{uploaded(said()).code}/columns/").context["form"]]
    assert "NHS number" in labels and "Birth date: month first" in labels
