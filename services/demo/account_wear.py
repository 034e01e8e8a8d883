"""The account's step about what the pump's history tells: how it wears, how long parts last, when it is due again."""

from jobs.calculations.verdict import verdict_words
from services.demo.account import STORY_PUMP, Account

WEARS = "wear-ring-gap"
FEWEST_POINTS = 5


def pump_is_looked_ahead(account: Account) -> None:
    """Step 10: the trend over the pump's overhauls, lives of its model's parts, and the next overhaul."""
    account.heading(10, f"How {STORY_PUMP} wears, and when it is due again")
    planner, pump = account.callers["silja"], account.found["pump"]
    answer = planner.get(f"pumps/{pump['id']}/trends/{WEARS}")
    trend = answer["trends"][0]
    account.say(f"{trend['name']}: {trend['words']}")
    for one in trend["points"]:
        account.item(
            f"{one['at'][:10]}, {one['job']}, {one['state'].replace('-', ' ')}: {one['value']:.3f} {trend['unit']} "
            f"after {one['age_hours']:.0f} h on the part, {verdict_words(one['verdict'], one['lower'], one['upper'])}"
        )
    account.must(len(trend["points"]) >= FEWEST_POINTS, "the gap should have been measured in earlier overhauls")
    account.must(trend["fit"] is not None and trend["fit"]["rate"] > 0, "the gap should grow")
    lives = planner.get(f"pump-models/{answer['pump_model']}/lives")
    account.must(bool(lives["lives"]), "parts of the model should have lives")
    for one in lives["lives"][:2]:
        account.item(one["words"])
    ahead = planner.get(f"pumps/{pump['id']}/next-overhaul")
    account.say(ahead["words"])
    for one in ahead["candidates"]:
        account.item(f"{one['kind']}: {one['words']}" + (" This decides." if one["decides"] else ""))
    account.must(ahead["day"] is not None, "something should tell when it is due")
    account.must(sum(one["decides"] for one in ahead["candidates"]) == 1, "one of them should decide")
