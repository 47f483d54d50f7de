"""Tables in Markdown, as every benchmark prints what it measured: row by row, so that a long run can be watched."""

from collections.abc import Iterable


def head(*names: str) -> str:
    return f"{line(*names)}\n{line(*['---'] * len(names))}"


def line(*cells: object) -> str:
    return f"| {' | '.join(map(str, cells))} |"


def whole(names: Iterable[str], lines: Iterable[Iterable[object]]) -> str:
    return "\n".join([head(*names), *(line(*cells) for cells in lines)])


def met(is_met: bool) -> str:
    return "yes" if is_met else "**no**"
