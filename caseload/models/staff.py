"""Staff: who signs in, and as what."""

from django.contrib.auth.models import AbstractBaseUser, BaseUserManager
from django.db import models
from django.db.models import Q
from django.db.models.functions import Lower

from caseload.access.people import Presence, presence_of
from caseload.models.codes import new_code
from caseload.timetable.terms import Owner


class StaffManager(BaseUserManager["Staff"]):
    def create(self, *, password: str | None = None, **fields: object) -> "Staff":
        staff = self.model(**fields)
        staff.set_password(password)
        staff.save(using=self._db)
        return staff

    def get_by_natural_key(self, username: str | None) -> "Staff":
        return self.get(username__iexact=username)


class Staff(AbstractBaseUser):
    """A person who works here. One person may be therapist, admin and lead at once."""

    code = models.CharField(max_length=12, unique=True, default=new_code, editable=False)
    username = models.CharField(max_length=60, unique=True)
    name = models.CharField(max_length=120)
    email = models.EmailField(blank=True)
    is_therapist = models.BooleanField(default=False)
    is_admin = models.BooleanField(default=False)
    is_lead = models.BooleanField(default=False)
    is_active = models.BooleanField(default=True)
    short_password = models.BooleanField(
        default=False, help_text="the password has fewer than 15 characters, so a second factor has to stay"
    )
    version = models.PositiveIntegerField(default=1, help_text="raised by a change of name, e-mail, roles or activity")
    demo = models.BooleanField(default=False, help_text="belongs to the demo, never to a real service")

    objects = StaffManager()

    USERNAME_FIELD = "username"
    REQUIRED_FIELDS = ["name"]

    class Meta:
        ordering = ["name", "id"]
        verbose_name_plural = "staff"
        constraints = [
            models.UniqueConstraint(Lower("username"), name="staff_username_once"),
            models.CheckConstraint(
                condition=Q(is_therapist=True) | Q(is_admin=True) | Q(is_lead=True), name="staff_has_a_role"
            ),
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def presence(self) -> Presence:
        return presence_of(
            active=self.is_active, password=self.has_usable_password(), came_before=self.last_login is not None
        )

    @property
    def roles(self) -> frozenset[Owner]:
        held = {Owner.THERAPIST: self.is_therapist, Owner.ADMIN: self.is_admin, Owner.LEAD: self.is_lead}
        return frozenset(role for role, has in held.items() if has)
