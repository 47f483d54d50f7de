"""The files of an export: one for each table of the record, and one that says what they are."""

import os
import shutil
import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import IO, Any, Final, NamedTuple

from django.db.models import Model

from caseload.errors import Refusal
from caseload.exchange.writing import put_csv
from caseload.management.export.columns import columns_of
from caseload.management.keeping.snapshot import ALIAS
from caseload.models import (
    Absence,
    Appointment,
    Closure,
    Completion,
    Contact,
    Countersignature,
    Episode,
    Examined,
    Filing,
    FillLine,
    FillPlan,
    Finding,
    FollowUp,
    Holiday,
    Identifier,
    Instruction,
    LetterBatch,
    Look,
    Measurement,
    Notice,
    Patient,
    Purpose,
    RedFlagClosure,
    RedFlagEscalation,
    Referral,
    Region,
    RuleSet,
    Session,
    SetReview,
    Site,
    Staff,
    TrailEntry,
    Visit,
    WeeklySession,
)

AT_ONCE: Final = 1000
LEFT_OUT: Final = frozenset({
    "Draft", "Feed", "IntakeBatch", "IntakeRow", "IntakeSource", "Job", "JobFile", "Pulse", "Seat", "Slot", "Standing",
    "Submission", "Tick", "UndoStep", "Wait", "WorkedOn",
})  # fmt: skip
"""How the planner works and what it derives for its lists; nothing here is the record."""


class File(NamedTuple):
    name: str
    model: type[Model]
    says: str


FILES: Final = (
    File("patients", Patient, "the people; their code names them in all other files"),
    File("identifiers", Identifier, "the numbers that patients have elsewhere"),
    File("referrals", Referral, "requests for therapy"),
    File("episodes", Episode, "one operated digit of one hand, from its surgery until it is closed"),
    File("instructions", Instruction, "what surgeons ordered for one episode"),
    File("visits", Visit, "meetings with a patient, pictures and calls"),
    File("digits-examined", Examined, "what each visit says of one digit: what began, what is next"),
    File("findings", Finding, "dated observations; a correction names the finding it corrects"),
    File("countersignatures", Countersignature, "who vouches for what was reported or seen on a picture"),
    File("red-flags-passed-on", RedFlagEscalation, "to whom a red flag went"),
    File("red-flags-closed", RedFlagClosure, "how a red flag ended"),
    File("measurements", Measurement, "what was measured: pain, motion, grip and so on"),
    File("reviews", SetReview, "reviews that a therapist set"),
    File("follow-ups", FollowUp, "what is due in which window, done or not needed, as the rules derive it"),
    File("completions", Completion, "follow-ups that were carried out without a finding of their own"),
    File("appointments", Appointment, "appointments and how they ended"),
    File("appointments-for", Purpose, "which follow-ups an appointment serves or served"),
    File("contacts", Contact, "calls and messages"),
    File("notices", Notice, "letters, e-mails and reminders, with the text that went out"),
    File("letter-batches", LetterBatch, "letters printed and posted together"),
    File("sites", Site, "where the service works"),
    File("staff", Staff, "who works or worked here, without passwords"),
    File("weekly-sessions", WeeklySession, "the pattern of the weeks"),
    File("sessions", Session, "the sessions of each day"),
    File("absences", Absence, "who was away, and who covered"),
    File("closures", Closure, "days on which a site is shut"),
    File("regions", Region, "lists of holidays, and how far each is known"),
    File("holidays", Holiday, "their days"),
    File("filling-plans", FillPlan, "plans that filled the diary: for which days, and how good they were"),
    File("filling-lines", FillLine, "what each plan proposed for whom, and what people made of it"),
    File("filed-months", Filing, "months of waits whose figures were filed for good"),
    File("rules", RuleSet, "the day counts, version by version"),
    File("trail", TrailEntry, "who changed what, when"),
    File("looks", Look, "who looked at what, when"),
)


@contextmanager
def whole_folder(folder: Path) -> Iterator[Path]:
    """A folder for its owner only that takes the name `folder` when everything in it is written, or never.

    Raises Refusal `folder-not-empty`; OSError where it cannot be.
    """
    if folder.exists() and not (folder.is_dir() and not any(folder.iterdir())):
        raise Refusal("folder-not-empty", f"{folder} is not an empty folder. Name one that is not there yet.")
    fresh = Path(tempfile.mkdtemp(prefix=f".{folder.name}-", dir=folder.absolute().parent))
    try:
        yield fresh
        os.replace(fresh, folder)
    except BaseException:
        shutil.rmtree(fresh, ignore_errors=True)
        raise


def write_tables(folder: Path, progress: Callable[[str], None]) -> dict[str, int]:
    """Write a file for each table as the snapshot has it; how many rows each has, by the name of the file."""
    counts = {}
    for file in FILES:
        progress(file.name)
        counts[file.name] = _write_table(folder / f"{file.name}.csv", file.model)
    return counts


def _write_table(path: Path, model: type[Model]) -> int:
    columns, count = columns_of(model), 0

    def rows() -> Iterator[list[Any]]:
        nonlocal count
        found = model._base_manager.using(ALIAS).order_by("pk").values_list(*(column.path for column in columns))
        for row in found.iterator(AT_ONCE):
            count += 1
            yield [column.say(value) for column, value in zip(columns, row, strict=True)]

    with private(path) as lines:
        put_csv(lines, [column.header for column in columns], rows())
    return count


def private(path: Path, encoding: str = "utf-8-sig") -> IO[str]:
    """A new text file that its owner alone can read, marked as UTF-8 for spreadsheets."""
    return open(path, "x", encoding=encoding, newline="", opener=lambda name, flags: os.open(name, flags, 0o600))
