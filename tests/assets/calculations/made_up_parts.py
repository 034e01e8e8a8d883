"""Hypothesis strategies for specifications of every category, from small pools so that equal ones come up often."""

from decimal import Decimal

from hypothesis import strategies as st

from assets.calculations.circlips import Circlip
from assets.calculations.fasteners import CARBON, COARSE, Fastener
from assets.calculations.flat_gaskets import FlatGasket
from assets.calculations.keys import FORMS, LENGTHS_MM, SECTIONS, Key
from assets.calculations.lip_seals import WITH_DUST_LIP, LipSeal
from assets.calculations.mechanical_seals import DIAMETERS, MechanicalSeal
from assets.calculations.o_ring_sizes import BY_CODE
from assets.calculations.o_rings import ORing
from assets.calculations.other_parts import Other, Packing
from assets.calculations.plain_rings import Sleeve, WearRing
from assets.calculations.rolling_bearings import CAGES, HEAT, SEALINGS, TOLERANCES, RollingBearing
from assets.calculations.specification_base import ELASTOMERS

CODES = sorted(BY_CODE)
BEARING_CODES = ["6308", "7310", "NU308", "NUP2212", "62/28", "608", "3208", "22210", "16008"]


def sizes(least="1", most="400"):
    """Millimetres to the hundredth."""
    bounds = (int(Decimal(one) * 100) for one in (least, most))
    return st.integers(*bounds).map(lambda one: Decimal(one) / 100)


def often(values, nothing=""):
    """One of a few values, or what stands for nothing written."""
    return st.one_of(st.just(nothing), st.sampled_from(list(values)))


materials = st.sampled_from(["NBR", "FKM", "BRONZE", "FIBRE", "PTFE/GRAPHITE", "1.4571", "GRAPHITE FOIL"])


@st.composite
def o_rings(draw, pool=False):
    if pool or draw(st.booleans()):
        size = BY_CODE[draw(st.sampled_from(["226", "227"] if pool else CODES))]
        inside, section = size.inside_mm, size.section_mm
    else:
        inside, section = draw(sizes("8")), draw(sizes("1", "7.5"))
    scale = draw(st.sampled_from(["hardness_irhd", "hardness_shore_a"]))
    hardness = {scale: draw(st.sampled_from([None, 70, 90]))}
    material = draw(st.sampled_from(["EPDM", "NBR"] if pool else ELASTOMERS))
    return ORing(
        inside,
        section,
        material,
        tolerance_class=draw(often("AB")),
        surface_grade=draw(often(["N", "S", "CS"])),
        **hardness,
    )


@st.composite
def bearings(draw, pool=False):
    codes = (
        ["6308", "NU308"] if pool else ["6308", "7310", "NU308", "NUP2212", "62/28", "608", "3208", "22210", "16008"]
    )
    code = draw(st.sampled_from(codes))
    return RollingBearing(
        code,
        clearance=draw(st.sampled_from(["C2", "CN", "C3", "C4", "C5"])),
        sealing=draw(st.sampled_from(["open", *SEALINGS])),
        contact_angle=draw(often(["A", "AC", "B", "C"])) if code.startswith("7") else "",
        cage=draw(often(CAGES)),
        form=draw(often(["K", "K30", "N", "NR"])),
        inner_design=draw(often("E")) if code.startswith(("NU", "222")) else "",
        tolerance_class=draw(often(TOLERANCES[1:])),
        heat_stabilisation=draw(st.sampled_from(list(HEAT))),
    )


@st.composite
def seals(draw, pool=False):
    face, rubber, metal = (st.sampled_from(one) for one in (["Q", "Q1", "Q2", "B"], ["E", "V", "X4", "M"], ["G", "M"]))
    return MechanicalSeal(
        draw(st.sampled_from("NK")),
        draw(st.sampled_from("UB")),
        Decimal(draw(st.sampled_from((38, 43) if pool else DIAMETERS))),
        draw(st.sampled_from("RLS")),
        draw(st.booleans()),
        (draw(face), draw(face), draw(rubber), draw(metal), draw(metal)),
    )


@st.composite
def rings(draw, kind, pool=False):
    few = st.sampled_from([Decimal(80), Decimal(95)])
    inside, wall, third = draw(few if pool else sizes()), draw(few if pool else sizes()), draw(few if pool else sizes())
    pair = (inside, inside + wall)
    more = {}
    if kind is LipSeal:
        seal_type = draw(often("123456"))
        more = {
            "seal_type": seal_type,
            "dust_lip": seal_type in WITH_DUST_LIP or (not seal_type and draw(st.booleans())),
        }
    material = draw(st.sampled_from(["NBR", "FKM"]) if pool or kind is LipSeal else materials)
    return kind(*(pair[::-1] if kind is FlatGasket else pair), third, material, **more)


def packings(pool=False):
    return st.builds(Packing, st.sampled_from([Decimal(10), Decimal("9.525")]) if pool else sizes(), materials)


def circlips(pool=False):
    few = st.sampled_from([Decimal(40), Decimal(42)])
    thin = st.sampled_from([Decimal("1.75"), Decimal("2.5")])
    place = st.sampled_from(["shaft", "bore"])
    return st.builds(Circlip, place, few if pool else sizes("10"), thin if pool else sizes("0.5", "6"))


@st.composite
def keys(draw, pool=False):
    section = draw(st.sampled_from(list(SECTIONS.values())[:2] if pool else list(SECTIONS.values())))
    length = Decimal(draw(st.sampled_from(LENGTHS_MM[:2] if pool else LENGTHS_MM)))
    return Key(section.width, section.height, length, draw(often(FORMS)))


@st.composite
def fasteners(draw, pool=False):
    threads = ["M12", "M12x1.25"] if pool else [*(f"M{one}" for one in COARSE), "M12x1.25", "M20x1.5"]
    length = draw(st.sampled_from([Decimal(40), Decimal(50)])) if pool else draw(sizes("4"))
    strengths = ["8.8", "A2-70"] if pool else [*CARBON, "A2-70", "A4-80", "A1-50", "A4-100"]
    return Fastener(
        draw(st.sampled_from(threads)), length, draw(st.sampled_from(strengths)), draw(often(["ISO 4762", "DIN 933"]))
    )


def others(pool=False):
    return st.builds(Other, st.sampled_from(["guard bolt set", "deflector 39 mm"]))


def of_category(code, pool=False):
    """Specifications of a category; ``pool``: from a few values only."""
    made = {
        "o-ring": o_rings, "rolling-bearing": bearings, "mechanical-seal": seals, "packing": packings,
        "circlip": circlips, "key": keys, "fastener": fasteners, "other": others,
    }  # fmt: skip
    ring = {"flat-gasket": FlatGasket, "lip-seal": LipSeal, "wear-ring": WearRing, "sleeve": Sleeve}
    return rings(ring[code], pool) if code in ring else made[code](pool)
