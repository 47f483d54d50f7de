"""Forms of the intake: the file, the meaning of its columns, and the answers to doubtful rows."""

from collections.abc import Iterable, Mapping
from datetime import date
from typing import Any

from django import forms
from django.http import QueryDict

from caseload.exchange.cells import MAX_BYTES
from caseload.models import IntakeSource, Site
from caseload.reads.matching.entry import Decision
from caseload.web.forms.fields import LineField
from caseload.web.forms.record import RecordForm
from caseload.wording.intake import FIELDS, say_field

DAYS = ("born_on", "surgery_on", "referral_received_on")
NOT_USED = "none"
HEADER = "h:"
"""In front of a header in a choice: whatever a header says, it is then not NOT_USED."""
TOO_BIG = "too-big"


class UploadForm(RecordForm):
    """`file` is checked for its size only: what it is, its content says."""

    groups = (("The list", ("file", "source", "site")),)
    file = forms.FileField(
        label="File",
        help_text="CSV or XLSX as the hospital exports it, up to 10 MB. Nothing is written before you confirm.",
        widget=forms.ClearableFileInput({"accept": ".csv,.txt,.tsv,.xlsx"}),
        error_messages={"required": "Choose the file first.", "empty": "The file is empty. Export it again."},
    )
    source = LineField(
        most=80,
        label="Where it comes from",
        help_text="The meaning of its columns is remembered under this name.",
        widget=forms.TextInput({"list": "sources"}),
    )
    site = forms.ModelChoiceField(
        Site.objects.all(),
        required=False,
        label="Site of rows that name none",
        to_field_name="code",
        empty_label="each row names its site",
    )

    def clean_file(self) -> Any:
        file = self.cleaned_data["file"]
        if file.size > MAX_BYTES:
            raise self.too_big()
        return file

    def upload(self) -> dict[str, Any]:
        """What `intake.upload` takes."""
        file, said = self.cleaned_data["file"], self.said()
        return {"data": file.read(), "file_name": file.name, "source": said["source"], "site": said["site"]}

    @staticmethod
    def too_big() -> forms.ValidationError:
        most = MAX_BYTES // 1024 // 1024
        remedy = "Nothing was read. Split the list into parts and upload each"
        return forms.ValidationError(f"The file is larger than {most} MB. {remedy}.", TOO_BIG)

    @property
    def is_too_big(self) -> bool:
        return any(error.code == TOO_BIG for error in self.errors.as_data().get("file", ()))


def known_sources() -> list[str]:
    return list(IntakeSource.objects.values_list("name", flat=True)[:50])


class ColumnsForm(RecordForm):
    """One choice of a header for each field, and whether dates are written month first."""

    def __init__(self, data: Any, *, today: date, samples: Mapping[str, str], columns: Mapping[str, str],
                 month_first: Iterable[str], site: Site | None, version: int) -> None:  # fmt: skip
        super().__init__(data, today=today, initial={"version": version})
        headers = ((f"{HEADER}{name}", f"{name}: {cell}" if cell else name) for name, cell in samples.items())
        choices = [("", "as its header says"), (NOT_USED, "not in this list"), *headers]
        for field in FIELDS:
            initial = f"{HEADER}{columns[field]}" if field in columns else ""
            self.fields[f"column-{field}"] = forms.ChoiceField(
                choices=choices, required=False, label=_heading(field), initial=initial
            )
        for field in DAYS:
            self.fields[f"month-first-{field}"] = forms.BooleanField(
                required=False, label=f"{_heading(field)}: month first", initial=field in set(month_first)
            )
        self.fields["site"] = forms.ModelChoiceField(
            Site.objects.all(), required=False, label="Site of rows that name none", to_field_name="code",
            initial=site, empty_label="each row names its site",
        )  # fmt: skip
        self.groups = (
            ("Which column holds what", tuple(f"column-{field}" for field in FIELDS)),
            ("How it is written", (*(f"month-first-{field}" for field in DAYS), "site")),
        )

    @property
    def meaning(self) -> dict[str, Any]:
        """What the list is read by as it is stored, by field."""
        names = (name for _, names in self.groups for name in names)
        return {name: self.get_initial_for_field(self.fields[name], name) for name in names}

    @property
    def columns(self) -> dict[str, str]:
        """Field -> header; an empty header leaves the field out of the list."""
        chosen = {field: self.cleaned_data.get(f"column-{field}", "") for field in FIELDS}
        named = {field: header.removeprefix(HEADER) for field, header in chosen.items() if header.startswith(HEADER)}
        return named | {field: "" for field, header in chosen.items() if header == NOT_USED}

    @property
    def month_first(self) -> list[str]:
        return [field for field in DAYS if self.cleaned_data.get(f"month-first-{field}")]


def _heading(field: str) -> str:
    name = say_field(field)
    return name[:1].upper() + name[1:]


def decisions_of(data: QueryDict) -> dict[int, Decision]:
    """Row number -> answer, for every row that the sent page asked about."""
    found: dict[int, Decision] = {}
    for text in data.getlist("asked"):
        if text.isascii() and text.isdigit() and len(text) < 8:
            found[int(text)] = Decision(
                person=_code(data.get(f"person-{text}", "")),
                operation=_code(data.get(f"operation-{text}", "")),
                read=f"read-{text}" in data,
            )
    return found


def _code(text: str) -> str:
    """A code as the page offers them; anything else is no answer."""
    return text if text.isascii() and text.isalnum() and len(text) <= 12 else ""
