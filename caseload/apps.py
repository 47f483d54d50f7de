from django.apps import AppConfig
from django.db.models.signals import post_migrate, pre_migrate


class CaseloadConfig(AppConfig):
    name = "caseload"
    label = "caseload"
    verbose_name = "Caseload"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        from caseload import checks  # noqa: F401  importing registers the checks
        from caseload.actions import confirming  # noqa: F401  importing registers the job
        from caseload.actions.triggers import install, remove
        from caseload.outreach import patient_file, plan_sheet_file  # noqa: F401  importing registers the jobs
        from caseload.web import list_files  # noqa: F401  importing registers the job

        pre_migrate.connect(remove, sender=self, dispatch_uid="caseload-triggers-away")
        post_migrate.connect(install, sender=self, dispatch_uid="caseload-triggers")
