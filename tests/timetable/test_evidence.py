"""What findings prove: fully out, closed, open again, to be trimmed. Common practice."""

import pytest

from caseload.timetable.evidence import Evidence, is_vouched_for, read_evidence
from caseload.timetable.facts import Finding
from caseload.timetable.terms import Source, Suture, WoundState
from tests.timetable.builders import (
    PATIENT,
    PHOTO,
    REPORTED,
    after,
    episode,
    order,
    out_and_closed,
    red_flag,
    stitches,
    trim_needed,
    trimmed,
    wound,
)

D3, D12, D14, D16, D20 = (after(days) for days in (3, 12, 14, 16, 20))
NOT_CLOSED, CONCERN = WoundState.NOT_CLOSED, WoundState.CONCERN


def proven(*findings: Finding, **facts: object) -> Evidence:
    return read_evidence(episode(findings=findings, **facts))


def on(finding: Finding | None) -> object:
    return finding and finding.on


@pytest.mark.parametrize(
    ("suture", "to_remove"),
    [(Suture.NON_ABSORBABLE, True), (Suture.UNKNOWN, True), (Suture.ABSORBABLE, False), (Suture.NONE, False)],
)
def test_which_sutures_must_come_out(suture: Suture, to_remove: bool) -> None:
    assert proven(suture=suture).to_remove is to_remove
    assert proven(wound(D3), suture=suture).to_remove is to_remove


def test_an_order_to_take_stitches_out_makes_any_suture_one_that_must() -> None:
    ordered = order("stitches-out", earliest=10, target=12, latest=14)
    assert proven(suture=Suture.ABSORBABLE, instructions=(ordered,)).to_remove
    assert not proven(suture=Suture.ABSORBABLE, instructions=(order("driving", from_day=9),)).to_remove


@pytest.mark.parametrize("source", [Source.SEEN, REPORTED, PHOTO])
def test_a_full_removal_is_one_whoever_saw_it(source: Source) -> None:
    assert on(proven(stitches(D12, source=source)).removal) == D12


def test_the_patients_word_removes_nothing_even_countersigned() -> None:
    assert proven(stitches(D12, source=PATIENT, countersigned_on=D14)).removal is None
    assert not is_vouched_for(stitches(D12, source=PATIENT, countersigned_on=D14))


@pytest.mark.parametrize(
    ("put_in", "out", "left", "sure", "full"),
    [
        (4, 4, 0, False, True),
        (4, 2, 2, False, False),
        (4, 2, 0, False, False),
        (4, 2, 0, True, True),
        (4, 5, 0, False, False),
        (None, 2, 0, False, True),
        (None, 2, 1, True, False),
        (0, 0, 0, False, True),
    ],
)
def test_fully_out_is_none_left_and_counts_that_agree(
    put_in: int | None, out: int, left: int, sure: bool, full: bool
) -> None:
    evidence = proven(stitches(D12, out, left, confirmed_full=sure), stitches_in=put_in)
    assert (evidence.removal is not None) is full and (evidence.partial is None) is full


def test_what_is_left_unsaid_is_not_none_left() -> None:
    assert proven(stitches(D12, left=None)).removal is None


def test_counts_add_up_over_removals() -> None:
    evidence = proven(stitches(D12, 2, 2), stitches(D16, 2, 0, ref="s2"), stitches_in=4)
    assert on(evidence.removal) == D16 and evidence.partial is None
    assert on(evidence.partials[0].finding) == D12 and on(evidence.partials[0].ended_by) == D16


def test_an_uncounted_removal_counts_for_nothing() -> None:
    assert proven(stitches(D12, None, 0), stitches_in=4).removal is None


def test_counts_that_disagree_are_shown() -> None:
    assert proven(stitches(D12, 2, 0), stitches_in=4).partial.counts == (4, 2)
    assert proven(stitches(D12, 2, 2), stitches_in=4).partial.counts is None


def test_a_second_look_at_a_full_removal_changes_neither_its_day_nor_its_counts() -> None:
    for out in (0, 4):
        evidence = proven(stitches(D12, 4), stitches(D14, out, ref="s2"), stitches_in=4)
        assert on(evidence.removal) == D12


def test_a_stitch_found_later_undoes_the_removal() -> None:
    evidence = proven(*out_and_closed(D12), stitches(D14, 0, 1, ref="s2"), stitches_in=4)
    assert evidence.removal is None and on(evidence.partial.finding) == D14
    assert evidence.closed is None and not evidence.removal_counts
    again = proven(stitches(D12), stitches(D14, 0, 1, ref="s2"), stitches(D16, 1, 0, ref="s3", confirmed_full=True))
    assert on(again.removal) == D16


def test_findings_count_in_the_order_of_their_days_then_of_recording_then_as_given() -> None:
    late = wound(D12, NOT_CLOSED, ref="w2", recorded_on=D16)
    assert proven(late, wound(D14), suture=Suture.NONE).closed is not None
    assert proven(late, wound(D12, recorded_on=D14)).unclosed == late
    assert proven(late, wound(D12)).unclosed == late
    assert proven(wound(D12), wound(D12, NOT_CLOSED, ref="w2")).closed is None
    assert proven(wound(D12, NOT_CLOSED, ref="w2"), wound(D12), suture=Suture.NONE).closed is not None


@pytest.mark.parametrize(
    ("said", "counts"),
    [({}, True), ({"source": REPORTED}, False), ({"source": REPORTED, "countersigned_on": D14}, True)],
)
def test_a_removal_counts_once_somebody_here_vouches_for_it(said: dict[str, object], counts: bool) -> None:
    assert proven(stitches(D12, **said)).removal_counts is counts


@pytest.mark.parametrize(
    ("seen_on", "state", "source", "counts"),
    [
        (D12, WoundState.CLOSED, Source.SEEN, True),
        (D14, WoundState.CLOSED, Source.SEEN, True),
        (D3, WoundState.CLOSED, Source.SEEN, False),
        (D14, NOT_CLOSED, Source.SEEN, False),
        (D14, WoundState.CLOSED, REPORTED, False),
    ],
)
def test_a_wound_seen_closed_afterwards_vouches_for_a_reported_removal(
    seen_on: object, state: WoundState, source: Source, counts: bool
) -> None:
    evidence = proven(stitches(D12, source=REPORTED), wound(seen_on, state, source=source))
    assert evidence.removal_counts is counts and (evidence.closed is not None) is counts


def test_a_second_look_vouches_for_a_reported_removal() -> None:
    evidence = proven(stitches(D12, source=REPORTED), stitches(D14, 0, ref="s2"))
    assert evidence.removal_counts and on(evidence.removal) == D12


@pytest.mark.parametrize("source", [REPORTED, PHOTO, PATIENT])
def test_good_news_of_a_wound_counts_only_if_vouched_for(source: Source) -> None:
    assert proven(wound(D14, source=source), suture=Suture.NONE).wounds == ()
    signed = proven(wound(D14, source=source, countersigned_on=D16), suture=Suture.NONE)
    assert (signed.closed is None) is (source is PATIENT)


@pytest.mark.parametrize("state", [NOT_CLOSED, CONCERN])
@pytest.mark.parametrize("source", [Source.SEEN, REPORTED, PHOTO])
def test_bad_news_of_a_wound_counts_unless_only_the_patient_says_so(source: Source, state: WoundState) -> None:
    evidence = proven(wound(D12), wound(D14, state, ref="w2", source=source), suture=Suture.NONE)
    assert evidence.closed is None and on(evidence.unclosed) == on(evidence.reopened) == D14
    assert proven(wound(D12), wound(D14, state, ref="w2", source=PATIENT), suture=Suture.NONE).closed is not None


def test_the_first_day_of_the_closed_spell_that_stands_is_kept() -> None:
    evidence = proven(wound(D3), wound(D12, ref="w2"), suture=Suture.ABSORBABLE)
    assert on(evidence.closed) == D3 and evidence.reopened is None and evidence.unclosed is None
    evidence = proven(wound(D3), wound(D12, CONCERN, ref="w2"), wound(D14, ref="w3"), suture=Suture.NONE)
    assert on(evidence.closed) == D14 and on(evidence.reopened) == D12 and evidence.unclosed is None


def test_the_finding_that_ended_the_last_spell_is_kept_not_the_ones_after_it() -> None:
    evidence = proven(wound(D3), wound(D12, CONCERN, ref="w2"), wound(D14, CONCERN, ref="w3"), suture=Suture.NONE)
    assert on(evidence.reopened) == D12 and on(evidence.unclosed) == D14


def test_a_wound_never_closed_did_not_open_again() -> None:
    assert proven(wound(D12, CONCERN), suture=Suture.NONE).reopened is None


@pytest.mark.parametrize(("closed_on", "counts"), [(D3, False), (D12, True), (D14, True)])
def test_a_wound_still_held_by_stitches_is_not_closed(closed_on: object, counts: bool) -> None:
    evidence = proven(wound(closed_on), stitches(D12))
    assert (evidence.closed is not None) is counts and (evidence.held is None) is counts


def test_a_wound_is_held_while_stitches_are_in_and_a_later_concern_overrules_it() -> None:
    assert on(proven(wound(D14)).held) == D14
    assert proven(wound(D14), wound(D16, CONCERN, ref="w2")).held is None
    assert proven(wound(D14), suture=Suture.ABSORBABLE).held is None


def test_a_trim_is_needed_until_somebody_here_trims() -> None:
    assert on(proven(trim_needed(D12)).trim) == D12
    assert proven(trim_needed(D12), trimmed(D12)).trim is None
    assert proven(trim_needed(D12, source=REPORTED), trimmed(D14, source=REPORTED)).trim is not None
    assert proven(trim_needed(D12), trimmed(D14, source=REPORTED, countersigned_on=D16)).trim is None
    assert proven(trim_needed(D12, source=PATIENT)).trims == ()


def test_trimming_comes_after_the_mark() -> None:
    evidence = proven(trimmed(D12), trim_needed(D14), trim_needed(D16, ref="t3"), trimmed(D20, ref="t4"))
    assert [(on(needed), on(done)) for needed, done in evidence.trims] == [(D14, D20), (D16, D20)]
    assert on(proven(trimmed(D12), trim_needed(D14)).trim) == D14


@pytest.mark.parametrize("source", Source)
def test_a_red_flag_stands_whoever_gave_it_until_it_is_closed(source: Source) -> None:
    assert proven(red_flag(D12, source=source)).red_flags == (red_flag(D12, source=source),)
    assert proven(red_flag(D12, source=source, closed_on=D12)).red_flags == ()


def test_nothing_is_proven_without_findings() -> None:
    assert proven() == Evidence(to_remove=True) and proven(suture=Suture.NONE) == Evidence(to_remove=False)
    assert proven().partial is None and proven().trim is None
