"""What is filled in of people: who they are, what they may do, and how they get their link."""

from typing import Any

from django import forms
from django.conf import settings

from caseload.access.people import read_username
from caseload.parsing import read_email
from caseload.timetable.terms import Owner
from caseload.web.forms.fields import LineField, ReadField
from caseload.web.forms.record import OWN, Groups, RecordForm, words

LINK = frozenset({"here"})
"""Said of the link and not of the person."""


class PersonForm(RecordForm):
    name = LineField(label="Name", most=120, help_text="As colleagues know them.")
    email = ReadField(
        read_email, max_length=254, label="E-mail", required=False, help_text="Links to choose a password go there.",
        widget=forms.TextInput({"inputmode": "email", "autocomplete": "off"}),
    )  # fmt: skip
    roles = forms.TypedMultipleChoiceField(
        label="Roles", choices=lambda: words(Owner), coerce=Owner, widget=forms.CheckboxSelectMultiple,
        error_messages={"required": "Tick at least one role."},
        help_text="They add up. An admin and a lead see everybody's patients. A lead manages people and needs a second "
        "factor.",
    )  # fmt: skip
    groups: Groups = (("Who it is", ("name", "email")), ("What they may do", ("roles",)))

    def __init__(self, data: Any = None, **options: Any) -> None:
        super().__init__(data, **options)
        if not settings.MAIL_URL:
            self.fields["email"].help_text = "For later: this planner sends no e-mail yet."

    def said(self) -> dict[str, Any]:
        told = {name: value for name, value in self.cleaned_data.items() if name not in OWN | LINK}
        return told | {"roles": frozenset(told["roles"])}


class LinkForm(RecordForm):
    here = forms.BooleanField(
        label="Show the link here instead of sending it", required=False,
        help_text="To be handed over in person. It is sent by e-mail otherwise, if an address is known.",
    )  # fmt: skip

    def __init__(self, data: Any = None, **options: Any) -> None:
        super().__init__(data, **options)
        if not settings.MAIL_URL:
            del self.fields["here"]


class InviteForm(LinkForm, PersonForm):
    username = ReadField(
        read_username, max_length=60, label="Signs in as", help_text="Such as n.vale. It stays for good.",
        widget=forms.TextInput({"autocomplete": "off", "autocapitalize": "none"}),
    )  # fmt: skip
    groups: Groups = (
        ("Who it is", ("name", "username", "email")), ("What they may do", ("roles",)), ("The link", ("here",)),
    )  # fmt: skip
    field_order = ("name", "username", "email", "roles", "here")


class ResetForm(LinkForm):
    factors = forms.BooleanField(
        label="Take away their second factors and recovery codes too", required=False,
        help_text="Where the device is lost or in other hands. Make sure in person who is asking.",
    )  # fmt: skip
    groups: Groups = (("What is reset", ("factors", "here")),)

    def __init__(self, data: Any = None, *, has_factors: bool, **options: Any) -> None:
        super().__init__(data, **options)
        if not has_factors:
            del self.fields["factors"]


class LeaveForm(RecordForm):
    """Nothing to fill in but the version that was seen."""
