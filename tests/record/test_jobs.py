"""Long work: claimed by one, resumed after a kill, cancelled between steps, given up after failing."""

from datetime import UTC, datetime, timedelta

import pytest
from django.db import connection

from caseload.actions import jobs, rederive
from caseload.errors import Refusal
from caseload.models import Job, JobState, TrailEntry
from tests.record.before import freed
from tests.scenario import by


class Killed(BaseException):
    """The end of a process, which no handler sees."""


@pytest.fixture
def work(monkeypatch):
    """A kind of job of three steps that writes down what it did; `work.at` is called before a step."""

    class Work:
        did: list[int] = []
        left: list[str] = []

        def at(self, step: int) -> None: ...

        def steps(self, job):
            for step in range(job.reached.get("step", 0), 3):
                yield step, 3
                self.at(step)
                jobs.reach(job, step=step + 1)
                self.did.append(step)
            return "3 steps done."

    one = Work()
    one.did, one.left = [], []
    monkeypatch.setitem(jobs.KINDS, "work", one.steps)
    monkeypatch.setitem(jobs.LEAVINGS, "work", lambda job: f"{job.reached.get('step', 0)} of 3 steps were done.")
    return one


def raising(error: BaseException, when: int):
    def at(step: int) -> None:
        if step == when:
            raise error

    return at


def test_what_is_asked_for_is_done_once_and_says_what_it_did(clinic, work):
    job = jobs.ask("work", by=by(clinic.lead))
    assert jobs.run_due_jobs(limit=5) == 1 and jobs.run_due_jobs(limit=5) == 0
    job.refresh_from_db()
    assert (job.state, job.answer, work.did) == (JobState.DONE, "3 steps done.", [0, 1, 2])


def test_a_job_that_somebody_has_claimed_is_left_alone(clinic, work):
    job = jobs.ask("work", by=by())
    Job.objects.update(claimed_until=datetime.now(UTC) + timedelta(minutes=1))
    assert not jobs.run_job(job.pk) and work.did == []


@pytest.mark.parametrize("when", [0, 1, 2])
def test_a_job_of_a_killed_process_goes_on_after_its_last_whole_step(clinic, work, when):
    job = jobs.ask("work", by=by())
    work.at = raising(Killed(), when)
    with pytest.raises(Killed):
        jobs.run_job(job.pk)
    assert not jobs.run_job(job.pk), "it is still claimed"
    freed()
    work.at = raising(Killed(), 99)
    assert jobs.run_job(job.pk) and work.did == [0, 1, 2]


def test_a_run_that_lost_its_claim_undoes_its_step_and_leaves_the_job_to_the_other(clinic, work):
    job = jobs.ask("work", by=by())

    def overtaken(step: int) -> None:
        if step == 1:
            work.at = raising(Killed(), 99)
            freed()
            assert jobs.run_job(job.pk)

    work.at = overtaken
    assert jobs.run_job(job.pk)
    job.refresh_from_db()
    assert (job.state, job.tries, work.did) == (JobState.DONE, 2, [0, 1, 2])


def test_a_run_that_is_overtaken_the_moment_it_has_claimed_does_nothing(clinic, work):
    job, late = jobs.ask("work", by=by()), []

    def overtake(execute, sql, *rest):
        done = execute(sql, *rest)
        if sql.startswith("UPDATE") and not late:
            late.append(sql)
            freed()
            with pytest.raises(Killed):
                jobs.run_job(job.pk)
        return done

    work.at = raising(Killed(), 1)
    with connection.execute_wrapper(overtake):
        jobs.run_job(job.pk)
    job.refresh_from_db()
    assert (job.state, job.tries, work.did) == (JobState.RUNNING, 2, [0])


def test_a_waiting_job_is_cancelled_at_once(clinic, work):
    job = jobs.cancel(jobs.ask("work", by=by(clinic.admin)), by=by(clinic.admin))
    assert (job.state, job.answer) == (JobState.CANCELLED, "0 of 3 steps were done.")
    assert jobs.run_due_jobs(limit=5) == 0
    assert TrailEntry.objects.filter(act="job.cancel", by=clinic.admin).count() == 1


def test_a_running_job_is_cancelled_after_the_step_it_is_at_and_says_what_stands(clinic, work):
    job = jobs.ask("work", by=by(clinic.admin))
    work.at = lambda step: jobs.cancel(job, by=by(clinic.lead)) if step == 1 else None
    jobs.run_job(job.pk)
    job.refresh_from_db()
    assert (job.state, job.answer, work.did) == (JobState.CANCELLED, "2 of 3 steps were done.", [0, 1])


def test_a_job_whose_process_was_killed_after_it_was_to_be_cancelled_does_nothing_more(clinic, work):
    job = jobs.ask("work", by=by(clinic.admin))
    Job.objects.update(claimed_until=datetime.now(UTC) + timedelta(minutes=1), state=JobState.RUNNING)
    assert jobs.cancel(job, by=by(clinic.admin)).state == JobState.RUNNING
    freed()
    jobs.run_job(job.pk)
    job.refresh_from_db()
    assert job.state == JobState.CANCELLED and work.did == []


@pytest.mark.parametrize("who, over, code", [("therapist", False, "not-your-job"), ("admin", True, "job-over")])
def test_a_cancellation_is_refused_to_others_and_of_what_is_over(clinic, work, who, over, code):
    job = jobs.ask("work", by=by(clinic.admin))
    if over:
        jobs.run_job(job.pk)
    with pytest.raises(Refusal) as refusal:
        jobs.cancel(job, by=by(getattr(clinic, who)))
    assert refusal.value.code == code


def test_a_failure_is_tried_again_after_a_pause_and_given_up_in_the_end(clinic, work):
    job = jobs.ask("work", by=by())
    work.at = raising(ValueError("what it held"), 1)
    for _ in range(jobs.MOST_TRIES):
        with pytest.raises(ValueError):
            jobs.run_job(job.pk)
        assert not jobs.run_job(job.pk), "not at once"
        freed()
    job.refresh_from_db()
    assert (job.state, job.error) == (JobState.FAILED, f"ValueError after {jobs.MOST_TRIES} tries")
    assert job.answer == "1 of 3 steps were done."


def test_a_job_that_ends_every_process_is_given_up(clinic, work):
    job = jobs.ask("work", by=by())
    Job.objects.update(tries=jobs.MOST_RUNS)
    jobs.run_job(job.pk)
    job.refresh_from_db()
    assert (job.state, job.error, work.did) == (JobState.FAILED, "interrupted too often", [])


def test_the_same_job_still_waiting_is_not_asked_for_twice(clinic, work):
    assert jobs.ask("work", by=by()) == jobs.ask("work", by=by())


def test_deriving_all_anew_goes_on_with_the_episode_after_the_last_batch(clinic, monkeypatch):
    monkeypatch.setattr(rederive, "BATCH", 1)
    episodes = [clinic.episode() for _ in range(3)]
    job = jobs.ask("rederive", by=by())
    Job.objects.update(reached={"episode": episodes[1].pk, "looked_at": 2})
    jobs.run_job(job.pk)
    job.refresh_from_db()
    assert job.answer == "3 episodes worked out again; differences in 0 put right."
    assert job.steps == 1 + 3  # the third episode, and the waits of each patient
