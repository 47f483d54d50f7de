"""Changing rules: why, the numbers, the second signature."""

from collections.abc import Iterator, Sequence
from itertools import groupby
from typing import Any, Final, NamedTuple

from django import forms
from django.forms.boundfield import BoundField

from caseload.actions.rule_changes import Surgeon
from caseload.errors import Refusal
from caseload.timetable.rule import When
from caseload.timetable.rules import RuleSet
from caseload.timetable.terms import Anchor
from caseload.timetable.versions import Count, Kind, counts, revised
from caseload.web.forms.fields import DayField, LineField
from caseload.web.forms.record import OWN, RecordForm
from caseload.wording import label
from caseload.wording.rules import say_count


class ProposalForm(RecordForm):
    """Why the rules should change."""

    why = LineField(label="Why", most=200, help_text="What the clinic agreed, and with whom.")
    groups = (("Why", ("why",)),)


class SignForm(RecordForm):
    """Who signs as the second; all are left empty by a lead who did not propose it and signs now."""

    surgeon = LineField(label="Surgeon who signed", most=60, required=False)
    how = LineField(
        label="How", most=30, required=False, help_text="Such as: letter, at the meeting. Where it can be looked up."
    )
    on = DayField(label="Signed on", required=False, help_text="As you write it: today, yesterday, 3/4.")
    move = forms.BooleanField(
        label="Move the open and planned episodes to it too", required=False,
        help_text="Without this they keep the version that they have, and can be moved later.",
    )  # fmt: skip

    def clean(self) -> dict[str, Any]:
        """A surgeon is named with how and when, or not at all."""
        said = super().clean() or {}
        given = {name: said.get(name) for name in OF_SURGEON if name not in self.errors}
        if any(given.values()):
            for name in (name for name, value in given.items() if not value):
                self.add_error(name, forms.ValidationError("This is needed where a surgeon signed.", "required"))
        return said

    def second(self) -> Surgeon | None:
        name, how, on = (self.cleaned_data[each] for each in OF_SURGEON)
        return Surgeon(name, how, on) if name else None


class WithdrawForm(RecordForm):
    """Nothing to fill in."""


OF_SURGEON: Final = ("surgeon", "how", "on")


class RuleFields(NamedTuple):
    """The fields of one rule, or of the whole set where `kind` is None."""

    kind: Kind | None
    when: When | None
    anchor: Anchor | None
    fields: Sequence[BoundField]


class CountsForm(RecordForm):
    """Every number of a copy that may be changed, named by its place."""

    def __init__(self, data: Any = None, *, rules: RuleSet, **options: Any) -> None:
        self.rules, self.counts = rules, counts(rules)
        super().__init__(data, **options)
        for count in self.counts:
            self.fields[count.place] = _field(count)
            self.initial.setdefault(count.place, count.value)

    def by_rule(self) -> Iterator[RuleFields]:
        for _, found in groupby(self.counts, _rule):
            first, *others = found
            fields = [self[count.place] for count in (first, *others)]
            yield RuleFields(first.kind, first.when, first.anchor, fields)

    def numbers(self) -> dict[str, int | None]:
        """Those that were changed, by place."""
        return {count.place: now for count in self.counts if (now := self.cleaned_data[count.place]) != count.value}

    def clean(self) -> dict[str, Any]:
        """A window that goes back is told of at its rule's target; whatever else is unsound, on top."""
        said = super().clean() or {}
        if not self.errors:
            try:
                revised(self.rules, {place: said[place] for place in said if place not in OWN}, self.rules.version)
            except Refusal as refusal:
                place = self._place_of(refusal)
                self.add_error(place, forms.ValidationError(self._plain(refusal, place), refusal.code))
        return said

    def _plain(self, refusal: Refusal, place: str | None) -> str:
        """The sentence with its rule in words, instead of its place in a file of rules."""
        if place is None:
            return refusal.message
        kind = next(count.kind for count in self.counts if count.place == place)
        wrong = refusal.message.removeprefix(f"{refusal.details['field']}: ")
        return f"{label(kind)}: {wrong}" if kind else wrong[0].upper() + wrong[1:]

    def _place_of(self, refusal: Refusal) -> str | None:
        """The field that a refusal such as `follow_ups[0] (stitches-out).target` means."""
        rule, _space, name = str(refusal.details.get("field") or "").partition(" ")
        place = f"{rule.replace('[', '.').replace(']', '')}.{name.rpartition('.')[2]}".removesuffix(".")
        return place if place in self.fields else None


def _rule(count: Count) -> str:
    return ".".join(count.place.split(".")[:2]) if count.kind else ""


def _field(count: Count) -> forms.IntegerField:
    return forms.IntegerField(
        label=say_count(count.name), min_value=0, max_value=count.most, required=not count.may_be_empty,
        widget=forms.TextInput({"inputmode": "numeric", "size": 4, "maxlength": 4}),
        error_messages={
            "invalid": "Give a whole number.", "required": "Give a whole number.",
            "min_value": "Give 0 or more.", "max_value": f"Give {count.most} at most.",
        },
    )  # fmt: skip
