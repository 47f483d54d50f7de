"""Take everything held on one patient away as files."""

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand
from django.utils import timezone

from caseload.actions import patient_files
from caseload.actions.act import By
from caseload.errors import Refusal
from caseload.management.export.files import private, whole_folder
from caseload.management.plainly import failures_said
from caseload.models import Patient, Staff
from caseload.outreach.patient_file import SUMMARY, files_of, tables
from caseload.reads.held import whose


class Command(BaseCommand):
    help = """Take everything held on one patient away: a page to read, and a CSV file for each table with a row about
    them. The patient is named by the code that stands in the address of their page. It is recorded as a look, with what
    it is for. Example: python manage.py patient_file CODE /mnt/encrypted/request --by lena --why "asked on 3 May" """

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("code", help="of the patient, as in the address of their page; never a name")
        parser.add_argument("folder", type=Path, help="a folder that is not there yet, or is empty")
        parser.add_argument("--by", required=True, metavar="USERNAME", help="the lead who takes it away: recorded")
        parser.add_argument("--why", required=True, help="what it is for: recorded. Name nobody here")

    def handle(self, *args: Any, code: str, folder: Path, by: str, why: str, **options: Any) -> None:
        with failures_said(f"Nothing was written to {folder}"):
            count = write(code, folder, username=by, why=why)
        self.stdout.write(f"{count} files are in {folder}; open {SUMMARY} first. They are not encrypted.")


def write(code: str, folder: Path, *, username: str, why: str) -> int:
    """Write the files; how many. Raises Refusal `nobody`, `no-patient`, `folder-not-empty` and what the act raises."""
    staff = Staff.objects.filter(username__iexact=username, is_active=True).first()
    patient = Patient.objects.filter(code=code).first()
    if staff is None:
        raise Refusal("nobody", "Nobody who works here signs in under that name. Say who takes it away: --by.")
    if patient is None:
        raise Refusal("no-patient", "No patient has this code. It stands in the address of the patient's page.")
    now = timezone.now()
    count = 0
    with whole_folder(folder) as fresh:
        patient_files.take(patient, by=By(staff, now, timezone.localdate(now), origin="patient_file"), why=why)
        for count, (name, content) in enumerate(files_of(list(tables(whose(patient))), now), 1):  # noqa: B007
            with private(fresh / name, "utf-8") as file:
                file.write(content.decode())
    return count
