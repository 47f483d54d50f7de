from django.apps import AppConfig


class CaseloadConfig(AppConfig):
    name = "caseload"
    label = "caseload"
    verbose_name = "Caseload"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        from caseload import checks  # noqa: F401  importing registers the checks
