"""Tables of the trade handed in as files, and the move of figures to rows of their sources."""

from decimal import Decimal

import pytest
from django.core.management import call_command
from django.db import connection
from django.db.migrations.executor import MigrationExecutor

from assets.models import TemperatureCutPoint
from kits.models import LubricantAdvice, MaterialLimit, MaterialRating
from kits.operations.trade_tables import load_trade_tables
from services.api.loading import LoadRow, known_loads
from services.changes.models import Change
from tests.migrated_back import migrate_back
from tests.world import gather_cast

OWN = "data sheet of the compound in stock"
# For any number of rows: gate, codes, what is kept, the rows themselves, their change records, the cut points.
QUERIES = 12


def load(cast, kind, *rows, by="data-owner"):
    wanted = known_loads()[kind]
    blank = {one.name: None for one in wanted.columns}
    return wanted.run(by=cast.by(by), rows=[LoadRow(at, blank | row) for at, row in enumerate(rows, 1)])


@pytest.mark.django_db
class TestFiles:
    def rating(self, **more):
        row = {
            "material": "FKM", "fluid_family": "water", "up_to_c": Decimal(95), "rating": "B", "source": OWN,
        }  # fmt: skip
        return row | more

    def test_ratings_are_kept_by_key_and_source_and_their_temperatures_cut(self):
        cast = gather_cast()
        (made,) = load(cast, "material-ratings", self.rating())
        assert (made.outcome, made.key) == ("created", f"FKM water 95 {OWN}")
        assert TemperatureCutPoint.objects.filter(celsius=95).exists()
        assert load(cast, "material-ratings", self.rating(up_to_c=Decimal("95.001")))[0].outcome == "unchanged"
        assert load(cast, "material-ratings", self.rating(rating="C"))[0].outcome == "changed"
        kept = MaterialRating.objects.get(source=OWN)
        assert (kept.rating, kept.version) == ("C", 2)
        told = Change.objects.filter(noun="material-rating", noun_id=kept.pk).order_by("noun_version")
        assert [(one.kind, one.noun_version, (one.body or {})["rating"]) for one in told] == [
            ("material-rating.registered", 1, "B"),
            ("material-rating.changed", 2, "C"),
        ]

    @pytest.mark.parametrize(
        ("kind", "row", "column"),
        [
            ("material-ratings", {"material": "CHEESE"}, "material"),
            ("material-ratings", {"fluid_family": "soup"}, "fluid_family"),
            ("material-ratings", {"up_to_c": Decimal(-300)}, "up_to_c"),
            ("material-ratings", {"source": "s" * 301}, "source"),
            ("material-limits", {"material": "NBR", "source": OWN}, "air_max_c"),
            (
                "material-limits",
                {"material": "NBR", "source": OWN, "air_min_c": Decimal(9), "air_max_c": Decimal(8)},
                "air_min_c",
            ),
            (
                "lubricant-verdicts",
                {"material": "NBR", "lubricant": "butter", "source": OWN, "verdict": "ok"},
                "lubricant",
            ),
        ],
    )
    def test_a_row_that_cannot_stand_is_refused_by_column(self, kind, row, column):
        whole = self.rating(**row) if kind == "material-ratings" else row
        (found,) = load(gather_cast(), kind, whole)
        assert (found.outcome, [one.column for one in found.problems]) == ("refused", [column])
        assert found.problems[0].remedy

    def test_limits_below_zero_are_taken_and_a_second_choice_is_not(self):
        cast = gather_cast()
        first = {"material": "NBR", "air_min_c": Decimal(-55), "source": OWN, "chosen_because": "Tested."}
        outcomes = load(cast, "material-limits", first, first | {"source": "another"})
        assert [one.outcome for one in outcomes] == ["created", "refused"]
        assert MaterialLimit.objects.get(source=OWN).air_min_c == Decimal(-55)
        moved = load(cast, "material-limits", first | {"chosen_because": None}, first | {"source": "another"})
        assert [one.outcome for one in moved] == ["changed", "created"]

    def test_lubricant_verdicts(self):
        cast = gather_cast()
        row = {"material": "CR", "lubricant": "silicone-grease", "verdict": "ok", "source": OWN}
        assert load(cast, "lubricant-verdicts", row)[0].outcome == "created"
        assert LubricantAdvice.objects.get(source=OWN).verdict == "ok"

    def test_rows_of_many_make_no_more_statements(self, django_assert_num_queries):
        cast = gather_cast()
        rows = [self.rating(up_to_c=Decimal(90 + at), rating="B") for at in range(3)]
        load(cast, "material-ratings", *rows)
        for wanted in (3, 40):
            rows = [self.rating(up_to_c=Decimal(60), rating="B", source=f"{OWN} {wanted} {at}") for at in range(wanted)]
            with django_assert_num_queries(QUERIES):
                load(cast, "material-ratings", *rows)

    def test_what_the_owner_took_out_does_not_return_with_the_next_installation(self):
        wide = MaterialLimit.objects.get(material__code="NBR", air_max_c=120)
        wide.delete()
        assert load_trade_tables()["material limits"] == 0
        MaterialLimit.objects.filter(material__code="NBR").delete()
        assert load_trade_tables()["material limits"] == 2


@pytest.mark.django_db(transaction=True)
def test_what_stood_with_a_material_becomes_the_row_of_its_source_and_can_go_back():
    """From one figure a material to one a source: what counts is the same before and after, both ways."""
    executor = MigrationExecutor(connection)
    latest = [key for key in executor.loader.graph.leaf_nodes() if key[0] == "kits"]
    migrate_back([("kits", "0009_figures_by_source")])
    old = executor.loader.project_state([("kits", "0009_figures_by_source")]).apps
    materials, ratings = old.get_model("kits", "Material"), old.get_model("kits", "MaterialRating")
    nitrile = materials.objects.get(code="NBR")
    assert (nitrile.air_min_c, nitrile.air_max_c, nitrile.hot_water_max_c) == (-30, 100, 80)
    assert not old.get_model("kits", "MaterialLimit").objects.exists()
    steam = "after the row for saturated steam of the screening table, value from memory"
    assert ratings.objects.filter(source=steam).count() == 7
    materials.objects.filter(code="NBR").update(air_max_c=95, source="the operator's own figure")
    materials.objects.filter(code="VMQ").update(air_min_c=None, air_max_c=None, hot_water_max_c=None)
    MigrationExecutor(connection).migrate(latest)
    (limit,) = MaterialLimit.objects.filter(material__code="NBR")
    assert (limit.air_min_c, limit.air_max_c, limit.source) == (-30, 95, "the operator's own figure")
    assert not MaterialLimit.objects.filter(material__code="VMQ").exists()
    assert not MaterialRating.objects.filter(source=steam).exists()
    assert MaterialRating.objects.filter(up_to_c=130, fluid_family__code="water").count() == 7
    call_command("load_trade_tables", verbosity=0)
    assert MaterialLimit.objects.get(material__code="NBR").air_max_c == 95
