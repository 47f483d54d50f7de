"""Long work in templates: what it is, and how far as a shape and a word."""

from django import template
from django.utils.html import format_html
from django.utils.safestring import SafeString, mark_safe

from caseload.models import Job, JobState
from caseload.web import marks
from caseload.wording.jobs import say_progress, say_title

register = template.Library()
SHAPES = {
    JobState.WAITING: "ring", JobState.RUNNING: "half", JobState.DONE: "tick", JobState.FAILED: "tri",
    JobState.CANCELLED: "dash",
}  # fmt: skip


@register.filter
def job_title(job: Job) -> str:
    return say_title(job.kind)


@register.filter
def job_progress(job: Job) -> str:
    return say_progress(job.kind, job.done_steps, job.steps)


@register.filter
def job_state(job: Job) -> SafeString:
    state = JobState(job.state)
    return format_html("{}{}", mark_safe(marks.shape(SHAPES[state])), state.label)
