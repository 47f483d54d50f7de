"""Measurements: corrected, withdrawn."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404
from django.views.decorators.http import require_http_methods

from caseload.actions import measurements
from caseload.actions.act import By
from caseload.measures.bodies import read
from caseload.measures.terms import MeasureKind
from caseload.models import Measurement
from caseload.timetable.terms import Digit
from caseload.web.clock import by_of
from caseload.web.forms.measurement import CorrectMeasurementForm, WithdrawMeasurementForm
from caseload.web.forms.record import RecordForm
from caseload.web.views.answering import FORM_METHODS, Page, answer
from caseload.web.views.found import episode_at, named, to_episode
from caseload.wording import say_date
from caseload.wording.measures import say_measured


def measurement_at(code: str, pk: int) -> Measurement:
    """A measurement of that visit, with its episode as pages name it."""
    measurement = get_object_or_404(
        Measurement.objects.select_related("episode"), visit__code=code, pk=pk, withdraws=False
    )
    measurement.episode = episode_at(measurement.episode.code)
    return measurement


@require_http_methods(FORM_METHODS)
def correct(request: HttpRequest, code: str, pk: int) -> HttpResponse:
    by, measurement = by_of(request), measurement_at(code, pk)
    form = CorrectMeasurementForm(request.POST or None, measurement=measurement, today=by.today)
    return answer(
        request, by, form, _page("Correct a measurement", "Save the correction", measurement, by),
        lambda by: measurements.correct(measurement, by=by, body=form.measured(), why=form.cleaned_data["why"]),
        to=lambda _: to_episode(measurement.episode, "measures"),
        saved="The measurement is corrected; the earlier value stays readable.",
    )  # fmt: skip


@require_http_methods(FORM_METHODS)
def withdraw(request: HttpRequest, code: str, pk: int) -> HttpResponse:
    by, measurement = by_of(request), measurement_at(code, pk)
    form: RecordForm = WithdrawMeasurementForm(request.POST or None, today=by.today)
    return answer(
        request, by, form, _page("Withdraw a measurement", "Withdraw it", measurement, by),
        lambda by: measurements.withdraw(measurement, by=by, **form.said()),
        to=lambda _: to_episode(measurement.episode, "measures"),
        saved="The measurement is withdrawn; it stays readable.",
    )  # fmt: skip


def _page(title: str, button: str, measurement: Measurement, by: By) -> Page:
    episode = measurement.episode
    digit = Digit(episode.digit) if episode.digit else None
    said = say_measured(read(MeasureKind(measurement.kind), measurement.body), digit)
    about = f"{said}; {say_date(measurement.on)}."
    context = named(episode.patient, by, episode)
    return Page(title, button, to_episode(episode, "measures"), f"{about[:1].upper()}{about[1:]}", context=context)
