"""What has to be filled in says so in the same word, whether it is a field, a group of choices or a box to tick."""

import re
from collections.abc import Iterator

import pytest
from django import forms
from django.template.loader import render_to_string
from django.test import Client

from tests.scenario import Fernhollow

CHOICES = [("a", "one"), ("b", "other")]


class Form(forms.Form):
    text = forms.CharField(label="Text")
    text_or_not = forms.CharField(label="Text", required=False)
    choice = forms.ChoiceField(label="Choice", choices=CHOICES, widget=forms.RadioSelect)
    choice_or_not = forms.ChoiceField(label="Choice", choices=CHOICES, widget=forms.RadioSelect, required=False)
    some = forms.MultipleChoiceField(label="Some", choices=CHOICES, widget=forms.CheckboxSelectMultiple)
    some_or_not = forms.MultipleChoiceField(
        label="Some", choices=CHOICES, widget=forms.CheckboxSelectMultiple, required=False
    )
    ticked = forms.BooleanField(label="Ticked")
    ticked_or_not = forms.BooleanField(label="Ticked", required=False)


@pytest.mark.parametrize("name", list(Form().fields))
def test_what_is_required_says_that_it_is_needed(name: str):
    drawn = render_to_string("forms/field.html", {"field": Form()[name]})
    said = re.findall(r'\s<span class="soft">needed</span>', drawn)  # apart from the name before it
    assert len(said) == (not name.endswith("_or_not"))


def groups(page) -> Iterator[tuple[str, bool]]:
    """Each legend of a group of choices, with whether it is said to be needed."""
    for legend in re.findall(r"<fieldset class=\"field\"[^>]*>\s*<legend>(.*?)</legend>", page.content.decode(), re.S):
        yield re.sub(r"<span.*", "", legend, flags=re.S).strip(), "needed" in legend


def test_the_groups_of_a_page_say_it(clinic: Fernhollow, therapist: Client):
    said = dict(groups(therapist.get(f"/episodes/{clinic.episode().code}/visit/")))
    assert said["How it was looked at"] and said["Next step"]
    assert not said["Wound"] and not said["May begin today"]
