"""What the change feed refuses, and what would help."""

from services.api.refusals import Kind, Refusal


class FeedRestarted(Refusal):
    """The database was restored or replaced since the cursor was made, so what follows it is not known. Read
    everything anew, then go on from the feed's present end."""

    kind = Kind.GONE
    code = "feed-restarted"
    title = "The feed began anew"
