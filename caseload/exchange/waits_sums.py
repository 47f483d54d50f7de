"""The statistics of a list of waits as one JSON object: what the `waits` command prints."""

from typing import Any, Final

from caseload.exchange.waits_list import WaitsList
from caseload.waits import compare, competing, proportion, survival
from caseload.waits.figures import NO_DAY
from caseload.waits.rows import SEEN, WAITING, Waits
from caseload.waits.terms import FEWEST

REFUSED: Final = (
    f"Fewer than {FEWEST} waits: here are the numbers, and no curve, because one through so few says nothing."
)
METHODS: Final = {
    "curve": survival.METHOD,
    "median": survival.METHOD_CENTILE,
    "centile_92": survival.METHOD_CENTILE,
    "restricted_mean": survival.METHOD_MEAN,
    "within_target": f"read off the curve, with its limits; completed only: {proportion.METHOD}",
    "incidence": competing.METHOD,
    "log_rank": f"{compare.METHOD}, over the groups with at least {FEWEST} waits",
}


def waits_body(listed: WaitsList, target: int | None, *, grouped: bool) -> dict[str, Any]:
    """`target` in days, None for none. `refused` says why there is no curve, `lines_refused` how many are not in it."""
    body = _sums(listed.waits, target)
    refused = body.pop("refused")
    if grouped:
        body["groups"] = {value: _sums(waits, target) for value, waits in listed.groups.items()}
        body["log_rank"] = _log_rank(listed.groups)
    return body | {"refused": refused, "lines_refused": len(listed.refused), "method": METHODS}


def _sums(waits: Waits, target: int | None) -> dict[str, Any]:
    by_word = {word: int(waits.number[waits.ended == place].sum()) for place, word in enumerate(waits.words)}
    number = sum(by_word.values())
    few = number < FEWEST
    by_day = None if few else survival.tally(waits)
    curve = survival.kaplan_meier(by_day) if by_day else None
    return {
        "waits": number,
        "seen": by_word[waits.words[SEEN]],
        "waiting": by_word[waits.words[WAITING]],
        "competing": {word: by_word[word] for word in waits.words[SEEN + 1 :]},
        "curve": [step._asdict() for step in survival.steps(curve)] if curve else [],
        "median": _day(curve, survival.MEDIAN),
        "centile_92": _day(curve, survival.NINETY_SECOND),
        "restricted_mean": survival.restricted_mean(curve) if curve else None,
        "within_target": None if target is None else _within(waits, curve, target),
        "incidence": _incidence(by_day) if by_day else {},
        "refused": REFUSED if few else None,
    }


def _day(curve: survival.Curve | None, seen: float) -> dict[str, int | None]:
    return (survival.centile(curve, seen) if curve else NO_DAY)._asdict()


def _within(waits: Waits, curve: survival.Curve | None, target: int) -> dict[str, Any]:
    """From the curve: null where nobody was watched as long as the target, and not everybody had been seen."""
    seen = waits.ended == SEEN
    kept, of = (int(waits.number[those].sum()) for those in (seen & (waits.days <= target), seen))
    by_target = survival.seen_by(curve, target) if curve else None
    share, lower, upper = by_target or (None, None, None)
    number, of, part, least, most = proportion.wilson(kept, of)
    completed = {"count": number, "of": of, "share": part, "lower": least, "upper": most}
    return {"target": target, "share": share, "lower": lower, "upper": upper, "completed_only": completed}


def _incidence(by_day: survival.ByDay) -> dict[str, list[dict[str, Any]]]:
    found = competing.incidence(competing.aalen_johansen(by_day))
    return {word: [reached._asdict() for reached in curve] for word, curve in found.items()}


def _log_rank(groups: dict[str, Waits]) -> dict[str, Any] | None:
    enough = {value: survival.tally(waits) for value, waits in groups.items() if waits.number.sum() >= FEWEST}
    return compare.log_rank(enough)._asdict() if len(enough) > 1 else None
