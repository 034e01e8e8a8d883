"""What stands over every sheet of work, on screen and on paper."""

SAFETY = (
    "For trained and authorised people. Site rules, permits and local law come before this sheet; stop if they "
    "disagree. Terminal box work is for licensed electrical workers only."
)
