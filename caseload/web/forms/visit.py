"""The form of a visit: what is common to it, and a part for each digit that is looked at."""

from collections.abc import Iterator, Sequence
from datetime import date
from typing import Any

from django import forms
from django.forms.boundfield import BoundField
from django.utils.translation import gettext as _

from caseload.actions.closing import wound_is_open
from caseload.actions.reviews import BY_FINDING
from caseload.actions.visits import Look
from caseload.errors import Refusal
from caseload.measures.bodies import Grip
from caseload.measures.terms import MeasureKind
from caseload.models import Appointment, Episode, FollowUp, Patient
from caseload.reads.examining import Occasion
from caseload.reads.marks import Seen
from caseload.timetable.activities import is_child
from caseload.timetable.terms import AfterVisit, Source, WoundState
from caseload.web.forms.fields import DayField, LineField
from caseload.web.forms.places import name_of, say_what
from caseload.web.forms.record import RecordForm, words
from caseload.web.forms.visit_fields import fields_of_digit, grip_waits, kinds_of_digits, measure_fields
from caseload.web.forms.visit_parts import Part, Wrong, filled
from caseload.web.forms.visit_said import Measured, doubts_of, look_of, read_measure
from caseload.wording.appointments import say_time
from caseload.wording.measures import say_doubt
from caseload.wording.record import say_hand

NAMED_OTHERWISE = {"how": "after", "follow_ups": "meets", "outcome": "appointment"}
"""Fields of the page by the name that a refusal of an act has for them."""
NO_APPOINTMENT = ""


class VisitForm(RecordForm):
    """Fields of the n-th digit bear the prefix `d1_`, `d2_`…; QuickDASH is of the person and stands once."""

    on = DayField(label="Day of the visit", help_text="As you write it: today, yesterday, 3/4, -2.")
    source = forms.ChoiceField(
        label="How it was looked at", choices=lambda: words(Source), widget=forms.RadioSelect, initial=Source.SEEN
    )
    reported_by = LineField(label="Reported by", most=120, required=False, help_text="The clinician, for a report.")
    appointment = forms.ChoiceField(label="Appointment", widget=forms.RadioSelect, required=False)
    meets = forms.MultipleChoiceField(
        label="What this visit completes", widget=forms.CheckboxSelectMultiple, required=False
    )
    taught = LineField(label="What was taught", most=500, required=False)
    note = LineField(label="Note", most=1000, required=False)

    def __init__(
        self, data: Any = None, *, occasion: Occasion, today: date, namesakes: Sequence[Patient] = (), **options: Any
    ) -> None:
        self.occasion, self.asked, self.today = occasion, _asked(occasion), today
        super().__init__(data, today=today, **options)
        if namesakes:
            self.ask_birth_date(occasion.patient.born_on)
        self._offer_appointments()
        self._offer_follow_ups(today)
        for prefix, (subject, kinds) in self.asked.items():
            self._add(prefix, fields_of_digit(subject, kinds, today))
            own = {"of": subject.episode.code, "seen": str(subject.seen), "stitches_in": subject.episode.stitches_in}
            self.initial.update({f"{prefix}{name}": value for name, value in own.items()})
        if not is_child(occasion.patient.born_on, today):
            self._add("", measure_fields(MeasureKind.QUICKDASH, occasion.episodes[0]))
        self.count_days(today, _since(occasion.episodes))

    def _add(self, prefix: str, fields: dict[str, forms.Field]) -> None:
        self.fields.update({prefix + name: field for name, field in fields.items()})

    def _offer_appointments(self) -> None:
        offered = self.occasion.of_today
        if not offered:
            del self.fields["appointment"]
            return
        choices = [(row.code, f"for the one at {say_time(row)}") for row in offered]
        self.fields["appointment"].choices = [*choices, (NO_APPOINTMENT, "without an appointment")]  # type: ignore[attr-defined]
        self.initial.setdefault("appointment", offered[0].code)

    def _offer_follow_ups(self, today: date) -> None:
        """Those that no finding must complete and that the appointment does not serve anyway. Who comes without one
        comes for what is open or late."""
        served = _served(self.occasion.appointment)
        offered = (row for row in self.occasion.due if row.kind not in BY_FINDING and row.pk not in served)
        self.due = {name_of(row): row for row in offered}
        if not self.due:
            del self.fields["meets"]
            return
        self.fields["meets"].choices = [(name, say_what(row)) for name, row in self.due.items()]  # type: ignore[attr-defined]
        if not (self.occasion.appointment or self.occasion.of_today):  # else it was booked for something
            begun = [name for name, row in self.due.items() if row.earliest_on <= today and not row.provisional]
            self.initial.setdefault("meets", begun)

    # ---- how the page shows it ----

    def parts(self) -> list[Part]:
        return [
            Part(subject, prefix, kinds, grip_waits(subject, self.today), {
                name.removeprefix(prefix): self[name] for name in self.fields if name.startswith(prefix)
            })
            for prefix, (subject, kinds) in self.asked.items()
        ]  # fmt: skip

    def dash(self) -> list[BoundField]:
        return [self[name] for name in self.fields if name.startswith("dash_")]

    def has_dash(self) -> bool:
        return any(map(filled, self.dash()))

    def wrongs(self) -> Iterator[Wrong]:
        """Everything that is wrong, each naming its digit where there are several."""
        for sentence in self.non_field_errors():
            yield Wrong("", "", str(sentence))
        for bound in self:
            for sentence in bound.errors:
                yield Wrong("" if bound.is_hidden else bound.auto_id, self._named(bound), str(sentence))

    def _named(self, bound: BoundField) -> str:
        prefix = next((prefix for prefix in self.asked if bound.name.startswith(prefix)), "")
        if not prefix or len(self.asked) == 1:
            return str(bound.label)
        return f"{say_hand(self.asked[prefix][0].episode).capitalize()}, {bound.label}"

    def refuse(self, refusal: Refusal) -> None:
        """Show a refusal at the field of the digit that it is about, or on top with the name of the digit."""
        said, code = str(refusal.details.get("field") or ""), refusal.details.get("episode")
        name = NAMED_OTHERWISE.get(said, said)
        prefix, episode = next(((own, row) for own, row in self._episodes() if row.code == code), ("", None))
        field = next((each for each in (prefix + name, name) if each in self.fields), None)
        sentence = refusal.message
        if field is None and episode and len(self.asked) > 1:
            sentence = f"{say_hand(episode).capitalize()}: {sentence}"
        self.add_error(field, forms.ValidationError(sentence, refusal.code))

    def _episodes(self) -> Iterator[tuple[str, Episode]]:
        return ((prefix, subject.episode) for prefix, (subject, _) in self.asked.items())

    # ---- what was typed ----

    def clean(self) -> dict[str, Any]:
        self.measured: dict[str, Measured] = {prefix: {} for prefix in self.asked}
        for prefix, episode in self._episodes():
            self._check_page(prefix, episode)
            self._check_next(prefix)
            for kind in self.asked[prefix][1]:
                self._measure(prefix, kind, episode, prefix)
        if self.dash():
            first, episode = next(self._episodes())
            self._measure(first, MeasureKind.QUICKDASH, episode, "")
        return self.cleaned_data

    def _check_page(self, prefix: str, episode: Episode) -> None:
        said = self.cleaned_data
        if said.get(f"{prefix}of") != episode.code or Seen.read(said.get(f"{prefix}seen") or "") is None:
            raise forms.ValidationError(
                "The fingers of this visit are others than when the page was opened. Open it again.", "other-fingers"
            )

    def _check_next(self, prefix: str) -> None:
        after, said = self.cleaned_data.get(f"{prefix}after"), self.cleaned_data
        days, receiver = f"{prefix}in_days", f"{prefix}received_by"
        if after == AfterVisit.REVIEW and not said.get(days) and days not in self.errors:
            self.add_error(days, forms.ValidationError("Say in how many days.", "review-days"))
        if after == AfterVisit.REFER_BACK and not said.get(receiver) and receiver not in self.errors:
            self.add_error(receiver, forms.ValidationError("Name who takes over.", "receiver-missing"))

    def _measure(self, owner: str, kind: MeasureKind, episode: Episode, prefix: str) -> None:
        """Read one measure from the fields of this prefix; it belongs to the digit of the prefix `owner`."""
        try:
            body = read_measure(kind, episode, self.cleaned_data, prefix)
        except Refusal as refusal:
            self.refuse(refusal)
        else:
            self.measured[owner] |= {kind: body} if body else {}

    def looks(self) -> list[Look]:
        """What was found of each digit, as `actions.visits.record` takes it."""
        return [look_of(episode, self._of_digit(prefix), self.measured[prefix]) for prefix, episode in self._episodes()]

    def _of_digit(self, prefix: str) -> dict[str, Any]:
        said = self.cleaned_data
        return {name.removeprefix(prefix): value for name, value in said.items() if name.startswith(prefix)}

    def doubts(self) -> list[str]:
        """What is asked back, each question naming its digit where there are several."""
        several = len(self.asked) > 1
        return [
            f"{say_hand(episode).capitalize()}: {question}" if several else question
            for prefix, episode in self._episodes()
            for question in self._questions(prefix, episode)
        ]

    def _questions(self, prefix: str, episode: Episode) -> Iterator[str]:
        yield from map(say_doubt, doubts_of(episode, self.measured[prefix]))
        found = self.cleaned_data.get(f"{prefix}wound")
        closed = found == WoundState.CLOSED
        discharges = self.cleaned_data[f"{prefix}after"] == AfterVisit.DISCHARGE
        if discharges and not closed and (found or wound_is_open(episode)):
            yield _("The wound is not recorded as closed. Is the discharge right?")
        if closed and MeasureKind.INFECTION in self.measured[prefix]:
            yield _("An infection is recorded, and the wound as closed, which alone opens its gates. Is it closed?"
                    " What has to wait for the infection needs an instruction.")  # fmt: skip
        waits = grip_waits(self.asked[prefix][0], self.today, closed=closed)
        grip = self.measured[prefix].get(MeasureKind.GRIP)
        if waits and isinstance(grip, Grip) and grip.trials:
            yield _("The grip was tried although tight grip was not open: %(why)s. Is that right?") % {"why": waits}

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


def first_values(appointment: Appointment | None, today: date) -> dict[str, Any]:
    """What the page holds of the visit before anything is typed."""
    return {"on": min(appointment.on, today), "version": appointment.version} if appointment else {"on": today}


def _asked(occasion: Occasion) -> dict[str, Any]:
    """By prefix: the digit, and what is measured of it."""
    kinds = kinds_of_digits(occasion.episodes)
    pairs = zip(occasion.subjects, kinds, strict=True)
    return {f"d{place}_": pair for place, pair in enumerate(pairs, 1)}


def _since(episodes: Sequence[Episode]) -> date | None:
    """The surgery date where all the digits have the same."""
    days = {episode.surgery_on for episode in episodes}
    return days.pop() if len(days) == 1 else None


def _served(appointment: Appointment | None) -> set[int]:
    return {purpose.follow_up_id for purpose in appointment.purposes.all()} if appointment else set()
