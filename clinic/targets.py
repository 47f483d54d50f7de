"""A reader of the environment that also knows numbers of days, as targets of waits are set."""

from typing import Any

from environs import Env, EnvError

LONGEST = 3650


def reader() -> Any:
    env = Env()
    env.add_parser("days", days)
    return env


def days(text: str) -> int | None:
    """A number of days; None where the name is set to nothing. Raises EnvError for anything else."""
    if text and not (text.isdecimal() and int(text) <= LONGEST):
        raise EnvError(f"it is a number of days from 0 to {LONGEST}, or nothing")
    return int(text) if text else None
