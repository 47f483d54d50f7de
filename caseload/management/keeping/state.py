"""Which migrations a database has had, and which this release knows."""

import tomllib
from collections.abc import Iterable, Iterator
from typing import Final

from django.apps import apps
from django.apps.registry import Apps
from django.conf import settings
from django.core.management import call_command
from django.db import connection
from django.db.backends.base.base import BaseDatabaseWrapper
from django.db.migrations.executor import MigrationExecutor
from django.db.migrations.loader import MigrationLoader
from django.db.migrations.recorder import MigrationRecorder
from django.db.models import Model

from caseload.errors import Refusal

APP: Final = "caseload"
SECOND_FACTORS: Final = "0011_second_factors"
"""From this migration on a backup holds what people sign in with beside their passwords."""


def release() -> str:
    """Which release this is."""
    return str(tomllib.loads((settings.BASE_DIR / "pyproject.toml").read_text())["project"]["version"])


def applied(database: BaseDatabaseWrapper) -> tuple[str, ...]:
    """The names of our migrations that a database has had, in order."""
    return tuple(sorted(name for app, name in MigrationRecorder(database).applied_migrations() if app == APP))


def known() -> frozenset[str]:
    """The names of our migrations in this release."""
    return frozenset(name for app, name in MigrationLoader(None).disk_migrations if app == APP)


def models_at(names: Iterable[str]) -> Iterator[type[Model]]:
    """What is kept, as it was after some migrations: also a database that an upgrade has not reached can be saved."""
    held = set(names)
    there = apps if held == known() else _apps_at(held)
    yield from there.get_app_config(APP).get_models(include_auto_created=True)
    if SECOND_FACTORS in held:
        yield there.get_model("mfa", "Authenticator")


def _apps_at(names: Iterable[str]) -> Apps:
    return _steps().project_state([(APP, name) for name in last_of(names)]).apps


def _steps(database: BaseDatabaseWrapper | None = None) -> MigrationLoader:
    """Every migration by itself, where a newer one does the work of several: a database may stand between two."""
    return MigrationLoader(database, replace_migrations=False)


def refuse_newer(what: str, names: Iterable[str]) -> None:
    """Raises Refusal `newer-release` where this release does not know one of the migrations of `what`."""
    if beyond := sorted(set(names) - known()):
        said = f"{what} comes from a newer release: this one does not know {', '.join(beyond)}"
        raise Refusal("newer-release", f"{said}. Install that release, or one after it.")


def last_of(names: Iterable[str]) -> list[str]:
    """Those of some migrations that no other one of them builds on, and that do not do the work of others of them."""
    steps, held = _steps(), set(names)
    held -= {name for name in held if steps.disk_migrations[APP, name].replaces}
    graph = steps.graph
    return sorted(name for name in held if not {child.key[1] for child in graph.node_map[APP, name].children} & held)


def bring_to(names: Iterable[str]) -> None:
    """Make the tables those that belong to exactly these migrations. For an empty database without triggers."""
    if set(names) == known():
        bring_up_to_date()
    elif set(applied(connection)) != set(names):
        executor = MigrationExecutor(connection)
        executor.loader = _steps(connection)
        executor.migrate([(APP, name) for name in last_of(names)])


def bring_up_to_date() -> bool:
    """Make the tables those of this release; say whether they were not."""
    executor = MigrationExecutor(connection)
    behind = bool(executor.migration_plan(executor.loader.graph.leaf_nodes()))
    if behind:
        call_command("migrate", verbosity=0, interactive=False)
    else:
        executor.check_replacements()
    return behind
