"""Files handed in: read, mended, refused, reported."""

import dataclasses
import datetime

import pytest

from assets.models import Maker, Site
from services.api.loading import RowOutcome, known_loads
from services.bulk_loads.models import BulkLoad
from services.bulk_loads.reading import read_file
from services.bulk_loads.refusals import FileUnreadable
from services.bulk_loads.tasks import run_bulk_load
from services.work.models import BackgroundRun
from tests.world import client_for, make_principal

pytestmark = pytest.mark.django_db


@pytest.fixture
def integrator():
    return client_for(make_principal("erp", ("integrator", None)))


def hand_in(client, kind, text, *, media="text/csv", status=202, key="k", **flags):
    query = "&".join([f"kind={kind}", *(f"{name}={value}" for name, value in flags.items())])
    answer = client.generic(
        "POST", f"/api/v1/bulk-loads?{query}", text.encode(), content_type=media, headers={"Idempotency-Key": key}
    )
    assert answer.status_code == status, answer.content
    return answer.json()


def load(client, kind, text, **more):
    made = hand_in(client, kind, text, **more)
    run_bulk_load(made["run"])
    return client.get(f"/api/v1/bulk-loads/{made['id']}").json()


def rows(client, made, query=""):
    return client.get(f"/api/v1/bulk-loads/{made['id']}/rows{query}").json()["results"]


MAKERS = "code,name\nnorrvik,Norrvik Pumps\nlodd, Lodd Hydraulics \n"


def test_a_file_is_recorded_first_and_loaded_by_a_worker(cast, integrator):
    made = hand_in(integrator, "makers", MAKERS)
    assert (made["state"], Maker.objects.count()) == ("queued", 0)
    run_bulk_load(made["run"])
    made = integrator.get(f"/api/v1/bulk-loads/{made['id']}").json()
    assert (made["state"], made["created_rows"], made["noted_rows"]) == ("done", 2, 1)
    assert Maker.objects.get(code="lodd").name == "Lodd Hydraulics"
    assert rows(integrator, made, "?noted=true")[0]["notes"][0]["detail"] == "spaces around it taken off"


def test_the_same_file_again_changes_nothing(cast, integrator):
    load(integrator, "makers", MAKERS)
    again = load(integrator, "makers", MAKERS, key="k2")
    assert (again["created_rows"], again["changed_rows"], again["unchanged_rows"]) == (0, 0, 2)


def test_a_run_kicked_twice_is_done_once(cast, integrator):
    made = hand_in(integrator, "makers", MAKERS)
    run_bulk_load(made["run"])
    run_bulk_load(made["run"])
    assert BackgroundRun.objects.get(pk=made["run"]).attempts == 1


def test_a_dry_run_reports_and_leaves_nothing(cast, integrator):
    made = load(integrator, "makers", MAKERS, dry_run="true")
    assert (made["created_rows"], Maker.objects.count()) == (2, 0)


def test_whole_or_nothing_leaves_nothing_where_a_row_is_refused(cast, integrator):
    text = "code,name,time_zone\nwest,West,Europe/Oslo\neast,East,Mars/Crater\n"
    made = load(integrator, "sites", text, whole_or_nothing="true")
    assert (made["refused_rows"], Site.objects.filter(code="west").exists()) == (1, False)
    made = load(integrator, "sites", text, key="k2")
    assert (made["created_rows"], made["refused_rows"]) == (1, 1)
    problem = rows(integrator, made, "?outcome=refused")[0]
    assert (problem["row"], problem["problems"][0]["column"]) == (3, "time_zone")


def test_a_misspelt_column_is_named_with_the_nearest_known(cast, integrator):
    refused = hand_in(integrator, "makers", "code,nmae\na,b\n", status=422)
    assert refused["code"] == "file-unreadable"
    assert "Did you mean 'name'?" in refused["detail"]
    assert BulkLoad.objects.count() == 0


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "empty"),
        ("code,name,name\na,b,c\n", "stands twice"),
        ("code\na\n", "'name' is missing"),
    ],
)
def test_a_file_that_cannot_be_read_is_refused_at_once(cast, integrator, text, words):
    assert words in hand_in(integrator, "makers", text, status=422)["detail"]


def test_unknown_kind_media_type_and_size(cast, integrator):
    assert hand_in(integrator, "pumpz", "a", status=400)["errors"][0]["pointer"] == "?kind"
    assert hand_in(integrator, "makers", MAKERS, media="application/pdf", status=415)["code"] == "file-type-unsupported"
    large = "code,name\n" + "x,y\n" * 13_200_000
    assert hand_in(integrator, "makers", large, status=413)["code"] == "file-too-large"
    assert BulkLoad.objects.count() == 0


def test_a_cell_that_is_no_number_refuses_its_row_only(cast, integrator):
    load(integrator, "makers", MAKERS)
    text = (
        "external_id;maker;series;designation;configuration;shaft_diameter_at_seal_mm;rated_speed_rpm;rated_power_kw\n"
        "M1;norrvik;NB;65-40-200;long-coupled-back-pull-out;43,5;2900;15\n"
        "M2;norrvik;NB;80-50-200;in-line;forty;2900;15\n"
    )
    made = load(integrator, "pump-models", text, key="k2")
    assert (made["created_rows"], made["refused_rows"]) == (1, 1)
    noted = rows(integrator, made, "?noted=true")[0]
    assert noted["notes"][0]["detail"] == "decimal comma read as a point"
    refused = rows(integrator, made, "?outcome=refused")[0]
    assert refused["problems"][0] == {
        "column": "shaft_diameter_at_seal_mm",
        "value": "forty",
        "detail": "It is no number.",
        "remedy": "Write a number such as 12.5, in mm.",
    }


def test_json_ndjson_and_csv_say_the_same():
    kind = known_loads()["makers"]
    expected = [{"code": "a", "name": "b"}]
    for content, media in (
        (b"\xef\xbb\xbfcode,name\na,b\n", "text/csv"),
        (b'{"code": "a", "name": "b"}\n', "application/x-ndjson"),
        (b'[{"code": "a", "name": "b"}]', "application/json"),
    ):
        assert [dict(one.row.values) for one in read_file(kind, content, media)] == expected


def test_times_without_a_zone_are_utc():
    kind = known_loads()["running-hours"]
    read = read_file(kind, b"pump,read_at,hours\nP,2026-01-02 06:00,1\n", "text/csv")[0]
    assert read.row.values["read_at"] == datetime.datetime(2026, 1, 2, 6, tzinfo=datetime.UTC)


def test_bytes_that_are_no_text_are_refused():
    with pytest.raises(FileUnreadable, match="UTF-8"):
        read_file(known_loads()["makers"], b"code,name\n\xff\x81,b\n", "text/csv")


def test_who_may_not_load_gets_the_problem_with_the_run(cast):
    made = load(cast.client("reader"), "makers", MAKERS)
    assert made["state"] == "failed"
    assert made["result"]["problem"]["code"] == "not-allowed"
    assert Maker.objects.count() == 0


def test_one_sees_only_the_files_one_handed_in(cast, integrator):
    made = hand_in(integrator, "makers", MAKERS)
    other = cast.client("chief")
    assert other.get("/api/v1/bulk-loads").json()["results"] == []
    assert other.get(f"/api/v1/bulk-loads/{made['id']}").status_code == 404
    assert other.get(f"/api/v1/bulk-loads/{made['id']}/rows").status_code == 404


def test_a_cancelled_run_is_not_taken_up(cast, integrator):
    made = hand_in(integrator, "makers", MAKERS)
    cancelled = integrator.post(f"/api/v1/background-runs/{made['run']}/cancel", {}, format="json")
    assert cancelled.json()["state"] == "cancelled"
    run_bulk_load(made["run"])
    assert Maker.objects.count() == 0


def test_kinds_are_listed_with_their_columns(cast, integrator):
    kinds = {one["name"]: one for one in integrator.get("/api/v1/bulk-load-kinds").json()["results"]}
    assert {"sites", "pumps", "parts", "kits", "movements", "procedures", "past-jobs"} <= set(kinds)
    assert kinds["makers"]["columns"][0]["name"] == "code"


def test_a_misspelt_outcome_is_refused(cast, integrator):
    made = load(integrator, "makers", MAKERS)
    assert integrator.get(f"/api/v1/bulk-loads/{made['id']}/rows?outcome=refusd").status_code == 400
    assert len(rows(integrator, made, "?outcome=created")) == 2


def test_the_same_request_again_hands_no_second_file_in(cast, integrator):
    assert hand_in(integrator, "makers", MAKERS)["id"] == hand_in(integrator, "makers", MAKERS)["id"]
    assert BulkLoad.objects.count() == 1
    changed = hand_in(integrator, "makers", MAKERS + "third,Third\n", status=422)
    assert changed["code"] == "idempotency-key-reused"


def test_a_token_that_only_reads_hands_nothing_in(cast):
    reader = client_for(make_principal("erp", ("integrator", None)), ("read",))
    assert hand_in(reader, "makers", MAKERS, status=403)["code"] == "insufficient-scope"


def test_a_document_larger_than_a_document_is_refused(cast, integrator):
    text = "code: A\nwords: " + "x" * 1_100_000
    assert hand_in(integrator, "procedures", text, media="application/yaml", status=413)["code"] == "file-too-large"


def test_rows_are_loaded_in_batches_and_numbered_through(cast, integrator, monkeypatch):
    monkeypatch.setattr("services.bulk_loads.operations.BATCH", 2)
    text = "code,name\n" + "".join(f"m{n},Maker {n}\n" for n in range(5))
    made = load(integrator, "makers", text)
    assert (made["created_rows"], Maker.objects.count()) == (5, 5)
    assert [one["row"] for one in rows(integrator, made)] == [2, 3, 4, 5, 6]
    run = integrator.get(f"/api/v1/background-runs/{made['run']}").json()
    assert (run["progress_done"], run["progress_total"]) == (5, 5)


def stubborn(*, by, rows):
    """A loader that did not foresee what the database refuses."""
    Maker.objects.bulk_create([Maker(code=row.values["code"], name=row.values["name"]) for row in rows])
    return [RowOutcome(row.number, row.values["code"], "created") for row in rows]


def test_what_only_the_database_refuses_costs_its_own_row_alone(cast, integrator, monkeypatch):
    kind = known_loads()["makers"]
    monkeypatch.setitem(known_loads(), "makers", dataclasses.replace(kind, load=stubborn))
    Maker.objects.create(code="m3", name="Known")
    made = load(integrator, "makers", "code,name\n" + "".join(f"m{n},Maker {n}\n" for n in range(6)))
    assert (made["created_rows"], made["refused_rows"], Maker.objects.count()) == (5, 1, 6)
    refused = rows(integrator, made, "?outcome=refused")[0]
    assert refused["row"] == 5
    assert refused["problems"][0]["remedy"]


def test_lists_cost_the_same_however_long_they_are(cast, integrator, django_assert_num_queries):
    for n in range(3):
        load(integrator, "makers", MAKERS, key=f"k{n}")
        with django_assert_num_queries(2):
            assert len(integrator.get("/api/v1/bulk-loads").json()["results"]) == n + 1
