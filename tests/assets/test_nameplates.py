"""Nameplates over HTTP and in the database: the extension's own trigrams, candidates by index, granted pumps only."""

import uuid
from decimal import Decimal

import pytest
from django.db import connection, transaction
from django.test.utils import CaptureQueriesContext

from assets.calculations.plate_text import search_key, similarity, trigrams
from assets.models import Fluid, FluidFamily, Maker, Pump, PumpModel
from assets.operations.pumps import register_pump
from services.changes.models import Change
from tests.overhauls import Hand
from tests.world import client_for

pytestmark = pytest.mark.django_db

PLATE = "NORRVIK PUMPS AS\nType NB 65-40-200\nS/N NB2019-0117  Year 2019\nn 2.900 min-1  P 15 kW"
WORDS = [
    "NB 65-40-200",
    "nb6540200",
    "Skerra C 40-160",
    "Skerra P",
    "two words",
    "word",
    "a",
    "",
    "--",
    "Tarna 2G 150/315",
]


def make_model(maker, series, designation, *, built="close-coupled", speed=2900):
    return PumpModel.objects.create(
        code=f"{series}-{designation}-{built}-{maker.code}",
        maker=maker,
        series=series,
        designation=designation,
        configuration=built,
        shaft_diameter_at_seal_mm=Decimal(43),
        rated_speed_rpm=Decimal(speed),
        rated_power_kw=Decimal(15),
    )


@pytest.fixture
def makers():
    return {
        code: Maker.objects.create(code=code, name=name)
        for code, name in (
            ("norrvik", "Norrvik Pumps"),
            ("skerrholm", "Skerrholm"),
            ("tarnfell", "Tarnfell Hydraulics"),
        )
    }


@pytest.fixture
def models(makers):
    return [
        make_model(makers["norrvik"], "NB", "65-40-200"),
        make_model(makers["norrvik"], "NB", "65-40-250"),
        make_model(makers["norrvik"], "NB", "80-65-160"),
        make_model(makers["skerrholm"], "Skerra K", "50-200"),
        make_model(makers["skerrholm"], "Skerra K", "50-200", built="in-line"),
        make_model(makers["tarnfell"], "NB", "65-40-200", speed=1450),
    ]


def make_pump(cast, model, site, tag, serial):
    family, _ = FluidFamily.objects.get_or_create(code="water", defaults={"name": "Water"})
    fluid, _ = Fluid.objects.get_or_create(code="heating-water", defaults={"name": "Heating water", "family": family})
    with transaction.atomic():
        return register_pump(
            by=cast.by("chief"),
            site_id=site.pk,
            pump_model_id=model.pk,
            tag=tag,
            serial_number=serial,
            fluid_id=fluid.pk,
            temperature_min_c=Decimal(5),
            temperature_max_c=Decimal(80),
            criticality="vital",
        )


@pytest.fixture
def ask(cast):
    hand = Hand(cast.client("fitter"))
    return lambda status=200, **body: hand.post("nameplates/match", body, status=status)


class TestTheDatabase:
    @pytest.mark.parametrize("one", WORDS)
    def test_trigrams_and_similarity_are_those_of_pg_trgm(self, one):
        with connection.cursor() as cursor:
            cursor.execute("SELECT show_trgm(%s)", [one])
            assert trigrams(one) == set(cursor.fetchone()[0])
            for other in WORDS:
                cursor.execute("SELECT similarity(%s, %s)", [one, other])
                assert similarity(one, other) == pytest.approx(cursor.fetchone()[0], abs=1e-6)

    @pytest.mark.parametrize("text", [*WORDS, "Ñø ÅNGSTRÖM 12", "O0 I1l S5 B8 Z2", "Größe – 80×65", "αβ 12"])
    def test_the_key_of_the_search_is_the_same_there(self, text):
        with connection.cursor() as cursor:
            cursor.execute("SELECT nameplate_key(%s)", [text])
            assert cursor.fetchone()[0] == search_key(text)

    def test_models_can_be_searched_by_their_index(self, ask, makers, models):
        PumpModel.objects.bulk_create(
            PumpModel(
                code=f"M{number}",
                maker=makers["skerrholm"],
                series=f"Skerra {'ABCDEFGHIJ'[number % 10]}{'KLMNOPQRST'[number // 10 % 10]}",
                designation=f"{40 + number // 100}-{125 + number % 100}",
                configuration="in-line",
                shaft_diameter_at_seal_mm=Decimal(43),
                rated_speed_rpm=Decimal(2900),
                rated_power_kw=Decimal(15),
            )
            for number in range(3000)
        )
        with connection.cursor() as cursor:
            cursor.execute("ANALYZE assets_pumpmodel")
        with CaptureQueriesContext(connection) as captured:
            answer = ask(type_text="Skerra CM 60-147")
        searches = [one["sql"] for one in captured.captured_queries if "SIMILARITY" in one["sql"].upper()]
        assert answer["read"]["size"]["numbers"] == [60, 147]
        assert searches
        with connection.cursor() as cursor:
            # So few rows are as quickly read one after another; that way is closed, to see the other one.
            cursor.execute("SET LOCAL enable_seqscan = off; SET LOCAL enable_indexscan = off")
            for sql in searches:
                cursor.execute(f"EXPLAIN {sql}")
                assert "pump_model_by_type_trigrams" in "\n".join(row[0] for row in cursor.fetchall())

    def test_a_serial_is_looked_up_by_its_index(self):
        with connection.cursor() as cursor:
            cursor.execute("SET LOCAL enable_seqscan = off")
            cursor.execute("EXPLAIN SELECT id FROM assets_pump WHERE nameplate_key(serial_number) = 'x'")
            assert "pump_by_serial_key" in "\n".join(row[0] for row in cursor.fetchall())


class TestMatching:
    def test_a_scanned_plate_finds_the_model_and_nothing_is_written(self, ask, models):
        before = Change.objects.count()
        answer = ask(text=PLATE)
        assert (answer["decision"], answer["question"]) == ("found", "")
        assert answer["model"]["code"] == models[0].code
        assert answer["score"] > 0.98
        assert answer["runner_up"]["score"] < 0.5
        assert answer["read"]["year"] == 2019
        assert answer["read"]["figures"] == {"power_kw": "15", "speed_rpm": "2900"}
        assert Change.objects.count() == before

    def test_fields_do_as_well(self, ask, models):
        answer = ask(maker="Tarnfell", type_text="NB 65-40-200", figures={"speed_rpm": "1455"})
        assert (answer["decision"], answer["model"]["code"]) == ("found", models[5].code)
        assert answer["parts"] == {"maker": 1.0, "series": 1.0, "size": 1.0, "figures": 1.0}

    def test_without_the_maker_two_have_it_and_the_maker_is_asked_for(self, ask, models):
        answer = ask(type_text="NB 65-40-200")
        assert answer["decision"] == "ask"
        assert "Norrvik Pumps or Tarnfell Hydraulics" in answer["question"]
        assert [one["score"] for one in answer["candidates"][:2]] == [1.0, 1.0]

    def test_misread_signs_are_found_with_a_note(self, ask, models):
        answer = ask(maker="N0RRVIK PUMPS", type_text="N8 65-4O-2OO")
        assert (answer["decision"], answer["model"]["code"]) == ("found", models[0].code)
        assert any("65-4O-2OO was read as 65-40-200" in one for one in answer["notes"])

    def test_a_wrong_figure_is_asked_about(self, ask, models):
        answer = ask(maker="Norrvik Pumps", type_text="NB 65-40-300")
        assert answer["decision"] == "ask"
        assert answer["candidates"][0]["against"] == ["size"]
        assert "figures" in answer["question"]

    def test_a_size_is_a_candidate_however_little_the_rest_is_like_it(self, ask, models):
        codes = [one["model"]["code"] for one in ask(type_text="Unreadable word 80-65-160")["candidates"]]
        assert models[2].code in codes

    def test_an_empty_catalogue_is_answered(self, ask):
        answer = ask(type_text="NB 65-40-200")
        assert (answer["decision"], answer["model"], answer["candidates"]) == ("ask", None, [])

    @pytest.mark.parametrize("body", [{}, {"text": " \n "}, {"year": 2019}])
    def test_nothing_given_is_refused_and_the_fields_named(self, ask, body):
        refused = ask(status=422, **body)
        assert [one["pointer"] for one in refused["errors"]] == ["#/text", "#/type_text", "#/maker", "#/serial"]

    @pytest.mark.parametrize(
        ("body", "pointer"),
        [
            ({"type_text": "NB", "year": 1066}, "#/year"),
            ({"type_text": "NB", "figures": {"speed_rpm": "-1"}}, "#/figures/speed_rpm"),
            ({"type_text": "NB", "sped": 1}, "#/sped"),
            ({"text": "x" * 2001}, "#/text"),
        ],
    )
    def test_what_cannot_be_is_refused(self, ask, body, pointer):
        assert ask(status=422, **body)["errors"][0]["pointer"] == pointer

    def test_statements_do_not_grow_with_the_catalogue(self, ask, cast, makers, models):
        make_pump(cast, models[0], cast.north, "P-117", "NB2019-0117")
        ask(text=PLATE)
        counts = []
        for number in (0, 40):
            for extra in range(number):
                another = make_model(makers["norrvik"], "NB", f"65-40-3{extra:02}")
                make_pump(cast, another, cast.north, f"X-{extra}", "NB2019-0117")
            with CaptureQueriesContext(connection) as captured:
                answer = ask(text=PLATE)
            counts.append(len(captured))
        assert len(answer["pumps"]) == 5
        assert counts[0] == counts[1] <= 9


class TestPumps:
    def test_an_installed_pump_with_this_serial_is_said_first(self, ask, cast, models):
        pump = make_pump(cast, models[0], cast.north, "P-117", "NB2019-0117")
        answer = ask(text=PLATE)
        assert [(one["id"], one["tag"], one["site_code"]) for one in answer["pumps"]] == [
            (str(pump.pk), "P-117", "north")
        ]
        assert answer["pumps"][0]["score"] > 0.98
        assert answer["notes"][0] == "pump P-117 at North has this serial number"

    def test_the_serial_tells_models_apart_that_are_written_the_same(self, ask, cast, models):
        assert ask(type_text="Skerra K 50-200", serial="SK-7001")["decision"] == "ask"
        make_pump(cast, models[4], cast.north, "P-9", "SK-7001")
        answer = ask(type_text="Skerra K 50-200", serial="sk 7001")
        assert (answer["decision"], answer["model"]["configuration"]) == ("found", "in-line")
        assert any("tells" in one for one in answer["notes"])

    def test_a_misread_serial_is_shown_as_such_and_tells_nothing_apart(self, ask, cast, models):
        make_pump(cast, models[4], cast.north, "P-9", "SK-7001")
        answer = ask(type_text="Skerra K 50-200", serial="SK-7OOI")
        assert (answer["decision"], answer["pumps"][0]["same_serial"]) == ("ask", False)

    def test_with_a_serial_alone_the_pump_is_asked_about(self, ask, cast, models):
        make_pump(cast, models[0], cast.north, "P-117", "NB2019-0117")
        answer = ask(serial="NB2019-0117")
        assert answer["decision"] == "ask"
        assert answer["question"].startswith("Is it pump P-117 at North?")

    def test_a_pump_of_another_model_is_shown_with_what_speaks_against_it(self, ask, cast, models):
        make_pump(cast, models[2], cast.north, "P-117", "NB2019-0117")
        answer = ask(text=PLATE)
        assert answer["model"]["code"] == models[0].code
        assert any("does not agree with the plate in: size" in one for one in answer["notes"])

    def test_pumps_of_other_sites_are_neither_shown_nor_used(self, ask, cast, models):
        before = ask(type_text="Skerra K 50-200", serial="SK-7001", maker="Skerrholm")
        make_pump(cast, models[4], cast.south, "P-9", "SK-7001")
        after = ask(type_text="Skerra K 50-200", serial="SK-7001", maker="Skerrholm")
        assert before == after
        assert after["pumps"] == []
        stranger = Hand(cast.client("stranger")).post("nameplates/match", {"serial": "SK-7001"})
        assert [one["tag"] for one in stranger["pumps"]] == ["P-9"]

    def test_whoever_is_signed_in_may_ask_and_reading_is_enough(self, cast, models):
        pump = make_pump(cast, models[0], cast.north, "P-117", "NB2019-0117")
        for role in sorted(cast.people):
            client = client_for(cast.people[role], ("read",))
            answer = client.post("/api/v1/nameplates/match", {"text": PLATE}, format="json")
            assert (answer.status_code, answer.json()["decision"]) == (200, "found"), role
            assert bool(answer.json()["pumps"]) == (role not in {"stranger", "nobody"}), role
            assert (str(pump.pk) in answer.content.decode()) == (role not in {"stranger", "nobody"}), role
        assert Pump.objects.count() == 1

    def test_a_serial_of_two_signs_says_nothing(self, ask, cast, models):
        make_pump(cast, models[0], cast.north, "P-1", "12")
        assert ask(serial="12")["pumps"] == []


def test_ids_of_the_answer_are_those_of_the_catalogue(ask, models):
    assert uuid.UUID(ask(text=PLATE)["model"]["id"]) == models[0].pk
