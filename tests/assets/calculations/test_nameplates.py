"""Reading a nameplate and finding its model. Makers and models are invented.

Weights, threshold and margin, labels and misread signs: common practice, no source. Trigrams after PostgreSQL's
documentation, appendix F, pg_trgm; held against the extension itself in tests/assets/test_nameplates.py.
"""

import itertools
import uuid
from decimal import Decimal

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from rapidfuzz.process import extractOne
from rapidfuzz.utils import default_process

from assets.calculations.nameplate_questions import STAY_CLEAR, question_for
from assets.calculations.nameplate_reading import Reading, read_plate, with_given
from assets.calculations.nameplates import PlateModel, is_found, maker_alike, rank, score_model
from assets.calculations.plate_text import (
    Size,
    compact_key,
    find_misread_size,
    parse_size,
    similarity,
    tokens,
    trigrams,
)
from tests.pint_units import FLOATING

MAKERS = {"norrvik": "Norrvik Pumps", "skerrholm": "Skerrholm", "tarnfell": "Tarnfell Hydraulics"}


PLATES = {
    "English": [
        "NORRVIK PUMPS AS",
        "Type: NB 65-40-200  S/N NB2019-0117",
        "Year 2019 Q 50 m³/h H 32 m n 2900 rpm P 15 kW",
    ],
    "German": [
        "Hersteller: Norrvik Pumps",
        "Typ NB 65-40-200 Fabr.-Nr. NB2019-0117",
        "Baujahr 2019",
        "Q 50 m3/h H=32 m n=2.900 min⁻¹ P2 15,0 kW",
    ],
    "French": [
        "Fabricant : Norrvik Pumps",
        "Modèle NB 65-40-200",
        "N° de série NB2019-0117 Année de fabrication 2019",
        "Q 50 m³/h H 32 m 2 900 tr/min 15 kW",
    ],
    "Spanish": [
        "Fabricante Norrvik Pumps",
        "Modelo: NB 65-40-200",
        "Nº de serie NB2019-0117 Año 2019",
        "Q 50 m3/h H 32 m n 2900 r/min P 15 kW",
    ],
    "Norwegian": [
        "Produsent Norrvik Pumps",
        "TYPE",
        "NB 65-40-200",
        "Serienr. NB2019-0117 Byggeår: 2019",
        "Q 50 m3/h H 32 m 2900 o/min 15 kW",
    ],
}


def model(series, designation, maker="norrvik", built="close-coupled", speed=2900, power=15):
    return PlateModel(
        uuid.uuid4(), f"{series}-{designation}-{built}", maker, MAKERS[maker], series, designation, built,
        Decimal(speed), Decimal(power), Decimal(43),
    )  # fmt: skip


CATALOGUE = [
    model("NB", "65-40-200"),
    model("NB", "65-40-250"),
    model("NB", "80-65-160"),
    model("NB", "65-160"),
    model("NB", "40-160/15"),
    model("NB", "40-160/11", power=11),
    model("NB", "40-160"),
    model("NK", "50-200"),
    model("Skerra C", "40-160", "skerrholm"),
    model("Skerra P", "80-65-160", "skerrholm"),
    model("Skerra K", "50-200", "skerrholm", "close-coupled"),
    model("Skerra K", "50-200", "skerrholm", "in-line"),
    model("Tarna 2G", "150-315", "tarnfell", speed=1450, power=45),
    model("Tarna 3G", "150-315", "tarnfell", speed=1450, power=45),
    model("Tarna", "V8", "tarnfell"),
]


def matched(type_text, maker="", **figures):
    reading = Reading(
        maker=maker, type_text=type_text, figures={name: Decimal(value) for name, value in figures.items()}
    )
    ranked = rank(reading, CATALOGUE)
    return reading, ranked


def found(type_text, maker="", **figures):
    _, ranked = matched(type_text, maker, **figures)
    return ranked[0].model.type_text if is_found(ranked) else None


class TestSizes:
    @pytest.mark.parametrize(
        ("text", "numbers", "form"),
        [
            # Value from memory: ISO 2858 suction-discharge-impeller; EN 733 discharge-impeller, suction unknown.
            ("80-65-160", (80, 65, 160), "iso-2858"),
            ("65-160", (65, 160), "en-733"),
            ("NB65-40-200/209 A", (65, 40, 200), "iso-2858"),
            ("80/65-160", (80, 65, 160), "iso-2858"),
            ("80 × 65 × 160", (80, 65, 160), "iso-2858"),
            ("80 – 65 – 160", (80, 65, 160), "iso-2858"),
            ("Skerra C 40 160", (40, 160), "en-733"),
            ("T2-65-160", (65, 160), "en-733"),
            ("30-65-160", (30, 65, 160), "other"),
            ("8O-65-160", (65, 160), "unsure"),
        ],
    )
    def test_numbers_are_read_in_the_forms_of_the_standards(self, text, numbers, form):
        seen = parse_size(text)
        assert seen is not None
        assert (seen.size.numbers, seen.size.form) == (numbers, form)

    @pytest.mark.parametrize("text", ["NB", "V8", "2019-03-12", "3/2019", ""])
    def test_what_is_no_size_is_none(self, text):
        assert parse_size(text) is None

    @pytest.mark.parametrize("text", ["8O-65-160", "80-6S-l60", "B0-65-I6O"])
    def test_misread_signs_are_told(self, text):
        seen = find_misread_size(f"NB {text}", Size((80, 65, 160), "iso-2858"))
        assert seen is not None
        assert seen[0] == text

    @pytest.mark.parametrize("text", ["80-65-160", "180-65-16O", "80-65-16O-9", "4-8O-65-160"])
    def test_what_stands_there_plainly_or_goes_on_is_not_misread(self, text):
        assert find_misread_size(text, Size((80, 65, 160), "iso-2858")) is None

    def test_what_is_unsure_equals_nothing(self):
        assert not Size((65, 160), "unsure").same_figures(Size((65, 160), "en-733"))
        assert Size((65, 160), "en-733").same_figures(Size((65, 160), "other"))


class TestTexts:
    @pytest.mark.parametrize(
        "text", ["NB 65-40-200", "nb65–40/200", "  Nb 65 — 40 ‑ 200 ", "ＮＢ 65 × 40 × 200", "ñb 65.40.200"]
    )
    def test_case_spaces_dashes_strokes_and_accents_make_no_difference(self, text):
        assert tokens(text) == ("nb", "65", "40", "200")

    def test_the_weak_key_takes_misread_signs_for_equal(self):
        assert compact_key("N8 65-4O-2OO") == compact_key("NB 65-40-200")
        assert tokens("N8 65-4O-2OO") != tokens("NB 65-40-200")

    def test_trigrams_of_a_word(self):
        # PostgreSQL documentation, appendix F, pg_trgm: the trigrams of "cat", and of "foo|bar".
        assert trigrams("cat") == {"  c", " ca", "cat", "at "}
        assert trigrams("foo|bar") == {"  f", " fo", "foo", "oo ", "  b", " ba", "bar", "ar "}

    def test_similarity_of_the_documentation(self):
        # The same appendix: similarity('word', 'two words') is 0.363636.
        assert round(similarity("word", "two words"), 6) == 0.363636

    @given(st.text(), st.text())
    def test_similarity_is_symmetric_and_within_nothing_and_all(self, one, other):
        assert 0 <= similarity(one, other) == similarity(other, one) <= 1

    def test_another_measure_finds_the_same_nearest_series(self):
        """rapidfuzz's weighted ratio of edits, a measure of another kind, agrees on which series is meant."""
        series = sorted({one.series for one in CATALOGUE})
        for wrong in ("Skera C", "Skerra  c", "Tarna 2 G", "Tarna-3G", "Skerre K", "Skerra PP"):
            ours = max(series, key=lambda one: similarity(" ".join(tokens(wrong)), " ".join(tokens(one))))
            theirs = extractOne(wrong, series, processor=lambda text: default_process(" ".join(tokens(text))))[0]
            assert ours == theirs, wrong


class TestReading:
    @pytest.mark.parametrize("language", PLATES)
    def test_labels_of_five_languages(self, language):
        seen = read_plate("\n".join(PLATES[language]), makers=MAKERS.values())
        assert (seen.maker, seen.type_text, seen.serial, seen.year) == (
            "Norrvik Pumps",
            "NB 65-40-200",
            "NB2019-0117",
            2019,
        )
        assert seen.figures == {"flow_m3_h": 50, "head_m": 32, "speed_rpm": 2900, "power_kw": 15}
        assert seen.missing_of_minimum() == []

    def test_what_is_mended_is_told(self):
        notes = read_plate("Typ NB 65-160 n 2.900 1/min P 15,0 kW").notes
        assert notes == ("2.900 1/min read with thousands parted", "15,0: decimal comma read as a decimal point")

    def test_a_line_without_a_label_is_told_by_its_size_and_the_maker_by_the_catalogue(self):
        seen = read_plate("Norrvlk Pumps\nNB 65-40-200/209\nNo 4711\nmax 16 bar 120 °C 98 kg", makers=MAKERS.values())
        assert (seen.maker, seen.type_text, seen.serial) == ("Norrvik Pumps", "NB 65-40-200/209", "4711")
        assert len(seen.notes) == 3

    def test_numbers_of_other_things_are_not_the_pumps(self):
        seen = read_plate("Order No 12-345\nArt.-Nr. 99-100\nPump type NB 65-160")
        assert (seen.type_text, seen.serial) == ("NB 65-160", "")

    def test_what_a_plate_should_say_and_does_not(self):
        # EN 809: maker, type, serial number, year (value from memory).
        assert read_plate("Type NB 65-160").missing_of_minimum() == ["maker", "serial number", "year"]

    @pytest.mark.parametrize(
        ("text", "name", "unit", "value"),
        [
            ("P 20 hp", "power_kw", "horsepower", 20),
            ("P 20 PS", "power_kw", "metric_horsepower", 20),
            ("Q 12.5 l/s", "flow_m3_h", "liter / second", Decimal("12.5")),
            ("Q 900 l/min", "flow_m3_h", "liter / minute", 900),
        ],
    )
    def test_units_as_pint_converts_them(self, text, name, unit, value):
        target = {"power_kw": "kilowatt", "flow_m3_h": "meter ** 3 / hour"}[name]
        units = FLOATING
        assert float(read_plate(text).figures[name]) == pytest.approx(
            units.Quantity(float(value), unit).to(target).m, 1e-6
        )

    def test_fields_outrank_the_text_and_a_difference_is_told(self):
        seen = with_given(read_plate("Type NB 65-160\nYear 2018"), type_text="NB 65-40-200", year=2019)
        assert (seen.type_text, seen.year, len(seen.notes)) == ("NB 65-40-200", 2019, 2)

    @given(st.text(max_size=400))
    def test_whatever_is_scanned_is_read_without_a_fault(self, text):
        seen = read_plate(text, makers=MAKERS.values())
        for one in rank(seen, CATALOGUE):
            assert 0 <= one.score <= 1
        assert is_found(rank(seen, CATALOGUE)) or question_for(seen, rank(seen, CATALOGUE))

    def test_a_long_text_is_cut_and_that_is_told(self):
        assert read_plate("x\n" * 60).notes[0].startswith("only the first 40 lines")


class TestScores:
    @pytest.mark.parametrize("one", [each for each in CATALOGUE if each.series != "Skerra K"], ids=lambda one: one.code)
    def test_the_text_as_written_scores_one_and_is_found(self, one):
        _, ranked = matched(one.type_text)
        assert (ranked[0].model, ranked[0].score, is_found(ranked)) == (one, 1.0, True)
        reading, ranked = matched(one.type_text, one.maker, speed_rpm=one.rated_speed_rpm, power_kw=one.rated_power_kw)
        assert (ranked[0].model, ranked[0].score, is_found(ranked)) == (one, 1.0, True)
        assert ranked[0].parts == {"maker": 1.0, "series": 1.0, "size": 1.0, "figures": 1.0}
        assert question_for(reading, ranked) == ""

    @given(st.sampled_from(CATALOGUE), st.data())
    def test_case_and_spacing_change_no_score(self, one, data):
        text = one.type_text
        cased = data.draw(st.sampled_from([text.upper(), text.lower(), text.swapcase(), text.title()]))
        spaced = cased.replace("-", data.draw(st.sampled_from(["-", " - ", "–", " – ", "‑"]))).replace(" ", "  ")
        plain, other = (rank(Reading(type_text=each), CATALOGUE) for each in (text, spaced))
        assert [(each.model.id, each.score) for each in plain] == [(each.model.id, each.score) for each in other]

    @given(st.sampled_from(CATALOGUE), st.data())
    def test_a_size_with_another_figure_never_finds_that_model(self, one, data):
        places = [at for at, sign in enumerate(one.designation) if sign.isdecimal()]
        at = data.draw(st.sampled_from(places))
        digit = data.draw(st.sampled_from("0123456789"))
        assume(digit != one.designation[at])
        swapped = one.designation[:at] + digit + one.designation[at + 1 :]
        for maker, text in itertools.product(("", one.maker), (f"{one.series} {swapped}", f"{one.series}-{swapped}")):
            ranked = rank(Reading(maker=maker, type_text=text), CATALOGUE)
            assert not (is_found(ranked) and ranked[0].model.designation == one.designation)
            assert score_model(Reading(maker=maker, type_text=text), one).score < 0.5 or "/" in one.designation

    def test_a_wrong_figure_weighs_more_than_all_that_is_alike(self):
        right = score_model(Reading(maker="Norrvik Pumps", type_text="NB 65-40-200"), CATALOGUE[0])
        wrong = score_model(
            Reading(maker="Norrvik Pumps", type_text="NB 65-40-250", figures={"speed_rpm": Decimal(2900)}), CATALOGUE[0]
        )
        assert (right.score, wrong.against) == (1.0, ("size",))
        assert wrong.score < 0.35

    @pytest.mark.parametrize(
        ("text", "which"),
        [
            ("N8 65-4O-2OO", "NB 65-40-200"),
            ("NB 65-40-200/209 A-F", "NB 65-40-200"),
            ("pump NB 80-65-160", "NB 80-65-160"),
            ("NB 40-160/15", "NB 40-160/15"),
            ("Tarna V8", "Tarna V8"),
        ],
    )
    def test_misread_signs_and_what_stands_around_do_not_hinder(self, text, which):
        assert found(text) == which

    @pytest.mark.parametrize(
        ("text", "maker"),
        [
            ("NB 30-65-160", ""),
            ("NB 90-65-160", ""),
            ("8O-65-160", ""),
            ("80-65-160", ""),
            ("NB", "Norrvik"),
            ("", "Norrvik"),
            ("NB 80-65-160", "Tarnfell Hydraulics"),
            ("NB 80-65-160", "Quite Another"),
            ("Skerra D 40-160", "Skerrholm"),
            ("Tarna 4G 150-315", "Tarnfell Hydraulics"),
            ("NB 40-160/18", "Norrvik"),
            ("Tarna V9", ""),
        ],
    )
    def test_it_asks_rather_than_guesses(self, text, maker):
        reading, ranked = matched(text, maker)
        assert not is_found(ranked)
        assert len(question_for(reading, ranked)) > 30

    def test_a_size_alone_finds_nothing_even_where_one_model_has_it(self):
        assert not is_found(rank(Reading(type_text="65-40-200"), CATALOGUE[:1]))

    def test_two_that_are_equal_are_asked_about(self):
        reading, ranked = matched("Skerra K 50-200", "Skerrholm")
        assert (ranked[0].score, ranked[1].score, is_found(ranked)) == (1.0, 1.0, False)
        asked = question_for(reading, ranked)
        assert "close-coupled" in asked
        assert "in-line" in asked
        assert STAY_CLEAR in asked

    def test_speed_tells_two_apart_or_is_asked_for(self):
        two = [model("NB", "50-200", speed=2900, power=11), model("NB", "50-200", speed=1450, power=11)]
        ranked = rank(Reading(type_text="NB 50-200"), two)
        assert not is_found(ranked)
        assert question_for(Reading(type_text="NB 50-200"), ranked).endswith(
            "2900 1/min or 1450 1/min: read the speed n."
        )
        slow = rank(Reading(type_text="NB 50-200", figures={"speed_rpm": Decimal(1455)}), two)
        assert (slow[0].model.rated_speed_rpm, is_found(slow)) == (1450, True)

    def test_two_makers_of_one_type_are_asked_about(self):
        two = [model("NB", "50-200"), model("NB", "50-200", "tarnfell")]
        reading = Reading(type_text="NB 50-200")
        assert "maker" in question_for(reading, rank(reading, two))
        assert is_found(rank(Reading(type_text="NB 50-200", maker="tarnfell"), two))

    def test_threshold_and_margin_are_the_callers(self):
        _, ranked = matched("NB 65-40-200/209")
        assert (is_found(ranked), is_found(ranked, threshold=0.99)) == (True, False)
        _, ranked = matched("N8 65-40-200")
        assert not is_found(ranked, margin=0.9)

    def test_nothing_in_the_catalogue_is_an_answer_too(self):
        reading = Reading(type_text="NB 65-40-200")
        assert "data owner" in question_for(reading, rank(reading, []))

    @pytest.mark.parametrize(
        ("read", "least", "most"),
        [
            ("Norrvik Pumps", 1, 1),
            ("NORRVIK-PUMPS", 1, 1),
            ("norrvik", 1, 1),
            ("Norrvik Pumps AS", 0.9, 0.99),
            ("Norrv1k Pumps", 0.9, 0.99),
            ("Tarnfell", 0, 0.2),
        ],
    )
    def test_makers(self, read, least, most):
        assert least <= maker_alike(read, "Norrvik Pumps", "norrvik") <= most
