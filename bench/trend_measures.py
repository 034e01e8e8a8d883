"""One pump's trend among a million measurements over HTTP, against the smallest WSGI application that runs the same
queries and the same calculation."""

import http.client
from collections.abc import Iterator

from bench.answer_measures import ASKED_A_TURN, LOGIN, TURNS, served
from bench.operator_data import caller
from bench.timing import Comparison, compare
from bench.trend_data import CODE, measured_pump
from jobs.models import Measurement


def measures_of_trends(tokens: dict[str, str]) -> Iterator[Comparison]:
    """One measure: the trend of one characteristic."""
    path = f"/api/v1/pumps/{measured_pump(by=caller(LOGIN).id)}/trends/{CODE}"
    count = Measurement.objects.count()
    with served("services.wsgi") as ours, served("bench.smallest_web") as floor:
        asked = {
            side: http.client.HTTPConnection("127.0.0.1", port) for side, port in (("ours", ours), ("floor", floor))
        }

        def ask(side: str) -> bytes:
            asked[side].close()
            for _ in range(ASKED_A_TURN):
                asked[side].request("GET", path, headers={"Authorization": f"Bearer {tokens[LOGIN]}"})
                got = asked[side].getresponse()
                body = got.read()
                assert got.status == 200, body
            return body

        assert ask("floor") == ask("ours")
        yield compare(
            f"One pump's trend of one characteristic among {count:,} measurements, over HTTP", lambda _: ask("ours"),
            lambda _: ask("floor"),
            floor_words="the same queries and calculation in the smallest WSGI application, same server",
            unit="answers", per_turn=ASKED_A_TURN, turns=TURNS,
        )  # fmt: skip
