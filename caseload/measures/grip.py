"""Grip strength in kilograms: the mean of the trials, and its share of the other hand.

Decides the arithmetic mean of up to three trials of each hand (common practice), and the share in per cent.

Assumes nothing about what is enough: the sources give no bands, so none are claimed. From memory: a dominant hand is
usually about a tenth stronger than the other, so a share of 100 % is not the same on both sides. A hand that was not
measured has no mean, and without both there is no share. Nor is there one of an other hand that cannot grip at all.
"""

from caseload.measures.bodies import Grip


def mean(trials: tuple[float, ...]) -> float | None:
    """In kilograms; None for no trial."""
    return sum(trials) / len(trials) if trials else None


def share(grip: Grip) -> float | None:
    """The operated hand in per cent of the other; None where either was not measured."""
    own, other = mean(grip.trials), mean(grip.other)
    return 100 * own / other if own is not None and other else None
