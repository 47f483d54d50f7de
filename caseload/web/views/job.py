"""Long work as whoever asked for it sees it: how far it is, and the file that it made. Nobody else finds it."""

from datetime import timedelta

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils import timezone
from django.views.decorators.http import require_safe

from caseload.actions.looks import looked
from caseload.models import Episode, Job, JobFile
from caseload.web.clock import by_of, staff_of
from caseload.web.views.answering import route_of

LOOK_AGAIN_SECONDS = 2
LOOKS_BY_ITSELF_FOR = timedelta(minutes=1)


@require_safe
def show(request: HttpRequest, code: str) -> HttpResponse:
    """While it runs the page looks again by itself, for a minute at most; a link does so always."""
    job = _own(request, code)
    file = JobFile.objects.filter(job=job).only("name", "job_id").first()
    context = {"job": job, "file": file, "episode": _episode_of(job), "share": 100 * job.done_steps // (job.steps or 1)}
    response = render(request, "jobs/page.html", context)
    if job.ended_at is None and timezone.now() - job.created_at < LOOKS_BY_ITSELF_FOR:
        response.headers["Refresh"] = str(LOOK_AGAIN_SECONDS)
    return response


@require_safe
def file(request: HttpRequest, code: str) -> HttpResponse:
    job = _own(request, code)
    made = JobFile.objects.filter(job=job).first()
    if made is None:
        raise Http404
    if episode := _episode_of(job):
        looked(episode.patient, by=by_of(request), route=route_of(request))
    response = HttpResponse(bytes(made.content), content_type=made.media_type)
    response.headers["Content-Disposition"] = f'attachment; filename="{made.name}"'
    response.headers["Cache-Control"] = "no-store, private"
    return response


def _own(request: HttpRequest, code: str) -> Job:
    return get_object_or_404(Job, code=code, by=staff_of(request))


def _episode_of(job: Job) -> Episode | None:
    """The episode that the work is about, if it is about one."""
    code = job.asked.get("episode")
    return Episode.objects.select_related("patient").filter(code=code).first() if code else None
