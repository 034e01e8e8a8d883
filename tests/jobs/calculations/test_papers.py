"""Papers read back from the printed page by another hand: cautions with their steps, nothing cut, codes that decode."""

import re

import numpy as np
import pypdfium2
import pytest

from jobs.calculations.job_sheet import job_sheet_content
from jobs.calculations.overhaul_record import overhaul_record_content, verify_address
from jobs.calculations.paper_pdf import PAPERS, content_tag, paper_pdf
from jobs.calculations.trend_plot import Point, trend_plot
from tests.jobs.calculations import made_up_papers as made_up
from tests.printed_pages import pages, symbols, text_of

DPI = 72
ADDRESS = "https://pumps.example.org"
BOTH = [("a4", "metric"), ("a4", "inch"), ("letter", "metric"), ("letter", "inch")]


def sheet_pdf(paper="a4", units="metric", **changes):
    content = job_sheet_content(made_up.sheet(**changes), units=units)
    return paper_pdf("job_sheet.typ", content, paper=paper, at=made_up.BEGAN)


def record_pdf(paper="a4", units="metric", **changes):
    content = overhaul_record_content(made_up.record(**changes), units=units, public_address=ADDRESS)
    return paper_pdf("overhaul_record.typ", content, paper=paper, at=made_up.BEGAN)


def flat(text):
    """Words without regard to where lines are broken."""
    return re.sub(r"\s+", " ", text.replace("\ufffe", "").replace("\u200b", "").replace("\r", ""))


def nothing_touches_the_edge(pdf, margin_mm=7):
    """Everything printed keeps clear of the edges of the paper."""
    for page in pages(pdf, dpi=DPI):
        edge = int(margin_mm / 25.4 * DPI)
        inner = np.array(page)
        inner[edge:-edge, edge:-edge] = 255
        assert inner.min() > 200


@pytest.mark.parametrize(("paper", "units"), BOTH)
def test_every_caution_of_every_step_that_applies_is_on_the_page_of_its_step(paper, units):
    texts = [flat(one) for one in text_of(sheet_pdf(paper, units))]
    asked = [one for one in made_up.steps() if one["caution"] and one["state"] != "not-applicable"]
    assert len(asked) > 25
    for one in asked:
        title = f"{one['number']} {one['title']}"
        (page,) = [text for text in texts if title in text and flat(one["caution"]) in text]
        after = page[page.index(title) :]
        assert after.index(one["signal_word"].upper()) < after.index(flat(one["caution"]))
        assert after.index(flat(one["caution"])) < after.index(flat(one["instruction"])[:40])


@pytest.mark.parametrize(("paper", "units"), BOTH)
@pytest.mark.parametrize("printed", [sheet_pdf, record_pdf])
def test_pages_have_their_size_their_number_their_job_and_free_edges(printed, paper, units):
    pdf = printed(paper, units)
    document = pypdfium2.PdfDocument(pdf)
    for page in document:
        width, height = page.get_size()
        assert width / 72 * 25.4 == pytest.approx(PAPERS[paper]["width"], abs=0.1)
        assert height / 72 * 25.4 == pytest.approx(PAPERS[paper]["height"], abs=0.1)
    for place, text in enumerate(text_of(pdf), start=1):
        assert f"{place} of {len(document)}" in flat(text)
        assert "J-2026-00117" in text
        assert "local law come before this paper" in flat(text)
    nothing_touches_the_edge(pdf)


def test_the_sheet_defers_to_maker_site_permits_and_licences():
    first = flat(text_of(sheet_pdf())[0])
    for words in (
        "The pump maker's instructions, site rules, permits to work and local law",
        "lock and tag",
        "licensed",
    ):
        assert words in first.replace("\u2019", "'")


def test_the_sheet_shows_limits_in_both_systems_and_boxes_for_each_reading():
    text = flat(" ".join(text_of(sheet_pdf("a4", "metric"))))
    assert "40.002 to 40.013 mm (1.57489 to 1.57531 in)" in text
    assert "5 to 40 °C (41 to 104 °F)" in text
    assert "1.57489 to 1.57531 in (40.002 to 40.013 mm)" in flat(" ".join(text_of(sheet_pdf("a4", "inch"))))


def test_kit_lubricants_tools_instruments_and_hold_points_stand_before_the_steps():
    text = flat(" ".join(text_of(sheet_pdf()))).replace("\u2019", "'")
    head = text[: text.index("Make safe 10 ") if "Make safe 10 " in text else text.index("10 Isolate and lock")]
    for words in (
        "OR-226-E",
        "lot L-2026-014, bin A-03",
        "Mineral grease forbidden",
        "torque wrench",
        "dial indicator",
    ):
        assert words in head
    assert "390 Tighten the casing screws, part 3" in head
    assert text.count("Looked at and released by another person, who did not do this step") == 2


def test_a_step_that_does_not_apply_is_named_with_its_reason():
    text = flat(" ".join(text_of(sheet_pdf())))
    assert "330 Fit the O-rings, part 3 elastomer is EPDM, not NBR" in text


def test_what_could_not_be_resolved_is_said_at_its_step():
    text = flat(" ".join(text_of(sheet_pdf(unresolved={220: ["No bore is known."]}))))
    assert "Not resolved for this pump: No bore is known. Ask before you go on." in text


def test_a_step_longer_than_a_page_is_not_cut_off_and_its_head_stays_with_its_caution():
    long = made_up.step(6, instruction=" ".join(f"Word{one}." for one in range(1500)))
    pdf = sheet_pdf(steps=[*made_up.steps()[:6], long, *made_up.steps()[7:]])
    text = flat(" ".join(text_of(pdf)))
    assert "Word0." in text
    assert "Word1499." in text
    nothing_touches_the_edge(pdf)
    (page,) = [flat(one) for one in text_of(pdf) if f"70 {long['title']}" in flat(one)]
    assert flat(long["caution"]) in page


def test_long_words_and_what_looks_like_markup_are_printed_as_they_are():
    odd = made_up.step(0, title='#panic("x") *bold* $x^2$', instruction="W" * 400, caution="_a_ <b> // \\ #sym.arrow")
    pdf = sheet_pdf(steps=[odd])
    text = flat(" ".join(text_of(pdf)))
    assert '#panic("x") *bold* $x^2$' in text.replace("\u201c", '"').replace("\u201d", '"')
    assert "_a_ <b> // \\ #sym.arrow" in text
    assert text.replace(" ", "").count("W") >= 400
    nothing_touches_the_edge(pdf)


@pytest.mark.parametrize(("paper", "units"), BOTH)
def test_the_code_on_a_record_leads_to_its_verification(paper, units):
    pdf = record_pdf(paper, units)
    seen = [one for page in pages(pdf) for one in symbols(page)]
    assert [one.text for one in seen] == [f"{ADDRESS}/records/{'9f' * 32}"]
    assert verify_address(ADDRESS, "sha256:" + "9f" * 32) == seen[0].text
    digits = "".join(text_of(pdf)).replace("\r\n", "").replace("\n", "").replace(" ", "")
    assert digits.count("9f" * 32) >= 2


def test_a_record_shows_values_with_uncertainty_limits_verdicts_and_what_was_conceded():
    text = flat(" ".join(text_of(record_pdf())))
    assert "0.0310 ± 0.0041 mm" in text
    assert "measured again later" in text
    assert re.search(r"40\.0145 ± 0\.0023 mm.{0,120}rejected conceded", text)
    assert "Holds for: This shaft, until the next overhaul; then renew the shaft." in text
    assert "use as is, under a concession" in text
    assert "sealed with key 2026-a" in text
    assert "6 of 7" in text


def test_a_record_that_is_not_signed_says_so_and_has_no_code():
    state = made_up.job(state="in-progress", started_at=made_up.BEGAN)
    pdf = record_pdf(job=state, signatures=[], link=None)
    assert "Not signed off: the job is in progress" in flat(text_of(pdf)[0])
    assert [one for page in pages(pdf) for one in symbols(page)] == []


def test_a_record_of_a_job_without_anything_is_a_page_too():
    empty: dict[str, list[str]] = {
        name: []
        for name in (
            "steps", "fitted", "removed", "nonconformities", "signatures", "earlier", "findings", "extra_parts",
            "returns", "attachments", "offline_records",
        )
    }  # fmt: skip
    nobody = {"minutes": 0, "by_section": [], "by_step": [], "by_person": []}
    text = flat(" ".join(text_of(record_pdf(**empty, work=nobody, link=None))))
    for words in ("Nothing was measured.", "None is recorded.", "None was raised.", "Nobody has signed yet."):
        assert words in text


def test_the_head_of_a_table_comes_again_on_its_next_page():
    texts = [flat(one) for one in text_of(record_pdf("letter", "inch"))]
    assert sum("Step Title Done by Released by" in one for one in texts) >= 2


def test_equal_content_gives_equal_bytes_and_one_tag():
    assert sheet_pdf() == sheet_pdf()
    assert record_pdf("letter", "inch") == record_pdf("letter", "inch")
    one, other = (job_sheet_content(made_up.sheet(), units=units) for units in ("metric", "inch"))
    assert content_tag(one, paper="a4") == content_tag(one, paper="a4")
    assert len({content_tag(one, paper="a4"), content_tag(one, paper="letter"), content_tag(other, paper="a4")}) == 3


@pytest.mark.parametrize("values", [[1.0, 1.0], [0.0, 0.0, 0.0], [5.0, -3.0], [1e-6, 2e-6]])
def test_a_plot_keeps_its_points_within_its_frame(values):
    day = made_up.BEGAN.date()
    svg = trend_plot([Point(day, one, 0.0) for one in values], lower=None, upper=max(values) + 1)
    heights = [float(one) for one in re.findall(r"cy='([-\d.]+)'", svg)]
    assert all(8 <= one <= 90 for one in heights)
