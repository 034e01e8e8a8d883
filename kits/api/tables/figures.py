"""What the descriptions of several tables say in the same words."""

SEVERAL_SOURCES = (
    "Several sources may give it, each in a row of its own. The most careful figure counts, unless one row is chosen."
)
LOTS_KEEP_THEIR_EXPIRY = (
    "Parts made of the material take the group that counts. Lots keep the expiry they were given; an extension granted "
    "later is counted with the group as it stands then."
)
