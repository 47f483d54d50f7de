"""The form of a visit: what is common to it, and a part for each digit that is looked at."""

from collections.abc import Iterator, Sequence
from datetime import date
from typing import Any, NamedTuple, cast

from django import forms
from django.forms.boundfield import BoundField
from django.http import QueryDict

from caseload.actions.reviews import BY_FINDING
from caseload.actions.visits import Look
from caseload.errors import Refusal
from caseload.models import Appointment, Episode, FollowUp, Patient
from caseload.reads.examining import Occasion, Subject
from caseload.reads.marks import Seen
from caseload.timetable.terms import ActivityKind, AfterVisit, FindingKind, Source
from caseload.web.forms.fields import DayField, LineField
from caseload.web.forms.places import name_of, say_what
from caseload.web.forms.record import RecordForm, words
from caseload.web.forms.visit_fields import fields_of_digit
from caseload.wording.appointments import say_time
from caseload.wording.record import say_hand

NAMED_OTHERWISE = {"how": "after", "follow_ups": "meets", "outcome": "appointment"}
"""Fields of the page by the name that a refusal of an act has for them."""
NO_APPOINTMENT = ""


class Wrong(NamedTuple):
    """What is wrong with a field, with the id of the field to go to; that is empty for the form as a whole."""

    anchor: str
    label: str
    sentence: str


class Part(NamedTuple):
    """The fields of one digit by their names without the prefix."""

    subject: Subject
    prefix: str
    field: dict[str, BoundField]

    @property
    def hand(self) -> str:
        return say_hand(self.subject.episode)


class VisitForm(RecordForm):
    on = DayField(label="Day of the visit", help_text="As you write it: today, yesterday, 3/4, -2.")
    source = forms.ChoiceField(
        label="How it was looked at", choices=lambda: words(Source), widget=forms.RadioSelect, initial=Source.SEEN
    )
    reported_by = LineField(label="Reported by", most=120, required=False, help_text="The clinician, for a report.")
    appointment = forms.ChoiceField(label="Appointment", widget=forms.RadioSelect, required=False)
    meets = forms.MultipleChoiceField(
        label="What this visit meets", widget=forms.CheckboxSelectMultiple, required=False
    )
    taught = LineField(label="What was taught", most=500, required=False)
    note = LineField(label="Note", most=1000, required=False)

    def __init__(self, data: Any = None, *, occasion: Occasion, namesakes: Sequence[Patient] = (), **options: Any):
        self.occasion = occasion
        self.prefixes = [f"d{place}_" for place, _ in enumerate(occasion.subjects, 1)]
        super().__init__(data, since=_since(occasion.episodes), **options)
        if namesakes:
            self.ask_birth_date(occasion.patient.born_on)
        self._offer_appointments()
        self._offer_follow_ups(options["today"])
        for prefix, subject in zip(self.prefixes, occasion.subjects, strict=True):
            own = fields_of_digit(subject, options["today"])
            self.fields |= {prefix + name: field for name, field in own.items()}
            self.initial |= {prefix + name: value for name, value in _first(subject).items()}
        self.count_days(options["today"], _since(occasion.episodes))

    def _offer_appointments(self) -> None:
        offered = self.occasion.of_today
        if not offered:
            del self.fields["appointment"]
            return
        choices = [(row.code, f"for the one at {say_time(row)}") for row in offered]
        self.fields["appointment"].choices = [*choices, (NO_APPOINTMENT, "without an appointment")]  # type: ignore[attr-defined]
        self.initial.setdefault("appointment", offered[0].code)

    def _offer_follow_ups(self, today: date) -> None:
        """Those that no finding must complete and that the appointment does not serve anyway."""
        served = _served(self.occasion.appointment)
        self.due = {
            name_of(row): row for row in self.occasion.due if row.kind not in BY_FINDING and row.pk not in served
        }
        if not self.due:
            del self.fields["meets"]
            return
        self.fields["meets"].choices = [(name, say_what(row)) for name, row in self.due.items()]  # type: ignore[attr-defined]
        self.initial["meets"] = [
            name for name, row in self.due.items() if row.earliest_on <= today and not row.provisional
        ]

    # ---- how the page shows it ----

    def parts(self) -> list[Part]:
        found = []
        for prefix, subject in zip(self.prefixes, self.occasion.subjects, strict=True):
            own = {name.removeprefix(prefix): self[name] for name in self.fields if name.startswith(prefix)}
            found.append(Part(subject, prefix, own))
        return found

    def wrongs(self) -> Iterator[Wrong]:
        """Everything that is wrong, each naming its digit where there are several."""
        for sentence in self.non_field_errors():
            yield Wrong("", "", str(sentence))
        for bound in self:
            for sentence in bound.errors:
                yield Wrong("" if bound.is_hidden else bound.auto_id, self._named(bound), str(sentence))

    def _named(self, bound: BoundField) -> str:
        episode = next((part.hand for part in self.parts() if bound.name.startswith(part.prefix)), "")
        return f"{episode}, {bound.label}" if episode and len(self.prefixes) > 1 else str(bound.label)

    def refuse(self, refusal: Refusal) -> None:
        """Show a refusal at the field of the digit that it is about, or on top with the name of the digit."""
        said = str(refusal.details.get("field") or "")
        name, place = NAMED_OTHERWISE.get(said, said), self._place(refusal.details.get("episode"))
        own = f"{self.prefixes[place]}{name}" if place is not None else ""
        field = next((each for each in (own, name) if each in self.fields), None)
        sentence = refusal.message
        if field is None and place is not None and len(self.prefixes) > 1:
            sentence = f"{say_hand(self.occasion.episodes[place]).capitalize()}: {sentence}"
        self.add_error(field, forms.ValidationError(sentence, refusal.code))

    def _place(self, code: object) -> int | None:
        codes = [episode.code for episode in self.occasion.episodes]
        return codes.index(str(code)) if code in codes else None

    def take_marks(self) -> None:
        """After a conflict: the next sending is typed against how each digit stands now."""
        data = cast(QueryDict, self.data).copy()
        for prefix, subject in zip(self.prefixes, self.occasion.subjects, strict=True):
            data[f"{prefix}seen"] = str(subject.seen)
        self.data = data

    # ---- what was typed ----

    def clean(self) -> dict[str, Any]:
        for prefix, subject in zip(self.prefixes, self.occasion.subjects, strict=True):
            self._check_page(prefix, subject.episode)
            self._check_next(prefix)
        return self.cleaned_data

    def _check_page(self, prefix: str, episode: Episode) -> None:
        said = self.cleaned_data
        if said.get(f"{prefix}of") != episode.code or Seen.read(said.get(f"{prefix}seen") or "") is None:
            raise forms.ValidationError(
                "The fingers of this visit are others than when the page was opened. Open it again.", "other-fingers"
            )

    def _check_next(self, prefix: str) -> None:
        after = self.cleaned_data.get(f"{prefix}after")
        if after == AfterVisit.REVIEW and not self._spoilt_or_said(f"{prefix}in_days"):
            self.add_error(f"{prefix}in_days", forms.ValidationError("Say in how many days.", "review-days"))
        if after == AfterVisit.REFER_BACK and not self._spoilt_or_said(f"{prefix}received_by"):
            self.add_error(f"{prefix}received_by", forms.ValidationError("Name who takes over.", "receiver-missing"))

    def _spoilt_or_said(self, name: str) -> bool:
        return name in self.errors or bool(self.cleaned_data.get(name))

    def looks(self) -> list[Look]:
        """What was found of each digit, as `actions.visits.record` takes it."""
        return [
            self._look(prefix, subject)
            for prefix, subject in zip(self.prefixes, self.occasion.subjects, strict=True)
        ]  # fmt: skip

    def _look(self, prefix: str, subject: Subject) -> Look:
        said = self._of_digit(prefix)
        return Look(
            subject.episode,
            AfterVisit(said["after"]),
            seen=Seen.read(said["seen"]),
            facts=_facts(said, subject.episode),
            findings=_findings(said),
            started=[ActivityKind(kind) for kind in said.get("started", ())],
            in_days=said["in_days"],
            minutes=said["minutes"],
            received_by=said["received_by"],
        )

    def _of_digit(self, prefix: str) -> dict[str, Any]:
        return {
            name.removeprefix(prefix): value for name, value in self.cleaned_data.items() if name.startswith(prefix)
        }

    def common(self) -> dict[str, Any]:
        """The rest of what `actions.visits.record` takes."""
        said, kept = self.cleaned_data, self.kept()
        return {
            "on": said["on"], "source": Source(said["source"]), "reported_by": said["reported_by"],
            "taught": said["taught"], "note": said["note"], "appointment": kept, "meets": self.met(kept),
            "version": said["version"] if self.occasion.appointment else None,
        }  # fmt: skip

    def kept(self) -> Appointment | None:
        """The appointment of the address, or the one that was chosen."""
        chosen = self.cleaned_data.get("appointment")
        return self.occasion.appointment or next((row for row in self.occasion.of_today if row.code == chosen), None)

    def met(self, kept: Appointment | None) -> list[FollowUp]:
        served = _served(kept)
        chosen = [self.due[name] for name in self.cleaned_data.get("meets", ())]
        return [row for row in chosen if row.pk not in served]


def first_values(occasion: Occasion, today: date) -> dict[str, Any]:
    """What the page holds before anything is typed."""
    appointment = occasion.appointment
    return {
        "on": min(appointment.on, today) if appointment else today,
        "version": appointment.version if appointment else None,
    }


def _first(subject: Subject) -> dict[str, Any]:
    episode = subject.episode
    return {"of": episode.code, "seen": str(subject.seen), "stitches_in": episode.stitches_in, "minutes": 20}


def _since(episodes: Sequence[Episode]) -> date | None:
    """The surgery date where all the digits have the same."""
    days = {episode.surgery_on for episode in episodes}
    return days.pop() if len(days) == 1 else None


def _served(appointment: Appointment | None) -> set[int]:
    return {purpose.follow_up_id for purpose in appointment.purposes.all()} if appointment else set()


def _facts(said: dict[str, Any], episode: Episode) -> dict[str, Any]:
    """Corrections of the episode: a number that was emptied is no correction."""
    facts = {name: said[name] for name in ("suture", "stitches_in") if said.get(name) not in (None, "")}
    return {name: value for name, value in facts.items() if value != getattr(episode, name)}


def _findings(said: dict[str, Any]) -> list[dict[str, Any]]:
    found: list[dict[str, Any]] = []
    counts = {name: said.get(name) for name in ("stitches_out", "stitches_left")}
    if any(value is not None for value in counts.values()):
        found.append({"kind": FindingKind.STITCHES, "confirmed_full": said["confirmed_full"], **counts})
    if said["wound"]:
        found.append({"kind": FindingKind.WOUND, "wound": said["wound"]})
    if said.get("trim"):
        found.append({"kind": FindingKind(said["trim"])})
    if said["red_flag"]:
        found.append({"kind": FindingKind.RED_FLAG, "note": said["red_flag"]})
    return found
