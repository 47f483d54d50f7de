"""What an act would move, for a page whose form has nothing to decide it by: shown before anything is pressed."""

from collections.abc import Callable

from caseload.actions.act import By
from caseload.actions.rehearsal import rehearse
from caseload.errors import Refusal
from caseload.models import Episode
from caseload.web.views.found import episode_at
from caseload.wording import say_move


def foreseen(code: str, doing: Callable[[Episode], object], by: By) -> list[str] | None:
    """Sentences; None where the act would be refused: pressing it says why. A row of its own is rehearsed on, since
    what is undone in the database stays changed in memory."""
    episode = episode_at(code)
    try:
        moved = rehearse(episode, lambda: doing(episode), today=by.today)
    except Refusal:
        return None
    return [say_move(move) for move in moved]
