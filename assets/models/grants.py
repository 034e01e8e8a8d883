"""Who may do what where: a principal, a role, and a site or the whole operator."""

from django.db import models
from django.db.models import Q

from assets.models.sites import Site
from services.api.models import Record


class Role(models.TextChoices):
    READER = "reader"
    FITTER = "fitter"
    SUPERVISOR = "supervisor"
    STORES = "stores"
    PLANNER = "planner"
    INTEGRATOR = "integrator"
    ADMIN = "admin"
    DATA_OWNER = "data-owner"
    PROCEDURE_AUTHOR = "procedure-author"


OPERATOR_WIDE_ONLY = (Role.DATA_OWNER, Role.PROCEDURE_AUTHOR)


class Grant(Record):
    """One role of one principal; without a site it holds at every site."""

    principal = models.ForeignKey("identity.Principal", models.CASCADE, related_name="grants")
    role = models.CharField(max_length=20, choices=Role.choices)
    site = models.ForeignKey(Site, models.CASCADE, null=True, related_name="grants")

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["principal", "role", "site"], nulls_distinct=False, name="role_is_granted_once"
            ),
            models.CheckConstraint(condition=Q(role__in=Role.values), name="granted_role_is_known"),
            models.CheckConstraint(
                condition=~Q(role__in=["data-owner", "procedure-author"]) | Q(site=None),
                name="catalogue_roles_are_operator_wide",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.principal_id} {self.role} {self.site_id}"
