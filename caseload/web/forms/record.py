"""What the forms of the record share: a key against double sending, the version seen, typed dates, groups of fields."""

from collections.abc import Iterator
from datetime import date
from enum import StrEnum
from typing import Any, cast
from uuid import uuid4

from django import forms
from django.db.models import Model
from django.forms.boundfield import BoundField
from django.http import QueryDict

from caseload.errors import Refusal
from caseload.parsing import in_words
from caseload.web.forms.fields import NEEDED, DayField
from caseload.wording import label

Groups = tuple[tuple[str, tuple[str, ...]], ...]
OWN = frozenset({"key", "version", "birth_date_confirmed"})
"""Fields of the form itself: no act takes them as facts."""


class RecordForm(forms.Form):
    """`groups` are the legends and the fields under each, in the order in which they are filled in.

    `key` names this sending of the form; `version` is that of the row a correction was typed against.
    """

    groups: Groups = ()
    key = forms.UUIDField(required=False, widget=forms.HiddenInput)
    version = forms.IntegerField(required=False, min_value=1, max_value=2**31 - 1, widget=forms.HiddenInput)
    use_required_attribute = False

    def __init__(self, data: Any = None, *, today: date, since: date | None = None, **options: Any) -> None:
        super().__init__(data, label_suffix="", **options)
        self.initial.setdefault("key", uuid4())
        self.say_needed()
        self.count_days(today, since)

    def say_needed(self) -> None:
        """An empty field is told of in the word that stands beside its label, unless it has a sentence of its own."""
        for field in self.fields.values():
            if field.error_messages["required"] == forms.Field.default_error_messages["required"]:
                field.error_messages["required"] = NEEDED

    def count_days(self, today: date, since: date | None) -> None:
        """Let every day be read as of today, and be echoed with its number since the surgery."""
        for field in self.fields.values():
            if isinstance(field, DayField):
                field.today = today
                if since and not field.birth:
                    field.widget.attrs["data-since"] = since.isoformat()

    def ask_birth_date(self, born_on: date | None) -> None:
        """Where others on the caseload have the same name: nothing is booked or recorded before this is ticked."""
        said = in_words(born_on) if born_on else "not known: make sure in another way who it is"
        self.fields["birth_date_confirmed"] = forms.BooleanField(
            label=f"I confirmed the birth date: {said}",
            error_messages={
                "required": "Others on the caseload have this name. Confirm the birth date with the patient."
            },
        )
        self.groups = (("Who it is", ("birth_date_confirmed",)), *self.groups)

    def shown(self) -> Iterator[tuple[str, list[BoundField]]]:
        """Each group that has a field to show, with its legend."""
        for legend, names in self.groups:
            if fields := [self[name] for name in names if name in self.fields]:
                yield legend, fields

    def said(self) -> dict[str, Any]:
        """What was read, without what only the form needs."""
        return {name: value for name, value in self.cleaned_data.items() if name not in OWN}

    def said_of(self) -> dict[str, Any]:
        """The same with the version that a correction was typed against."""
        return self.said() | {"version": self.cleaned_data["version"]}

    def refuse(self, refusal: Refusal) -> None:
        """Show a refusal at the field that it names, or on top."""
        field = str(refusal.details.get("field") or "")
        self.add_error(field if field in self.fields else None, forms.ValidationError(refusal.message, refusal.code))

    def take_version(self, version: int) -> None:
        """After a conflict: the next sending is typed against this version."""
        data = cast(QueryDict, self.data).copy()
        data["version"] = str(version)
        self.data = data


def words(kinds: type[StrEnum], empty: str | None = None) -> list[tuple[str, str]]:
    """The words of the trade as choices; `empty` is the label of saying none."""
    return ([("", empty)] if empty is not None else []) + [(str(word), label(word)) for word in kinds]


def differences(form: RecordForm, stored: dict[str, Any]) -> list[tuple[str, str, str]]:
    """After a conflict: label, stored and typed value of each field in which they differ."""
    shown = (
        (
            str(bound.label),
            spoken(bound.field, stored[bound.name]),
            spoken(bound.field, form.cleaned_data.get(bound.name)),
        )
        for bound in form
        if bound.name in stored and not bound.is_hidden
    )
    return [(label, was, typed) for label, was, typed in shown if was != typed]


def spoken(field: forms.Field, value: Any) -> str:
    """A value of a field as a person reads it."""
    if value in (None, "", []):
        return "–"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, date):
        return in_words(value)
    if isinstance(value, list):
        return ", ".join(spoken(field, one) for one in value)
    return _choice(field, value)


def _choice(field: forms.Field, value: Any) -> str:
    if isinstance(field, forms.ModelChoiceField):
        wanted = {str(field.to_field_name): value}
        row = value if isinstance(value, Model) else field.queryset and field.queryset.filter(**wanted).first()
        return field.label_from_instance(row) if row else str(value)
    if isinstance(field, forms.ChoiceField):
        return str(dict(field.choices).get(value, value))  # type: ignore[arg-type]
    return str(field.prepare_value(value))
