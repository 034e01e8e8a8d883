"""What planning over many sites refuses, and what would help."""

from services.api.refusals import InvalidValue, Kind, Refusal


class MixedCurrencies(Refusal):
    """Sums of money are of one currency here: prices, the budget and the costs of moving are not converted. Name items
    or sites of one currency, or give the price in the one that you want."""

    kind = Kind.INVALID
    code = "mixed-currencies"
    title = "More than one currency"


class TooManyToPlan(InvalidValue):
    """More sites and items were named than are planned at once, or an item moves so fast that planning it unit by unit
    takes too long. Name fewer, or the quick model."""

    code = "too-many-to-plan"
    title = "Too much for one plan"


class AvailabilityNotReached(InvalidValue):
    """No stock that is worth looking at reaches the availability asked for. The answer names the highest that is
    reached; ask for that or less."""

    code = "availability-not-reached"
    title = "The availability is out of reach"
