"""Files of others, read after a mapping that somebody saved: kept, changed, proposed, used."""

import io

import openpyxl
import pytest

from assets.models import Maker, PumpModel
from services.bulk_loads.models import BulkLoad, ColumnMapping
from services.bulk_loads.reading import XLSX
from services.bulk_loads.tasks import run_bulk_load
from services.changes.models import Change
from tests.promises.everything import fresh_key
from tests.services.test_bulk_loads import hand_in, load, rows
from tests.world import client_for, gather_cast, make_principal

pytestmark = pytest.mark.django_db

HOW = {
    "kind": "pump-models",
    "name": "Plant register",
    "columns": {"Type": "external_id", "Seal shaft": "shaft_diameter_at_seal_mm", "Speed": "rated_speed_rpm"},
    "constants": {"maker": "norrvik", "rated_power_kw": "15"},
    "translations": {"configuration": {"BPO": "long-coupled-back-pull-out"}},
    "units": {"shaft_diameter_at_seal_mm": "in"},
    "decimal_mark": ",",
    "ignore_others": True,
}
FILE = "Type;series;designation;configuration;Seal shaft;Speed;Colour\nM1;NB;65-40-200;BPO;1,75;2.900;blue\n"


@pytest.fixture
def cast():
    Maker.objects.create(code="norrvik", name="Norrvik Pumps")
    return gather_cast()


@pytest.fixture
def owner(cast):
    return client_for(make_principal("owner", ("data-owner", None), ("integrator", None)))


def save(client, how, status=201):
    answer = client.post("/api/v1/column-mappings", how, format="json", headers={"Idempotency-Key": fresh_key()})
    assert answer.status_code == status, answer.content
    return answer.json()


def test_a_file_of_others_goes_in_after_its_mapping(owner):
    save(owner, HOW)
    made = load(owner, "pump-models", FILE, mapping="plant register")
    assert (made["created_rows"], made["refused_rows"], made["mapping"]) == (1, 0, "plant register")
    model = PumpModel.objects.get(code="M1")
    # 1.75 in are 44.45 mm: the inch of 25.4 mm, ISO 80000-3.
    assert (str(model.shaft_diameter_at_seal_mm), model.rated_speed_rpm) == ("44.450", 2900)
    assert model.configuration == "long-coupled-back-pull-out"
    assert "Left aside: Colour." in made["notes"]
    again = load(owner, "pump-models", FILE, mapping="Plant register", key="k2")
    assert (again["created_rows"], again["changed_rows"], again["unchanged_rows"]) == (0, 0, 1)


def test_without_the_mapping_the_same_file_is_refused_with_the_columns_that_it_lacks(owner):
    refused = hand_in(owner, "pump-models", FILE, status=422)
    assert "'Colour' is no column of pump-models." in refused["detail"]
    assert "'external_id' is missing." in refused["detail"]


def test_a_load_keeps_the_mapping_as_it_was_when_the_file_came(owner):
    kept = save(owner, HOW)
    made = hand_in(owner, "pump-models", FILE, mapping="Plant register")
    ColumnMapping.objects.filter(pk=kept["id"]).delete()
    run_bulk_load(made["run"])
    assert BulkLoad.objects.get(pk=made["id"]).created_rows == 1


def test_an_unknown_mapping_is_named_with_the_nearest_known(owner):
    save(owner, HOW)
    refused = hand_in(owner, "pump-models", FILE, status=400, mapping="Plant registr")
    assert "Did you mean 'Plant register'?" in refused["detail"]
    assert refused["errors"][0]["pointer"] == "?mapping"
    assert hand_in(owner, "makers", "code,name\na,b\n", status=400, mapping="Plant register")["remedy"]


@pytest.mark.parametrize(
    ("change", "pointer", "words"),
    [
        ({"kind": "pump-modelz"}, "#/kind", "Did you mean 'pump-models'?"),
        ({"kind": "procedures"}, "#/kind", "documents"),
        ({"columns": {"Type": "external-id"}}, "#/columns/Type", "Did you mean 'external_id'?"),
        ({"columns": {"Type": "series", "TYPE ": "external_id"}}, "#/columns/TYPE ", "cannot be told from 'Type'"),
        ({"constants": {"makr": "x"}}, "#/constants/makr", "no column"),
        ({"units": {"series": "mm"}}, "#/units/series", "has no unit"),
        ({"units": {"rated_power_kw": "mm"}}, "#/units/rated_power_kw", "do not measure the same thing"),
        ({"units": {"rated_power_kw": "oxen"}}, "#/units/rated_power_kw", "no unit known here"),
        ({"decimal_mark": "x"}, "#/decimal_mark", "choice"),
        ({"colums": {}}, "#/colums", "Did you mean 'columns'?"),
    ],
)
def test_a_mapping_that_could_never_work_is_refused_with_its_place(owner, change, pointer, words):
    refused = save(owner, HOW | change, status=422)
    assert pointer in [one["pointer"] for one in refused["errors"]]
    assert words in str(refused)


def test_a_name_is_used_once_a_kind_whatever_its_case(owner):
    save(owner, HOW)
    assert save(owner, HOW | {"name": "PLANT register"}, status=409)["code"] == "already-there"
    save(owner, {"kind": "makers", "name": "Plant register"})


def test_a_mapping_is_changed_and_removed_by_who_saw_it_last(owner):
    kept = save(owner, HOW)
    path = f"/api/v1/column-mappings/{kept['id']}"
    assert owner.patch(path, {"decimal_mark": "."}, format="json").status_code == 428
    seen = owner.get(path).headers["ETag"]
    changed = owner.patch(path, {"decimal_mark": "."}, format="json", headers={"If-Match": seen})
    assert (changed.json()["decimal_mark"], changed.json()["version"]) == (".", 2)
    assert owner.delete(path, headers={"If-Match": seen}).status_code == 412
    assert owner.delete(path, headers={"If-Match": changed.headers["ETag"]}).status_code == 204
    assert owner.get(path).status_code == 404
    told = Change.objects.filter(noun="column-mapping").order_by("id").values_list("kind", "noun_version")
    assert list(told) == [
        ("column-mapping.registered", 1), ("column-mapping.changed", 2), ("column-mapping.removed", 2),
    ]  # fmt: skip


def test_whoever_hands_files_in_reads_mappings_and_only_keepers_of_data_write_them(cast, owner):
    save(owner, HOW)
    reader = cast.client("reader")
    assert [one["name"] for one in reader.get("/api/v1/column-mappings?kind=pump-models").json()["results"]] == [
        "Plant register"
    ]
    assert save(reader, HOW | {"name": "mine"}, status=403)["code"] == "not-allowed"


def propose(client, kind, content, media="text/csv", status=200):
    answer = client.generic("POST", f"/api/v1/column-mappings/propose?kind={kind}", content, content_type=media)
    assert answer.status_code == status, answer.content
    return answer.json()


def test_a_proposal_names_the_likely_column_and_the_runner_up_and_saves_nothing(owner):
    head = "Ext. ID;Series;Designation size;Config;Rated speed [rpm];Power rated kW;Shaft dia at seal mm;Remarks\n"
    found = propose(owner, "pump-models", head.encode())
    assert found["mapping"]["columns"] == {
        "Ext. ID": "external_id",
        "Series": "series",
        "Designation size": "designation",
        "Config": "configuration",
        "Rated speed [rpm]": "rated_speed_rpm",
        "Power rated kW": "rated_power_kw",
        "Shaft dia at seal mm": "shaft_diameter_at_seal_mm",
    }
    assert found["missing"] == ["maker"]
    assert found["mapping"]["ignore_others"] is True
    by_header = {one["header"]: one for one in found["headers"]}
    assert by_header["Remarks"]["column"] is None
    assert by_header["Power rated kW"]["score"] == 1.0
    assert by_header["Series"]["second_score"] < by_header["Series"]["score"]
    assert ColumnMapping.objects.count() == 0
    save(owner, found["mapping"] | {"name": "Proposed"})


def test_a_proposal_is_made_for_workbooks_and_json_too_and_refuses_what_it_cannot_read(owner):
    made = openpyxl.Workbook()
    for row in (["Makers of pumps", None], ["Code no.", "Name"], ["a", "b"]):
        made.active.append(row)
    out = io.BytesIO()
    made.save(out)
    found = propose(owner, "makers", out.getvalue(), XLSX)
    assert (found["header_row"], found["mapping"]["columns"]) == (2, {"Code no.": "code", "Name": "name"})
    assert propose(owner, "makers", b'{"Code": "a"}\n{"Co', "application/x-ndjson")["mapping"]["columns"] == {
        "Code": "code"
    }
    assert propose(owner, "makers", b"", status=422)["code"] == "file-unreadable"
    assert propose(owner, "makers", b"%PDF", "application/pdf", status=422)["code"] == "file-unreadable"
    assert propose(owner, "procedures", b"a: b", "application/yaml", status=422)["code"] == "file-unreadable"


def test_a_workbook_is_handed_in_as_it_is_and_its_chosen_sheet_is_read(owner):
    made = openpyxl.Workbook()
    made.active.append(["nothing of ours"])
    sheet = made.create_sheet("Makers")
    for row in (["Code", "Name"], ["lodd", "Lodd Hydraulics"], ["lodd", "Lodd Hydraulics"], ["lodd", "Other"]):
        sheet.append(row)
    out = io.BytesIO()
    made.save(out)
    answer = owner.generic(
        "POST", "/api/v1/bulk-loads?kind=makers&sheet=Makers", out.getvalue(), content_type=XLSX,
        headers={"Idempotency-Key": "book"},
    )  # fmt: skip
    assert answer.status_code == 202, answer.content
    run_bulk_load(answer.json()["run"])
    told = owner.get(f"/api/v1/bulk-loads/{answer.json()['id']}").json()
    assert (told["created_rows"], told["unchanged_rows"], told["refused_rows"]) == (1, 1, 1)
    assert told["notes"][0] == "The sheet 'Makers' was read."
    assert [(one["row"], one["outcome"]) for one in rows(owner, told)] == [
        (2, "created"), (3, "unchanged"), (4, "refused"),
    ]  # fmt: skip


def test_a_row_that_repeats_a_refused_one_is_refused_like_it(owner):
    text = "code,name,time_zone\neast,East,Mars/Crater\neast,East,Mars/Crater\n"
    made = load(owner, "sites", text)
    assert made["refused_rows"] == 2
    assert [one["problems"][0]["column"] for one in rows(owner, made)] == ["time_zone", "time_zone"]


def test_the_report_comes_as_csv_too(owner):
    made = load(owner, "makers", "code,name\nlodd, Lodd \nlodd,Other\n")
    answer = owner.get(f"/api/v1/bulk-loads/{made['id']}/rows", headers={"Accept": "text/csv"})
    assert answer.headers["Content-Type"].startswith("text/csv")
    lines = answer.content.decode().splitlines()
    assert lines[0] == "row,key,outcome,notes,problems"
    assert lines[1].startswith("2,lodd,created,")
    assert "Keep one of the two." in lines[2]
