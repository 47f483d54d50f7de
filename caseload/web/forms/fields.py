"""Fields that read what people type with the readers of `caseload.parsing`; a reader's refusal is the field's error."""

from collections.abc import Callable
from datetime import date, timedelta
from typing import Any

from django import forms
from django.forms.boundfield import BoundField

from caseload.errors import Refusal
from caseload.parsing import TypedDate, in_words, read_birth_date, read_date, read_notes, read_text

NEEDED = "This is needed."
LONGEST_TYPED = 200
LONGEST_DAY_NUMBER = 3


class ReadField(forms.CharField):
    """Text that `read` turns into a value. Raises ValidationError with the code and sentence of the refusal."""

    def __init__(self, read: Callable[[str], Any], *, max_length: int = LONGEST_TYPED, **options: Any) -> None:
        self.read = read
        super().__init__(max_length=max_length, **options)

    def clean(self, value: Any) -> Any:
        text = super().clean(value)
        if not text:
            return self.empty_value
        try:
            return self.read(text)
        except Refusal as refusal:
            raise forms.ValidationError(refusal.message, code=refusal.code) from None


class LineField(ReadField):
    """One line of free text, tidied."""

    def __init__(self, *, most: int, **options: Any) -> None:
        super().__init__(lambda text: read_text(text, most=most), max_length=most, **options)


class NotesField(ReadField):
    """Several lines of free text, tidied."""

    def __init__(self, *, most: int, **options: Any) -> None:
        widget = forms.Textarea({"rows": 3})
        super().__init__(lambda text: read_notes(text, most=most), max_length=most, widget=widget, **options)


class EchoedField(BoundField):
    """A date as typed, with what it was read as."""

    echoes = True

    @property
    def echo(self) -> str:
        """The day in words, or "" while nothing readable was typed, or where the words are what was typed."""
        text = str(self.value() or "")
        try:
            said = echoed(self.field.typed(text))  # type: ignore[attr-defined]
        except Refusal:
            return ""
        return "" if said == text else said


class DayField(forms.CharField):
    """A date as people type it; cleaned it is a date, or None. A form sets `today` before it reads."""

    today: date
    birth = False

    def __init__(self, **options: Any) -> None:
        widget = forms.TextInput({"autocomplete": "off", "data-echo": "birth" if self.birth else "day", "size": 18})
        super().__init__(max_length=40, empty_value=None, widget=widget, **options)

    def typed(self, text: str) -> TypedDate:
        """Raises Refusal."""
        return read_birth_date(text, today=self.today) if self.birth else read_date(text, today=self.today)

    def clean(self, value: Any) -> date | None:
        text = super().clean(value)
        if not text:
            return None
        try:
            return self.typed(text).on
        except Refusal as refusal:
            raise forms.ValidationError(refusal.message, code=refusal.code) from None

    def prepare_value(self, value: Any) -> Any:
        return in_words(value) if isinstance(value, date) else value

    def get_bound_field(self, form: forms.BaseForm, field_name: str) -> BoundField:
        return EchoedField(form, self, field_name)


class BirthDateField(DayField):
    birth = True


class EchoedNumber(BoundField):
    """A day counted from surgery, with the date that it is."""

    echoes = True

    @property
    def echo(self) -> str:
        return self.field.on(str(self.value() or ""))  # type: ignore[attr-defined]


class DayNumberField(forms.IntegerField):
    """A number of days after surgery, echoed as a date; `count_from` tells it the surgery date."""

    since: date | None = None

    def __init__(self, **options: Any) -> None:
        super().__init__(widget=forms.NumberInput({"data-echo": "number"}), **options)

    def count_from(self, since: date | None) -> None:
        self.since = since
        if since:
            self.widget.attrs["data-since"] = since.isoformat()

    def on(self, text: str) -> str:
        return numbered(text, self.since)

    def get_bound_field(self, form: forms.BaseForm, field_name: str) -> BoundField:
        return EchoedNumber(form, self, field_name)


def numbered(text: str, since: date | None) -> str:
    """The date of a typed day number in words, or "" where it is none."""
    if since is None or not text.strip().isdecimal() or len(text.strip()) > LONGEST_DAY_NUMBER:
        return ""
    return in_words(since + timedelta(days=int(text)))


def echoed(typed: TypedDate) -> str:
    """What a typed date was read as; a date that reads two ways says the other way too."""
    if typed.other_reading is None:
        return in_words(typed.on)
    return f"{in_words(typed.on)} (day first; if {in_words(typed.other_reading)} is meant, type the month as a word)"
