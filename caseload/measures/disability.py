"""QuickDASH: how much the arm, shoulder and hand hinder a person, from 0 (not at all) to 100.

Decides the score: (mean of the answered items - 1) x 25, over eleven items answered 1 to 5. At least ten must be
answered; with fewer there is no score (BMC Musculoskeletal Disorders 2006;7:44; the formula as on the scoring sheet).
Copies of that sheet that run its lines together lose the division by the number of answers: the mean is what counts.

Assumes that a change of fewer than about 14 points may mean little: the least difference that matters is given as 14
(9 to 20) by Sorensen 2013 as cited on issh.org, as 6.8 by a study of 2020, and as 16 to 26 in J Hand Ther 2016.

The questions belong to their owner and are not here. The optional modules of four items are not asked.
"""

from typing import Final

from caseload.measures.bodies import QuickDash

ITEMS: Final = 11
LEAST_ANSWERED: Final = 10
LOWEST, HIGHEST = 1, 5


def score(dash: QuickDash) -> float | None:
    """0 to 100; None with fewer than ten answers."""
    answered = [answer for answer in dash.answers if answer is not None]
    if len(answered) < LEAST_ANSWERED:
        return None
    return (sum(answered) / len(answered) - 1) * 25


def unanswered(dash: QuickDash) -> int:
    """How many of the eleven were left out."""
    return ITEMS - sum(answer is not None for answer in dash.answers)
