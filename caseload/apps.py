from typing import Any

from django.apps import AppConfig
from django.core.management import call_command
from django.db.models.signals import post_migrate, pre_migrate


class CaseloadConfig(AppConfig):
    name = "caseload"

    def ready(self) -> None:
        from allauth.account import signals as account
        from allauth.mfa import signals as factors
        from django.contrib.auth import signals as auth

        from caseload import checks  # noqa: F401  importing registers the checks
        from caseload.actions import (  # noqa: F401  importing registers the jobs
            confirming,
            filling,
            rederive,
            retention,
            rule_jobs,
            trail_files,
        )
        from caseload.actions.triggers import install, remove
        from caseload.outreach import patient_file, plan_sheet_file  # noqa: F401  importing registers the jobs
        from caseload.web import list_files  # noqa: F401  importing registers the job
        from caseload.web import sign_in_trail as said

        pre_migrate.connect(remove, sender=self, dispatch_uid="caseload-triggers-away")
        post_migrate.connect(install, sender=self, dispatch_uid="caseload-triggers")
        post_migrate.connect(cache_table, sender=self, dispatch_uid="caseload-cache")
        account.user_logged_in.connect(said.signed_in)
        account.password_changed.connect(said.password_changed)
        account.password_set.connect(said.password_changed)
        account.password_reset.connect(said.password_changed)
        auth.user_logged_out.connect(said.signed_out)
        auth.user_login_failed.connect(said.refused)
        factors.authentication_failed.connect(said.factor_refused)
        factors.authenticator_added.connect(said.factor_added)
        factors.authenticator_removed.connect(said.factor_removed)
        factors.authenticator_reset.connect(said.codes_renewed)


def cache_table(using: str = "default", **_: Any) -> None:
    """Signing in counts failures in the shared cache, so its table is there as soon as the others are."""
    call_command("createcachetable", database=using, verbosity=0)
