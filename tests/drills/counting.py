"""After a drill: every acknowledged write is looked for in the database; what should be there once is counted."""

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, field

from tests.drills.hooked import JOB, STEPS, TICK
from tests.drills.load import Write


@dataclass
class Found:
    """How often each write is there, by its key; what of the work behind the pages was not done exactly once."""

    times: dict[str, int]
    faults: list[str] = field(default_factory=list)
    said: list[str] = field(default_factory=list)

    def lost(self, writes: Iterable[Write]) -> int:
        return sum(1 for write in writes if write.acknowledged_at and not self.times[write.key])

    def doubled(self, writes: Iterable[Write]) -> int:
        return sum(1 for write in writes if self.times[write.key] > 1)


def times_of(writes: Iterable[Write]) -> dict[str, int]:
    """How often each write was carried out. A booking or a cancellation counts what its appointment's trail says."""
    from caseload.models import Appointment, Contact, Submission, TrailEntry

    calls = Counter(Contact.objects.filter(text__startswith="rang ").values_list("text", flat=True))
    outcomes = {str(key): code for key, code in Submission.objects.values_list("key", "outcome")}
    codes = dict(Appointment.objects.values_list("code", "pk"))
    acts = ("appointment.book", "appointment.end")
    trail = TrailEntry.objects.filter(subject="appointment", act__in=acts).values_list("act", "subject_id")
    done = Counter(trail)
    found = {}
    for write in writes:
        if write.kind == "call":
            found[write.key] = calls[write.said]
        else:
            act = acts[write.kind == "cancel"]
            found[write.key] = done[act, codes.get(outcomes.get(write.key, ""), 0)]
    return found


def count(writes: list[Write], delivered: list[str]) -> Found:
    """`delivered` are the Message-IDs that the mail servers took."""
    found = Found(times_of(writes))
    _bookings(found, writes)
    _notices(found, Counter(delivered))
    _jobs(found)
    _ticks(found)
    found.faults += [f"{write.kind} refused ({write.answers}): {write.refused}" for write in writes if write.refused]
    return found


def _bookings(found: Found, writes: list[Write]) -> None:
    """No appointment that nobody sent, and none twice: as many as there are keys that booked."""
    from caseload.models import Appointment

    booked = sum(1 for write in writes if write.kind == "book" and found.times[write.key])
    if (there := Appointment.objects.count()) != booked:
        found.faults.append(f"{there} appointments of {booked} forms")


def _notices(found: Found, delivered: Counter[str]) -> None:
    """Each that counts as sent has one entry in the trail and at least one delivery under its one Message-ID."""
    from caseload.models import Notice, NoticeState, TrailEntry
    from caseload.outreach.post import message_id

    recorded = Counter(
        entry.subject_id for entry in TrailEntry.objects.filter(act="notice.send") if "state" in entry.changed
    )
    rows = list(Notice.objects.values_list("pk", "key", "state", "channel"))
    known = {message_id(key) for _, key, _, _ in rows}
    sent = [(pk, key) for pk, key, state, channel in rows if state == NoticeState.SENT]
    not_once = [key for pk, key in sent if recorded[pk] != 1]
    undelivered = [key for _, key in sent if not delivered[message_id(key)]]
    strange = delivered.keys() - known
    failed = [key for _, key, state, channel in rows if state == NoticeState.FAILED]
    overtaken = len(delivered.keys() & known) - (len(sent) - len(undelivered))
    found.said.append(
        f"notices: {len(sent)} sent, {len(sent) - len(not_once)} of them recorded once, {len(undelivered)} without a "
        f"delivery; {delivered.total()} deliveries under {len(delivered)} Message-IDs; {overtaken} delivered and "
        f"withdrawn before it was recorded"
    )
    found.faults += [f"{len(not_once)} notices not recorded once"] if not_once else []
    found.faults += [f"{len(undelivered)} notices without a delivery"] if undelivered else []
    found.faults += [f"{len(strange)} unknown Message-IDs"] if strange else []
    found.faults += [f"{len(failed)} notices given up"] if failed else []


def _jobs(found: Found) -> None:
    from caseload.models import Contact, Job, JobState

    jobs = dict(Job.objects.filter(kind=JOB).values_list("pk", "state"))
    texts = Contact.objects.filter(text__startswith="job ").values_list("text", flat=True)
    steps = Counter(text.partition(" on ")[0] for text in texts)
    hosts = Counter(text.partition(" on ")[2] for text in texts)
    undone = [pk for pk, state in jobs.items() if state != JobState.DONE]
    twice = [step for step, times in steps.items() if times > 1]
    missing = len(jobs) * STEPS - len(steps)
    found.said.append(f"jobs: {len(jobs)}, {len(steps)} steps done once, {len(twice)} twice, by host {dict(hosts)}")
    found.faults += [f"{len(undone)} jobs not done"] if undone else []
    found.faults += [f"{len(twice)} steps of jobs done twice"] if twice else []
    found.faults += [f"{missing} steps of jobs missing"] if missing else []


def _ticks(found: Found) -> None:
    from caseload.models import TrailEntry

    seconds = Counter(TrailEntry.objects.filter(act=TICK).values_list("subject_id", flat=True))
    twice = [second for second, times in seconds.items() if times > 1]
    found.said.append(f"ticks: {len(seconds)} seconds, {len(twice)} twice")
    found.faults += [f"{len(twice)} ticks twice"] if twice else []
    found.faults += [] if seconds else ["no tick"]
