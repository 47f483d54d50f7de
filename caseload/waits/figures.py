"""What is said of waits: values, with the method of each named where it is made. Nothing is worked out here.

Shares are between 0 and 1. Days are whole days of the clock. Limits are those of 95 % unless they say otherwise.
"""

from typing import Final, NamedTuple

from caseload.waits.rows import Period
from caseload.waits.terms import Clock


class Step(NamedTuple):
    """The curve from a day on: `still_waiting` is the estimated share of those who would be waiting after it."""

    day: int
    at_risk: int
    seen: int
    still_waiting: float
    se: float
    lower: float
    upper: float


class Day(NamedTuple):
    """The first day by which a share has been seen, with its limits; None where that is not reached."""

    day: int | None
    lower: int | None
    upper: int | None


NO_DAY: Final = Day(None, None, None)


class Tail(NamedTuple):
    """How far a curve can be trusted, in days of the wait; None where there is no such day.

    `last_day`: nobody was watched longer. `thin_from`: from this day to the last, fewer than five were watched.
    `shaky_until`: before that, the last day on which somebody was seen among fewer than five, as may be where most are
    watched late. `emptied_on`: everybody watched on that day was seen, so the curve is at 0 for good, though others are
    watched later.
    """

    last_day: int
    thin_from: int | None
    shaky_until: int | None
    emptied_on: int | None


class Share(NamedTuple):
    """`number` of `of`; share and limits are None of nothing."""

    number: int
    of: int
    share: float | None
    lower: float | None
    upper: float | None


class Reached(NamedTuple):
    """Aalen-Johansen: the estimated share that has ended so by a day."""

    day: int
    value: float


class Compared(NamedTuple):
    """Log-rank over groups: what was seen in each, and what would have been if all waited alike."""

    chi_square: float
    degrees: int
    p: float
    observed: dict[str, int]
    expected: dict[str, float]


class Summary(NamedTuple):
    """The waits of one clock in one period.

    `at_start` waited when it began, `began` in it, `waiting` still wait at its end; `seen` and `competing` (word to
    count) ended in it. at_start + began = seen + all competing + waiting.
    `refused`: "too-few" where there are fewer than five, and then there is no curve and no centile.
    `completed_*` count only who was seen in the period, as a plain list of their waits (Hyndman-Fan type 7): the
    figure that misleads. `within` is of those whose target day fell in the period (waiting or seen, but not those who
    ended otherwise before it), `within_completed` of those seen in it; both None where the clock has no target.
    `at_risk` is the row of numbers under the curve: (day, how many are watched on it), evenly spaced. `left` are the
    marks on it: (day, how many were watched until that day and not seen by then).
    """

    period: Period
    at_start: int
    began: int
    seen: int
    competing: dict[str, int]
    waiting: int
    refused: str
    curve: tuple[Step, ...]
    median: Day
    centile_92: Day
    restricted_mean: float | None
    incidence: dict[str, tuple[Reached, ...]]
    completed_median: float | None
    completed_92: float | None
    within: Share | None
    within_completed: Share | None
    tail: Tail | None = None
    at_risk: tuple[tuple[int, int], ...] = ()
    left: tuple[tuple[int, int], ...] = ()

    @property
    def waits(self) -> int:
        return self.at_start + self.began


class TrendPoint(NamedTuple):
    """One week or month of a p-chart; `signal`: "" or "beyond" (outside its limits) or "run" (eighth in a row or later
    on one side of the mean)."""

    period: Period
    number: int
    of: int
    share: float | None
    lower: float
    upper: float
    signal: str


class Trend(NamedTuple):
    """Within target, of those whose target day fell in each week or month. `mean` is None where nothing fell due."""

    points: tuple[TrendPoint, ...]
    mean: float | None


class FlowPoint(NamedTuple):
    period: Period
    began: int
    seen: int
    waiting: int
    signal: str


class Flow(NamedTuple):
    """How many were seen in each week or month: an XmR chart (individual values and moving range) of `seen`."""

    points: tuple[FlowPoint, ...]
    mean: float | None
    lower: float | None
    upper: float | None
    mean_range: float | None


class FunnelPoint(NamedTuple):
    """One group against the share of all: `beyond` is "", "95" or "99.8", `side` "" or "above" or "below"."""

    key: str
    share: Share
    lower_95: float
    upper_95: float
    lower_998: float
    upper_998: float
    beyond: str
    side: str


class Funnel(NamedTuple):
    """Groups in the order of their names, never by rank. `left_out`: too few to be shown by themselves (key to count).

    `limits` are (size, lower 95, upper 95, lower 99.8, upper 99.8) for drawing. `dispersion` is chi-square over its
    degrees of freedom: well above 1, the groups differ among themselves by more than this chart allows for.
    """

    points: tuple[FunnelPoint, ...]
    overall: float
    limits: tuple[tuple[int, float, float, float, float], ...]
    left_out: dict[str, int]
    dispersion: float | None


class Group(NamedTuple):
    """One site, surgeon, kind of stitches or priority beside the others, with its own figures."""

    key: str
    waits: int
    seen: int
    waiting: int
    refused: str
    median: Day
    centile_92: Day


class Groups(NamedTuple):
    """In the order of their keys; `compared` is None where there are not two groups with five waits each."""

    groups: tuple[Group, ...]
    compared: Compared | None
    funnel: Funnel | None


class Slippage(NamedTuple):
    """Stitches out against their window, of those whose target day fell in the period.

    `early` before the window, `inside` it, `late` after it, `overdue` still in after it, `ahead` still in before that.
    `by_day` counts those that are out by days from the target (negative: before it), `outside` those of them that were
    out before or after their own window. `windows` are the windows that there are, (first, last) day from the target.
    """

    early: int
    inside: int
    late: int
    overdue: int
    ahead: int
    ended_otherwise: int
    by_day: tuple[tuple[int, int], ...]
    outside: tuple[tuple[int, int], ...] = ()
    windows: tuple[tuple[int, int], ...] = ()


class Figures(NamedTuple):
    """All that the page, its files, the report and a filed month say of one clock.

    `before` is the period of the same length before it; `change` compares the two, None where either is too small.
    `groups` by dimension: "site", "surgeon", "suture", "priority", and "therapist" where enough stand behind each.
    `methods` names how each kind of figure was worked out.
    """

    clock: Clock
    now: Summary
    before: Summary
    change: Compared | None
    trend: Trend | None
    flow: Flow
    groups: dict[str, Groups]
    slippage: Slippage | None
    methods: dict[str, str] = {}
