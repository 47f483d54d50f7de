"""What the trade says of a hand, judged anew from the stored findings and by nothing of the heart.

An oracle for random visits: it says what must hold before anything may be open, never when something opens.
"""

from collections.abc import Iterable, Sequence

from caseload.models import Episode, Finding, Instruction

GATED = frozenset({"scar-massage", "passive-stretch", "soaking", "tight-grip", "heavy-lifting", "heavy-work"})
"""Activities that wait for a closed wound."""
OF_HAND = GATED - {"scar-massage", "passive-stretch"}
"""Those of the whole hand."""


class Digit:
    """The standing findings of one episode in the order of their days, the patient's word left aside."""

    def __init__(self, episode: Episode, ordered: bool, findings: Sequence[Finding]) -> None:
        self.episode = episode
        told = [row for row in findings if row.source != "patient"]
        self.wounds = [row for row in told if row.kind == "wound"]
        self.stitches = [row for row in told if row.kind == "stitches"]
        self.trims = [row for row in told if row.kind in ("trim-needed", "trimmed")]
        self.flags = [row for row in findings if row.kind == "red-flag" and not hasattr(row, "closure")]
        self.to_come_out = episode.suture in ("non-absorbable", "unknown") or ordered

    def may_be_open(self) -> bool:
        """Whether what waits for the wound may be open: closed at the last look that counts, no stitch left, no end."""
        return self._is_closed() and (self.is_out() or not self.to_come_out) and not self._has_ends()

    def may_be_discharged(self) -> bool:
        return not self.flags and (self.is_out() or not self.to_come_out)

    def is_out(self) -> bool:
        """None left at the last look, and since one that left some the numbers added up or somebody confirmed it."""
        put_in, out, whole = self.episode.stitches_in, 0, False
        for row in self.stitches:
            out += row.stitches_out
            adds_up = put_in is None or out == put_in or row.confirmed_full
            whole = row.stitches_left == 0 and (whole or adds_up)
        return whole

    def _is_closed(self) -> bool:
        """Good news counts only if it was seen here or vouched for; bad news always."""
        counting = [row for row in self.wounds if row.wound != "closed" or _is_vouched_for(row)]
        return bool(counting) and counting[-1].wound == "closed"

    def _has_ends(self) -> bool:
        """Ends that were marked for trimming and not trimmed after that."""
        pending = False
        for row in self.trims:
            pending = row.kind == "trim-needed" or (pending and not _is_vouched_for(row))
        return pending


def digits_of(episodes: Iterable[Episode]) -> dict[int, Digit]:
    """Each episode as stored now."""
    found = {}
    for episode in episodes:
        rows = list(Finding.objects.filter(episode=episode).select_related("countersignature", "closure"))
        corrected = {row.corrects_id for row in rows}
        standing = [row for row in rows if row.pk not in corrected and not row.withdraws]
        standing.sort(key=lambda row: (row.on, row.recorded_on, row.first_id or row.pk))
        orders = Instruction.objects.filter(episode=episode, item="stitches-out", withdrawn_at=None)
        found[episode.pk] = Digit(episode, orders.exists(), standing)
    return found


def _is_vouched_for(row: Finding) -> bool:
    return row.source == "seen" or hasattr(row, "countersignature")
