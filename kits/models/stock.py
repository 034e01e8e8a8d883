"""Lots, the ledger of movements, balances and reservations."""

from django.db import models
from django.db.models import F, Q
from django.db.models.functions import Now

from assets.models import Bin, Criticality, Site
from kits.models.items import Item
from kits.models.orders import OrderLine
from services.api.identifiers import new_id
from services.api.models import Record


class Condition(models.TextChoices):
    USABLE = "usable"
    QUARANTINED = "quarantined"


class Lot(Record):
    """A quantity of one item that came together and ages together."""

    item = models.ForeignKey(Item, models.PROTECT, related_name="lots")
    number = models.CharField(max_length=60)
    received_on = models.DateField()
    cure_date = models.DateField(null=True, help_text="Of the earliest ageing part.")
    expires_on = models.DateField(null=True, help_text="Last day it may be fitted; none if nothing in it ages.")
    extended_at = models.DateTimeField(null=True, help_text="Extended once, after inspection (ISO 2230).")

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["item", "number"], name="lot_number_is_used_once"),
        ]
        indexes = [models.Index(fields=["expires_on"], name="lot_by_expiry")]

    def __str__(self) -> str:
        return self.number


class MovementKind(models.TextChoices):
    OPENING = "opening"
    RECEIPT = "receipt"
    ISSUE = "issue"
    RETURN = "return"
    BIN_MOVE = "bin-move"
    TRANSFER_OUT = "transfer-out"
    TRANSFER_IN = "transfer-in"
    CONDITION_CHANGE = "condition-change"
    COUNT_ADJUSTMENT = "count-adjustment"
    SCRAP = "scrap"
    KIT_BUILD = "kit-build"
    KIT_BREAK = "kit-break"


class Movement(models.Model):
    """One entry of the ledger; append-only. A correction is a new entry that names the one it reverses."""

    id = models.UUIDField(primary_key=True, default=new_id, editable=False)
    kind = models.CharField(max_length=18, choices=MovementKind.choices)
    site = models.ForeignKey(Site, models.PROTECT, related_name="+")
    bin = models.ForeignKey(Bin, models.PROTECT, related_name="+")
    item = models.ForeignKey(Item, models.PROTECT, related_name="movements")
    lot = models.ForeignKey(Lot, models.PROTECT, related_name="movements")
    condition = models.CharField(max_length=12, choices=Condition.choices)
    quantity = models.DecimalField(max_digits=12, decimal_places=3, help_text="Signed: what the balance gains.")
    occurred_at = models.DateTimeField()
    recorded_at = models.DateTimeField(db_default=Now(), editable=False)
    by = models.ForeignKey("identity.Principal", models.PROTECT, related_name="+")
    reason = models.CharField(max_length=300, blank=True)
    job_id = models.UUIDField(null=True, help_text="The job it was for; jobs stand above kits.")
    job_number = models.CharField(max_length=40, blank=True)
    order_line = models.ForeignKey(OrderLine, models.PROTECT, null=True, related_name="movements")
    transfer_line = models.ForeignKey(
        "kits.TransferLine", models.PROTECT, null=True, related_name="movements", db_index=False
    )
    reverses = models.OneToOneField("self", models.PROTECT, null=True, related_name="reversed_by")
    pair = models.UUIDField(null=True, help_text="Shared by the two sides of a move.")
    count_line = models.ForeignKey(
        "kits.CountLine",
        models.PROTECT,
        null=True,
        db_index=False,
        related_name="movements",
        help_text="What a count found different.",
    )
    external_id = models.CharField(max_length=80, null=True, unique=True)
    request_id = models.CharField(max_length=64, blank=True)

    class Meta:
        constraints = [
            models.CheckConstraint(condition=~Q(quantity=0), name="movement_moves_something"),
            models.CheckConstraint(condition=Q(kind__in=MovementKind.values), name="movement_kind_is_known"),
            models.CheckConstraint(condition=Q(condition__in=Condition.values), name="movement_condition_is_known"),
            models.CheckConstraint(
                condition=~Q(kind__in=["opening", "receipt", "return", "transfer-in"])
                | Q(quantity__gt=0)
                | Q(reverses__isnull=False),
                name="what_comes_in_adds",
            ),
            models.CheckConstraint(
                condition=~Q(kind__in=["issue", "scrap", "transfer-out"])
                | Q(quantity__lt=0)
                | Q(reverses__isnull=False),
                name="what_goes_out_takes",
            ),
            models.UniqueConstraint(
                fields=["count_line"],
                condition=Q(count_line__isnull=False, reverses__isnull=True),
                name="count_line_is_posted_once",
            ),
        ]
        indexes = [
            models.Index(fields=["site", "item", "occurred_at"], name="movement_by_site_and_item"),
            models.Index(fields=["site", "-id"], name="movement_by_site"),
            models.Index(fields=["job_id"], condition=Q(job_id__isnull=False), name="movement_by_job"),
            models.Index(fields=["lot"], name="movement_by_lot"),
        ]

    def __str__(self) -> str:
        return f"{self.kind} {self.quantity}"


class Balance(models.Model):
    """What is on a shelf: the sum of its movements, kept in their transaction."""

    id = models.UUIDField(primary_key=True, default=new_id, editable=False)
    site = models.ForeignKey(Site, models.PROTECT, related_name="+")
    bin = models.ForeignKey(Bin, models.PROTECT, related_name="+")
    item = models.ForeignKey(Item, models.PROTECT, related_name="balances")
    lot = models.ForeignKey(Lot, models.PROTECT, related_name="balances")
    condition = models.CharField(max_length=12, choices=Condition.choices)
    on_hand = models.DecimalField(max_digits=12, decimal_places=3, default=0)
    reserved = models.DecimalField(max_digits=12, decimal_places=3, default=0)
    updated_at = models.DateTimeField(db_default=Now())
    counted_at = models.DateTimeField(null=True, help_text="When it was last really counted, of the counts posted.")

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["site", "item", "lot", "bin", "condition"], name="balance_is_kept_once"),
            models.CheckConstraint(condition=Q(on_hand__gte=0), name="balance_is_not_negative"),
            models.CheckConstraint(
                condition=Q(reserved__gte=0, reserved__lte=F("on_hand")), name="reserved_is_within_on_hand"
            ),
            models.CheckConstraint(
                condition=Q(condition="usable") | Q(reserved=0), name="quarantined_stock_is_not_reserved"
            ),
        ]
        indexes = [models.Index(fields=["item", "site"], name="balance_by_item")]

    def __str__(self) -> str:
        return f"{self.site_id} {self.item_id} {self.on_hand}"


class Reservation(Record):
    """A job's claim. Soft: a quantity for a day. Hard: named lots that will still be in date on that day."""

    class State(models.TextChoices):
        SOFT = "soft"
        HARD = "hard"
        ISSUED = "issued"
        RELEASED = "released"

    job_id = models.UUIDField(help_text="Jobs stand above kits.")
    job_number = models.CharField(max_length=40)
    site = models.ForeignKey(Site, models.PROTECT, related_name="+")
    item = models.ForeignKey(Item, models.PROTECT, related_name="reservations")
    quantity = models.DecimalField(max_digits=12, decimal_places=3)
    issued = models.DecimalField(max_digits=12, decimal_places=3, default=0)
    need_date = models.DateField()
    state = models.CharField(max_length=8, choices=State.choices, default=State.SOFT)
    criticality = models.CharField(
        max_length=12,
        choices=Criticality.choices,
        blank=True,
        default="",
        db_default="",
        help_text="Of the pump the job is for; empty where it is not known.",
    )
    by = models.ForeignKey("identity.Principal", models.PROTECT, related_name="+")

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(quantity__gt=0, issued__gte=0, issued__lte=F("quantity")), name="reservation_is_positive"
            ),
            models.CheckConstraint(
                condition=Q(state__in=["soft", "hard", "issued", "released"]), name="reservation_state_is_known"
            ),
            models.CheckConstraint(
                condition=Q(criticality__in=["", *Criticality.values]), name="claim_criticality_is_known"
            ),
            models.UniqueConstraint(
                fields=["job_id", "item"], condition=Q(state__in=["soft", "hard"]), name="job_claims_an_item_once"
            ),
        ]
        indexes = [
            models.Index(
                fields=["site", "item", "need_date"], condition=Q(state__in=["soft", "hard"]), name="live_reservation"
            ),
            models.Index(fields=["job_id"], name="reservation_by_job"),
        ]

    def __str__(self) -> str:
        return f"{self.job_number} {self.state}"


class Allocation(models.Model):
    """The lots that a hard reservation holds."""

    id = models.UUIDField(primary_key=True, default=new_id, editable=False)
    reservation = models.ForeignKey(Reservation, models.CASCADE, related_name="allocations")
    balance = models.ForeignKey(Balance, models.PROTECT, related_name="allocations")
    quantity = models.DecimalField(max_digits=12, decimal_places=3)
    issued = models.DecimalField(max_digits=12, decimal_places=3, default=0)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["reservation", "balance"], name="lot_is_allocated_once"),
            models.CheckConstraint(
                condition=Q(quantity__gt=0, issued__gte=0, issued__lte=F("quantity")), name="allocation_is_positive"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.reservation_id} {self.quantity}"
