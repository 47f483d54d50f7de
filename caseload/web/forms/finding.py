"""What was found: one look at the hand, a correction of one finding, a withdrawal."""

from collections.abc import Sequence
from typing import Any

from django import forms

from caseload.models import Episode, Finding, Patient
from caseload.timetable.terms import FindingKind, Source, Suture, WoundState
from caseload.web.forms.fields import DayField, LineField
from caseload.web.forms.record import Groups, RecordForm, words

MOST_STITCHES = 60


def _count(text: str) -> forms.IntegerField:
    return forms.IntegerField(label=text, required=False, min_value=0, max_value=MOST_STITCHES)


class FoundForm(RecordForm):
    """What every finding says: the day, and where it comes from."""

    on = DayField(label="Day it was found", help_text="As you write it: 3/4, 3 apr, today, yesterday, -2.")
    source = forms.ChoiceField(
        label="Where it comes from", choices=lambda: words(Source), widget=forms.RadioSelect, initial=Source.SEEN
    )
    reported_by = LineField(
        label="Reported by", most=120, required=False, help_text="Needed for a report: the clinician's name."
    )


class StitchesFields(forms.Form):
    stitches_out = _count("Taken out")
    stitches_left = _count("Left in")
    confirmed_full = forms.BooleanField(label="I looked again: none are left", required=False)


class VisitForm(FoundForm, StitchesFields):
    """One look at the hand. Only what applies to the suture of the episode is asked."""

    wound = forms.ChoiceField(
        label="State of the wound",
        choices=lambda: words(WoundState, "not looked at"),
        widget=forms.RadioSelect,
        required=False,
    )
    trim = forms.ChoiceField(
        label="Absorbable ends", required=False, widget=forms.RadioSelect,
        choices=[
            ("", "nothing to say"), (FindingKind.TRIM_NEEDED, "need trimming"), (FindingKind.TRIMMED, "were trimmed"),
        ],
    )  # fmt: skip
    red_flag = LineField(
        label="Red flag", most=500, required=False,
        help_text="What cannot wait, if anything: spreading redness, a bent painful finger, fever, new numbness.",
    )  # fmt: skip
    note = LineField(label="Note", most=500, required=False)
    groups: Groups = (
        ("When and from whom", ("on", "source", "reported_by")),
        ("Stitches", ("stitches_out", "stitches_left", "confirmed_full")),
        ("Wound", ("wound", "trim")),
        ("Anything else", ("red_flag", "note")),
    )

    def __init__(
        self, data: Any = None, *, episode: Episode, namesakes: Sequence[Patient] = (), **options: Any
    ) -> None:
        super().__init__(data, since=episode.surgery_on, **options)
        if namesakes:
            self.ask_birth_date(episode.patient.born_on)
        for name in _not_asked(episode):
            del self.fields[name]
        if "stitches_out" in self.fields:
            known = "is not known" if episode.stitches_in is None else f"was {episode.stitches_in}"
            self.fields[
                "confirmed_full"
            ].help_text = f"The number put in {known}. Needed only where the counts do not add up."

    def sayings(self) -> list[dict[str, Any]]:
        """What was filled in, as the findings that `actions.findings.record_visit` takes."""
        said = self.cleaned_data
        common = {"on": said["on"], "source": said["source"], "reported_by": said["reported_by"]}
        found = [*self._stitches(), *self._wound(), *self._trim()]
        if found and said["note"]:
            found[-1]["note"] = said["note"]
        if said["red_flag"]:
            found.append({"kind": FindingKind.RED_FLAG, "note": said["red_flag"]})
        return [common | finding for finding in found]

    def _stitches(self) -> list[dict[str, Any]]:
        said = self.cleaned_data
        counts = {name: said.get(name) for name in ("stitches_out", "stitches_left")}
        if all(count is None for count in counts.values()):
            return []
        return [{"kind": FindingKind.STITCHES, "confirmed_full": said["confirmed_full"], **counts}]

    def _wound(self) -> list[dict[str, Any]]:
        wound = self.cleaned_data["wound"]
        return [{"kind": FindingKind.WOUND, "wound": wound}] if wound else []

    def _trim(self) -> list[dict[str, Any]]:
        trim = self.cleaned_data.get("trim")
        return [{"kind": FindingKind(trim)}] if trim else []


def _not_asked(episode: Episode) -> list[str]:
    """Fields that the suture leaves no room for. An unknown suture may turn out to be any."""
    none = ["stitches_out", "stitches_left", "confirmed_full"] if episode.suture == Suture.NONE else []
    return none + ([] if episode.suture == Suture.ABSORBABLE else ["trim"])


class CorrectFindingForm(FoundForm, StitchesFields):
    """One finding said again: only what its kind says."""

    wound = forms.ChoiceField(label="State of the wound", choices=lambda: words(WoundState), widget=forms.RadioSelect)
    note = LineField(label="Note", most=500, required=False)
    groups: Groups = (
        (
            "What was found",
            ("on", "source", "reported_by", "stitches_out", "stitches_left", "confirmed_full", "wound", "note"),
        ),
    )
    OWN = {
        FindingKind.STITCHES: ("stitches_out", "stitches_left", "confirmed_full"),
        FindingKind.WOUND: ("wound",),
    }

    def __init__(self, data: Any = None, *, finding: Finding, **options: Any) -> None:
        own = ("on", "source", "reported_by", "note", *self.OWN.get(FindingKind(finding.kind), ()))
        initial = {name: getattr(finding, name) for name in own}
        super().__init__(data, since=finding.episode.surgery_on, initial=initial, **options)
        for name in set(self.fields) - set(own) - {"key", "version"}:
            del self.fields[name]


class WithdrawForm(RecordForm):
    why = LineField(
        label="Why it was never so", most=500, help_text="It stays readable, struck through, with this reason."
    )
    groups: Groups = (("Withdraw this finding", ("why",)),)


class CloseFlagForm(RecordForm):
    escalated_to = LineField(label="Escalated to", most=120, help_text="Who took it on.")
    outcome = LineField(label="Outcome", most=300, help_text="What came of it.")
    groups: Groups = (("Close this red flag", ("escalated_to", "outcome")),)


class ConfirmForm(RecordForm):
    """A button that acts, with nothing to fill in."""
