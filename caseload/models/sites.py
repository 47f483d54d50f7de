"""Where and on which days a service is open: regions with their holidays, sites, closures."""

from django.db import models
from django.db.models import F, Q

from caseload.models.codes import new_code


class Region(models.Model):
    """A holiday list and the stretch of days for which it is known. Outside that stretch no day counts as open."""

    name = models.CharField(max_length=20, unique=True)
    title = models.CharField(max_length=80)
    covered_from = models.DateField()
    covered_until = models.DateField()
    source = models.CharField(max_length=200)

    class Meta:
        constraints = [
            models.CheckConstraint(condition=Q(covered_from__lte=F("covered_until")), name="region_stretch_in_order")
        ]

    def __str__(self) -> str:
        return self.title


class Holiday(models.Model):
    region = models.ForeignKey(Region, models.CASCADE, related_name="holidays")
    on = models.DateField()
    name = models.CharField(max_length=120)

    class Meta:
        ordering = ["on"]
        constraints = [models.UniqueConstraint(fields=["region", "on"], name="holiday_once")]


class Site(models.Model):
    """`weekdays` are the digits of the days it opens, 0 for Monday; `zone` names its local time."""

    code = models.CharField(max_length=12, unique=True, default=new_code, editable=False)
    name = models.CharField(max_length=80, unique=True)
    region = models.ForeignKey(Region, models.PROTECT, related_name="sites")
    weekdays = models.CharField(max_length=7, default="01234")
    telephone = models.CharField(max_length=40, blank=True)
    zone = models.CharField(max_length=40, default="Europe/London")

    class Meta:
        ordering = ["name"]
        constraints = [models.CheckConstraint(condition=Q(weekdays__regex=r"^[0-6]{1,7}$"), name="site_opens_some_day")]

    def __str__(self) -> str:
        return self.name


class Closure(models.Model):
    """Days on which one site, or with `site` empty every site, is shut."""

    site = models.ForeignKey(Site, models.CASCADE, null=True, blank=True, related_name="closures")
    starts_on = models.DateField()
    ends_on = models.DateField()
    reason = models.CharField(max_length=120)

    class Meta:
        ordering = ["starts_on"]
        constraints = [
            models.CheckConstraint(condition=Q(starts_on__lte=F("ends_on")), name="closure_days_in_order"),
            models.CheckConstraint(condition=~Q(reason=""), name="closure_has_a_reason"),
        ]
