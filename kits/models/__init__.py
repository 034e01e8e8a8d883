"""Tables of what is needed, stocked and ordered."""

from kits.models.approval_limits import ApprovalLimit
from kits.models.counts import Count, CountEntry, CountLine, CountSettings, StockDiscrepancy
from kits.models.expected_overhauls import ExpectedOverhauls
from kits.models.fit_results import AskedKey, FitDay, FitMark, FitResult, OfferedKey
from kits.models.items import Coverage, Item, Kit, KitLine, Part, Supersession
from kits.models.lead_times import LearnedLeadTime
from kits.models.materials import (
    Material,
    MaterialLimit,
    MaterialRating,
    MaterialStorageGroup,
    SealFace,
    SealFaceRating,
    StorageGroup,
)
from kits.models.orders import Order, OrderChase, OrderLine
from kits.models.proposals import Proposal, ReplenishmentLevel
from kits.models.stock import Allocation, Balance, Condition, Lot, Movement, MovementKind, Reservation
from kits.models.suppliers import Supplier, SupplierTerms
from kits.models.trade_tables import (
    AssemblyCaution,
    KitScope,
    KitScopeRole,
    Lubricant,
    LubricantAdvice,
    ServiceTarget,
)
from kits.models.transfers import Transfer, TransferDiscrepancy, TransferLine, TransferLot, TransitTime

__all__ = [
    "Allocation",
    "ApprovalLimit",
    "AskedKey",
    "AssemblyCaution",
    "Balance",
    "Condition",
    "Count",
    "CountEntry",
    "CountLine",
    "CountSettings",
    "Coverage",
    "ExpectedOverhauls",
    "FitDay",
    "FitMark",
    "FitResult",
    "Item",
    "Kit",
    "KitLine",
    "KitScope",
    "KitScopeRole",
    "LearnedLeadTime",
    "Lot",
    "Lubricant",
    "LubricantAdvice",
    "Material",
    "MaterialLimit",
    "MaterialRating",
    "MaterialStorageGroup",
    "Movement",
    "MovementKind",
    "OfferedKey",
    "Order",
    "OrderChase",
    "OrderLine",
    "Part",
    "Proposal",
    "ReplenishmentLevel",
    "Reservation",
    "SealFace",
    "SealFaceRating",
    "ServiceTarget",
    "StockDiscrepancy",
    "StorageGroup",
    "Supersession",
    "Supplier",
    "SupplierTerms",
    "Transfer",
    "TransferDiscrepancy",
    "TransferLine",
    "TransferLot",
    "TransitTime",
]
