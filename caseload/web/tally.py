"""The counts above the overdue list: by headline, owner, site and therapist, each leading to its rows."""

from collections.abc import Mapping
from html import escape
from typing import NamedTuple

from django.utils.html import conditional_escape
from django.utils.safestring import SafeString, mark_safe

from caseload.reads.names import Named, Names
from caseload.reads.overdue import Counts, Share
from caseload.timetable.terms import Headline, Owner
from caseload.web import marks
from caseload.web.forms.filters import NOBODY
from caseload.web.paging import with_changes
from caseload.wording import label
from caseload.wording.speech import speech


class Count(NamedTuple):
    """So many episodes; `href` shows them."""

    name: str | SafeString
    episodes: int
    href: str


class Part(NamedTuple):
    """The open episodes of a site or therapist, as those that need somebody and those in hand."""

    name: str
    share: Share
    href: str


class Tally(NamedTuple):
    """`headlines` and `in_hand` add up to `open`, and so do the shares of the sites, and those of the therapists."""

    headlines: list[Count]
    owners: list[Count]
    sites: list[Part]
    therapists: list[Part]
    needing: int
    in_hand: int
    open: int

    def headline_rows(self) -> SafeString:
        return mark_safe("".join(_count(each, leads=each.episodes > 0) for each in self.headlines))

    def owner_rows(self) -> SafeString:
        return mark_safe("".join(_count(each, leads=True) for each in self.owners))

    def site_rows(self) -> SafeString:
        return mark_safe("".join(map(_part, self.sites)))

    def therapist_rows(self) -> SafeString:
        return mark_safe("".join(map(_part, self.therapists)))


def tally(counts: Counts, names: Names, every: str = "") -> Tally:
    """`every` is the therapist that asks for everybody's rows."""
    whole: dict[str, str | None] = {"therapist": every}
    say = speech()
    by_headline, by_owner = counts.by("headline"), counts.by("owner")
    return Tally(
        [
            Count(mark_safe(marks.headline(word, say)), by_headline[word], with_changes(whole, headline=word))
            for word in Headline
        ],
        [Count(label(word), by_owner[word], with_changes(whole, owner=word)) for word in Owner],
        _parts("site", counts.shares("site_id"), names.sites, whole),
        _parts("therapist", counts.shares("therapist_id"), names.therapists, {}),
        counts.needing,
        counts.in_hand,
        counts.open,
    )


def _count(each: Count, *, leads: bool) -> str:
    name, none = conditional_escape(each.name), "" if each.episodes else ' class="none"'
    said = f'<a href="{escape(each.href)}">{name}</a>' if leads else f"<span>{name}</span>"
    return f"<li{none}>{said} <b>{each.episodes}</b></li>"


def _part(each: Part) -> str:
    needing, in_hand = each.share
    return (
        f'<tr><th scope="row"><a href="{escape(each.href)}">{escape(each.name)}</a></th>'
        f'<td class="num"><b>{needing}</b></td><td class="num">{in_hand}</td>'
        f'<td class="num">{each.share.open}</td></tr>'
    )


def _parts(
    field: str, shares: dict[object, Share], known: tuple[Named, ...], whole: Mapping[str, str | None]
) -> list[Part]:
    parts = [
        Part(each.name, shares[each.id], with_changes(whole, **{field: each.code}))
        for each in known
        if each.id in shares
    ]
    if None in shares:
        parts.append(Part("nobody yet", shares[None], with_changes({}, **{field: NOBODY})))
    return parts
