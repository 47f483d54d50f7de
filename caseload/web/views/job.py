"""Long work that goes on in the background: all of it, how far one is, its file, its end before its time."""

from datetime import timedelta

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.views.decorators.http import require_POST, require_safe

from caseload.actions import jobs, list_files, patient_files, rule_changes, sheets, trail_files
from caseload.actions.looks import looked
from caseload.models import Episode, FillPlan, IntakeBatch, Job, JobFile, JobState, Patient
from caseload.reads.jobs import MOST, seen_by
from caseload.reads.reach import unseen_by
from caseload.web.clock import by_of, now, staff_of
from caseload.web.paging import with_changes
from caseload.web.staying import BY_ITSELF
from caseload.web.views.answering import allow, press, route_of
from caseload.web.views.reason import ask_why

FILED = {list_files.KIND, sheets.KIND, patient_files.KIND, trail_files.FILE}
"""Kinds of work that make a file."""
FILL = "fill"
LOOK_AGAIN_SECONDS = 2
LOOKS_BY_ITSELF_FOR = timedelta(minutes=1)


@require_safe
def show_all(request: HttpRequest) -> HttpResponse:
    staff = staff_of(request)
    return render(request, "jobs/list.html", {"jobs": list(seen_by(staff, staff.roles)[:MOST]), "most": MOST})


@require_safe
def show(request: HttpRequest, code: str) -> HttpResponse:
    """While it runs the page looks again by itself, for a minute at most; a link does so always."""
    job = _seen(request, code)
    file = JobFile.objects.filter(job=job, job__by=staff_of(request)).only("name", "job_id").first()
    share = 100 * job.done_steps // (job.steps or 1)
    gone = job.state == JobState.DONE and job.kind in FILED and not file and _is_old(job)
    context = {
        "job": job, "file": file, "gone": gone, "share": share, "episode": _episode_of(job), "list": _list_of(job),
        "listed": _listed_at(job), "fills": job.kind == FILL, "plan": _plan_of(job),
        "change": job.asked.get("change"), "moves": job.kind == rule_changes.MOVE,
    }  # fmt: skip
    response = render(request, "jobs/page.html", context)
    if job.ended_at is None and now() - job.created_at < LOOKS_BY_ITSELF_FOR:
        response.headers["Refresh"] = f"{LOOK_AGAIN_SECONDS}; url=?{BY_ITSELF}"
    return response


@require_safe
def file(request: HttpRequest, code: str) -> HttpResponse:
    job = get_object_or_404(Job, code=code, by=staff_of(request))
    if job.kind in jobs.ASKS:
        allow(request, jobs.ASKS[job.kind])
    made = JobFile.objects.filter(job=job).first()
    if made is None:
        raise Http404
    by, patient = by_of(request), _patient_of(job)
    if patient and unseen_by(by, [patient.pk]):
        return ask_why(request, patient)
    if patient:
        looked(patient, by=by, route=route_of(request))
    response = HttpResponse(bytes(made.content), content_type=made.media_type)
    response.headers["Content-Disposition"] = f'attachment; filename="{made.name}"'
    response.headers["Cache-Control"] = "no-store, private"
    return response


@require_POST
def cancel(request: HttpRequest, code: str) -> HttpResponse:
    by, job = by_of(request), _seen(request, code)
    return press(
        request, by, lambda by: jobs.cancel(job, by=by), to=reverse("job", args=[code]),
        saved="It is cancelled after the step it is at. What was done by then stands.",
    )  # fmt: skip


def _seen(request: HttpRequest, code: str) -> Job:
    staff = staff_of(request)
    return get_object_or_404(seen_by(staff, staff.roles), code=code)


def _episode_of(job: Job) -> Episode | None:
    """The episode that the work is about, if it is about one."""
    code = job.asked.get("episode")
    return Episode.objects.select_related("patient").filter(code=code).first() if code else None


def _patient_of(job: Job) -> Patient | None:
    """The patient whom the file of the work is about, if it is about one."""
    episode = _episode_of(job)
    return episode.patient if episode else Patient.objects.filter(code=job.asked.get("patient") or "").first()


def _listed_at(job: Job) -> str:
    """The address of the list that is made into a file, if one is."""
    return reverse(job.asked["list"]) + with_changes(job.asked["query"]) if job.kind == list_files.KIND else ""


def _is_old(job: Job) -> bool:
    return bool(job.ended_at and job.ended_at < now() - jobs.FILES_KEPT)


def _plan_of(job: Job) -> FillPlan | None:
    """The plan that the work made, if it makes one."""
    return FillPlan.objects.filter(job=job).first() if job.kind == FILL else None


def _list_of(job: Job) -> IntakeBatch | None:
    """The theatre list that the work is about, if it is about one."""
    code = job.asked.get("batch")
    return IntakeBatch.objects.filter(code=code).first() if code else None
