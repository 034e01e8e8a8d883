"""What the stock half of kits refuses, and what would help."""

from services.api.problems import when_broken
from services.api.refusals import Kind, Refusal


class InsufficientStock(Refusal):
    """There is not enough free and in date on that day. The answer names what you may see of the alternatives: lots
    passed over and why, other sites' free quantity, the next receipt."""

    code = "insufficient-stock"
    title = "Not enough free stock in date"


class LotOutOfDate(Refusal):
    """The lot may no longer be fitted. Reserve another one, or have it inspected and extended once (ISO 2230)."""

    code = "lot-out-of-date"
    title = "The lot is out of date"


class WrongReservationState(Refusal):
    """The reservation is not in a state from which this can be done. The detail says which it is in."""

    code = "wrong-reservation-state"
    title = "Not possible in the reservation's present state"


class WrongOrderState(Refusal):
    """The order is not in a state from which this can be done. The detail says which it is in."""

    code = "wrong-order-state"
    title = "Not possible in the order's present state"


class WrongTransferState(Refusal):
    """The transfer is not in a state from which this can be done. The detail says which it is in."""

    code = "wrong-transfer-state"
    title = "Not possible in the transfer's present state"


class NoTransitTime(Refusal):
    """Nobody said how long goods take between these two sites, so no day of arrival can be promised. The data owner
    adds the transit time; it is not guessed."""

    kind = Kind.INVALID
    code = "no-transit-time"
    title = "No transit time is known"


class LenderWouldRunShort(Refusal):
    """After the transfer the lender would be below its own reorder point, or its own jobs would go short. Lend less, or
    approve it all the same with override_reason."""

    code = "lender-would-run-short"
    title = "The lender would run short itself"


class NotTakenOver(Refusal):
    """A reserved kit goes to another job only where that job claims the same item at the same site, the lots will be in
    date on its day, and nothing free would do."""

    code = "not-taken-over"
    title = "The reserved lots cannot be taken over"


class ProposalDecided(Refusal):
    """Somebody decided on this proposal already, or replenishment withdrew it. Read it again."""

    code = "proposal-decided"
    title = "The proposal is decided already"


class OverApprovalLimit(Refusal):
    """The order would be worth more than your role may approve. The answer names the worth, the limit and people who
    may approve it; nothing was ordered."""

    kind = Kind.FORBIDDEN
    code = "over-approval-limit"
    title = "The order is worth more than you may approve"


class LotsDiffer(Refusal):
    """A lot of this item with this number is known with other dates. One number means one lot: check the label."""

    kind = Kind.INVALID
    code = "lots-differ"
    title = "The lot is known with other dates"


class CureDateMissing(Refusal):
    """Something in this item ages, so its lot needs a cure date: as on the pack, a day or a quarter (ISO 2230)."""

    kind = Kind.INVALID
    code = "cure-date-missing"
    title = "A cure date is needed"


class AlreadyReversed(Refusal):
    """The movement was reversed before, or is itself a reversal. Record what really happened as a new movement."""

    code = "already-reversed"
    title = "The movement cannot be reversed"


class NotBuildable(Refusal):
    """Too few loose parts are free and in date for so many kits. The answer names how many can be built and the lines
    that hold it up."""

    code = "not-buildable"
    title = "Too few parts for so many kits"


class TooMuchReturned(Refusal):
    """More would come back than was issued for the job. Check the quantity and the job."""

    kind = Kind.INVALID
    code = "too-much-returned"
    title = "More came back than went out"


def _negative() -> Refusal:
    return InsufficientStock(
        "A balance would fall below zero.", remedy="Read the balances again; count the shelf if they seem wrong."
    )


def _reserved() -> Refusal:
    return InsufficientStock(
        "What is left on the shelf is reserved for jobs.", remedy="Release a reservation, or wait for the next receipt."
    )


when_broken(
    "lot_number_is_used_once",
    lambda: LotsDiffer("The lot exists already.", remedy="Give what is new a lot number of its own.", pointer="#/lot"),
)
when_broken("balance_is_not_negative", _negative)
when_broken("reserved_is_within_on_hand", _reserved)
when_broken(
    "movement_reverses_key",
    lambda: AlreadyReversed("The movement was reversed already.", remedy="Read the movement again."),
)
when_broken(
    "kits_movement_reverses_id_key",
    lambda: AlreadyReversed("The movement was reversed already.", remedy="Read the movement again."),
)
