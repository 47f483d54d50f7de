"""What pages cost as the record grows: a picture of milliseconds against open episodes, both in powers of ten."""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from math import log10
from typing import Any, Final

SHOWN: Final = {
    "overdue, 50 rows, page 1": "overdue", "caseload, page 1": "caseload", "to book": "to book",
    "search: name part": "search", "episode's record": "record", "diary, one day": "diary",
    "trail, newest": "trail", "waits, twelve months": "waits",
}  # fmt: skip
"""Pages of the picture, as it names them."""
NAMES: Final = {"sqlite": "SQLite", "postgresql": "PostgreSQL"}
LEFT, TOP, WIDTH, HEIGHT = 60, 40, 240, 260
LOWEST, HIGHEST = 10, 10_000
"""Milliseconds."""
STYLE: Final = (
    "text{font:13px sans-serif;fill:#1c2530}path{fill:none;stroke:#1f5f8b;stroke-width:2}circle{fill:#1f5f8b}"
    ".line{stroke:#c3cad2}.ground{fill:#fff}@media(prefers-color-scheme:dark){text{fill:#e8edf2}"
    "path{stroke:#7fb8e0}circle{fill:#7fb8e0}.line{stroke:#3a444e}.ground{fill:#10161c}}"
)
Lines = Mapping[str, list[tuple[int, float]]]


def chart(found: Iterable[dict[str, Any]], of: str) -> str:
    """One panel for each database, one line for each page of one person; names stand where the lines end."""
    by: dict[str, dict[str, list[tuple[int, float]]]] = defaultdict(lambda: defaultdict(list))
    for row in found:
        if row["name"] in SHOWN and row["of"] == of:
            by[row["database"]][SHOWN[row["name"]]].append((row["size"], row["here"][0]))
    panels = [_panel(NAMES[name], lines, LEFT + place * 420) for place, (name, lines) in enumerate(by.items())]
    title = "What a page takes, by open episodes"
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {max(1, len(by)) * 420 + 20} 350" role="img">'
        f'<title>{title}</title><style>{STYLE}</style><rect class="ground" width="100%" height="100%"/>'
        f"{''.join(panels)}</svg>\n"
    )


def _panel(title: str, lines: Lines, left: int) -> str:
    sizes = sorted({size for points in lines.values() for size, _ in points})
    stretch = log10(sizes[-1] / sizes[0]) or 1
    across = {size: left + WIDTH * log10(size / sizes[0]) / stretch for size in sizes}
    parts = [f'<text x="{left}" y="20" font-weight="bold">{title}: milliseconds by open episodes</text>']
    for power in range(round(log10(LOWEST)), round(log10(HIGHEST)) + 1):
        y = _down(10**power)
        parts.append(f'<line class="line" x1="{left}" x2="{left + WIDTH}" y1="{y}" y2="{y}"/>'
                     f'<text x="{left - 8}" y="{y + 4}" text-anchor="end">{10**power:,}</text>')  # fmt: skip
    parts += [f'<text x="{x:.0f}" y="{TOP + HEIGHT + 22}" text-anchor="middle">{s:,}</text>' for s, x in across.items()]
    ends = _apart({name: _down(max(points)[1]) for name, points in lines.items()})
    for name, points in lines.items():
        drawn = [(across[size], _down(value)) for size, value in sorted(points)]
        parts.append(f'<path d="M{" L".join(f"{x:.0f} {y}" for x, y in drawn)}"/>')
        parts += [f'<circle cx="{x:.0f}" cy="{y}" r="3"/>' for x, y in drawn]
        parts.append(f'<text x="{left + WIDTH + 10}" y="{ends[name] + 4}">{name}</text>')
    return "".join(parts)


def _down(milliseconds: float) -> int:
    share = log10(max(LOWEST, milliseconds) / LOWEST) / log10(HIGHEST / LOWEST)
    return round(TOP + HEIGHT * (1 - share))


def _apart(wanted: dict[str, int]) -> dict[str, int]:
    """Names in the order of their lines, none over another."""
    found, last = {}, -100
    for name, y in sorted(wanted.items(), key=lambda item: item[1]):
        last = max(y, last + 15)
        found[name] = last
    return found
