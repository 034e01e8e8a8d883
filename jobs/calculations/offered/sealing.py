"""O-rings in their grooves, seats of mechanical seals and wear rings as they are offered."""

from decimal import Decimal

from assets.calculations.o_ring_sizes import BY_CODE
from jobs.calculations.o_ring_gland import SERVICES, GlandUnusable, gland
from jobs.calculations.offered.declared import (
    LOCAL_RULES,
    MEMORY,
    PRACTICE,
    RULE_OF_THE_SHOP,
    Calculation,
    InputWrong,
    Outcome,
    Output,
    Source,
    choice,
    flag,
    number,
    of,
    quantity,
    text,
)
from jobs.calculations.seal_installation import CHECKS, SIZED_BY, SealCheckUnknown, seal_check
from jobs.calculations.wear_rings import EDITION, PLACE, STANDARD, least_clearance, ring_clearance
from jobs.calculations.written_limits import legible

FAMILY = "seals and rings"
# How many times the clearance at which a ring is renewed is no clearance any more (common practice, no source).
_BEYOND_BELIEF = Decimal(5)
_MAKER = "The maker of the seal or the ring has the last word."


def _gland(
    *,
    service: str,
    size_code: str | None,
    inside_diameter: Decimal | None,
    section: Decimal | None,
    groove_diameter: Decimal | None,
    bore: Decimal | None,
    depth: Decimal | None,
    width: Decimal,
) -> Outcome:
    inside, thick = _ring(size_code, inside_diameter, section)
    if service != "static-face" and groove_diameter is None:
        raise InputWrong("groove_diameter", "How far the ring is stretched depends on it.", "Give the diameter.")
    try:
        found = gland(
            section_mm=thick,
            depth_mm=_depth(depth, bore, groove_diameter),
            width_mm=width,
            service=service,
            inside_mm=inside,
            groove_diameter_mm=groove_diameter,
        )
    except GlandUnusable as error:
        raise InputWrong(error.what, str(error)) from error
    return Outcome(
        {
            "stretch": found.stretch_percent,
            "section_loss": found.section_loss_percent,
            "stretched_section": found.stretched_section_mm,
            "squeeze": found.squeeze_percent,
            "fill": found.fill_percent,
            "finding": found.finding,
        },
        " ".join(found.reasons),
    )


def _ring(code: str | None, inside: Decimal | None, section: Decimal | None) -> tuple[Decimal | None, Decimal]:
    if code is not None:
        if inside is not None or section is not None:
            raise InputWrong("size_code", "The code and sizes are both given.", "Give the one or the other.")
        if code not in BY_CODE:
            raise InputWrong("size_code", f"ISO 3601-1 has no size code {code!r}.", "Give diameters instead.")
        return BY_CODE[code].inside_mm, BY_CODE[code].section_mm
    if section is None:
        raise InputWrong("section", "The ring is not known.", "Give size_code, or inside_diameter and section.")
    return inside, section


def _depth(depth: Decimal | None, bore: Decimal | None, groove: Decimal | None) -> Decimal:
    if (depth is None) == (bore is None):
        raise InputWrong("depth", "The depth of the groove is not known, or twice.", "Give depth, or bore, not both.")
    if depth is not None:
        return depth
    if groove is None or bore is None or bore <= groove:
        raise InputWrong("bore", "The bore must be larger than the groove's diameter.", "Give both, in any unit.")
    return (bore - groove) / 2


def _seat(*, check: str, size: Decimal | None, measured: Decimal | None) -> Outcome:
    try:
        found = seal_check(check, size if SIZED_BY[check] else None)
    except SealCheckUnknown as error:
        raise InputWrong("size", str(error)) from error
    # What was measured comes in micrometres, whatever the unit of the limit.
    limit_um = found.upper * 1000 if found.unit == "mm" else found.upper
    words = found.sentence()
    within = None
    if measured is not None:
        within = measured <= limit_um
        told = f"{legible(measured / 1000)} mm" if found.unit == "mm" else f"{legible(measured, 'um')} µm"
        words += f" The measured {told} is {'within' if within else 'above'} it."
    sure = MEMORY if "memory" in found.source else PRACTICE
    source = Source("API 610", "", "", MEMORY) if sure == MEMORY else RULE_OF_THE_SHOP
    return Outcome({"limit": limit_um, "within": within}, words, (source,))


def _rings(
    *,
    diameter: Decimal,
    as_new: Decimal | None,
    measured: Decimal | None,
    factor: Decimal,
    galls_or_hot: bool,
) -> Outcome:
    found = ring_clearance(
        diameter_mm=diameter, measured_mm=measured, as_new_mm=as_new, factor=factor, galls_or_hot=galls_or_hot
    )
    words = found.words
    if measured is not None and measured > _BEYOND_BELIEF * found.renew_above_mm:
        words += " So wide a gap is hard to believe: check the reading and its unit."
    if as_new is not None and as_new < least_clearance(diameter, galls_or_hot=galls_or_hot):
        words += f" As new it is below the {legible(found.least_as_new_mm)} mm of {STANDARD}."
    return Outcome(
        {
            "least_as_new": found.least_as_new_mm,
            "as_new": found.as_new_mm,
            "renew_above": found.renew_above_mm,
            "share_of_new": None if measured is None else measured / found.as_new_mm,
            "finding": found.finding or None,
        },
        words,
    )


CALCULATIONS = (
    Calculation(
        name="o-ring-gland",
        title="Stretch, squeeze and fill of an O-ring in its groove",
        family=FAMILY,
        formula="stretch X = 100 (dg - d1)/d1; section d2' = d2 (1 - R/100), R = 0.01 + 1.06 X - 0.1 X^2 up to 3 %, "
        "0.56 + 0.59 X - 0.0046 X^2 up to 25 %; squeeze = 100 (d2' - t)/d2'; fill = 100 (pi/4 d2^2)/(t b)",
        inputs=(
            choice("service", SERVICES, "What the ring does."),
            text("size_code", "Size code of ISO 3601-1, such as 210; in place of the two sizes.", optional=True),
            quantity("inside_diameter", "mm", "0.5", "1000", "Inside diameter d1 of the ring.", optional=True),
            quantity("section", "mm", "0.5", "30", "Section d2 of the ring.", optional=True),
            quantity("groove_diameter", "mm", "0.5", "1200", "Diameter dg of groove or shaft.", optional=True),
            quantity("bore", "mm", "0.5", "1300", "Bore over a piston groove, in place of the depth.", optional=True),
            quantity("depth", "mm", "0.1", "30", "Depth t of the groove with the gap.", optional=True),
            quantity("width", "mm", "0.1", "60", "Width b of the groove."),
        ),
        outputs=(
            Output("stretch", "Over the groove or shaft; negative is compression.", "%", 2),
            Output("section_loss", "By how much stretching thins the section.", "%", 2),
            Output("stretched_section", "Section when stretched.", "mm", 3),
            Output("squeeze", "Of the stretched section.", "%", 1),
            Output("fill", "How full the groove is.", "%", 1),
            Output("finding", "good, watch or stop."),
        ),
        sources=(
            Source("ISO 3601-2", "2016", "loss of section by stretching", MEMORY),
            Source("bands of stretch, squeeze and fill", "", "", PRACTICE),
        ),
        cautions=(
            _MAKER,
            "Sizes are nominal: with tolerances the squeeze is less or more; swelling and heat fill the groove more.",
        ),
        example={
            "service": "static-radial",
            "size_code": "210",
            "groove_diameter": of("19.00", "mm"),
            "bore": of("24.80", "mm"),
            "width": of("4.80", "mm"),
        },
        perform=_gland,
    ),
    Calculation(
        name="seal-installation",
        title="What shaft and chamber must be before a mechanical seal goes in",
        family=FAMILY,
        formula="a fixed limit; or 0.0005 x bore for the face, 0.001 x shaft up to 0.125 mm for concentricity",
        inputs=(
            choice("check", CHECKS, "What is checked."),
            quantity("size", "mm", "5", "500", "Chamber bore or shaft diameter where it counts.", optional=True),
            quantity("measured", "um", "0", "5000", "What was measured; roughness as Ra.", optional=True),
        ),
        outputs=(
            Output("limit", "The most that is allowed.", "um", 2),
            Output("within", "Whether the measured value is within it."),
        ),
        sources=(),
        cautions=(
            _MAKER,
            "Two figures of end play are in use, 0.10 and 0.25 mm: take the one of this pump.",
            "Measured values have an uncertainty; a verdict on a job counts it, this answer does not.",
        ),
        example={"check": "chamber-face-run-out", "size": of("110", "mm"), "measured": of("0.050", "mm")},
        perform=_seat,
    ),
    Calculation(
        name="wear-ring-clearance",
        title="Clearance of wear rings against the standard and as new",
        family=FAMILY,
        formula="renew where measured > factor x as new; as new = the pump's own value, else the standard's least; "
        "above 649.99 mm 0.95 mm + 0.001 mm for each further mm",
        inputs=(
            quantity("diameter", "mm", "10", "2000", "Diameter of the rotating ring."),
            quantity("as_new", "mm", "0.05", "10", "Diametral clearance as new of this pump.", optional=True),
            quantity("measured", "mm", "0", "50", "Diametral clearance as measured.", optional=True),
            number("factor", "1", "3", "Renew above so many times the clearance as new.", usual="2"),
            flag("galls_or_hot", "Materials that gall, or above 260 °C: 0.125 mm more."),
        ),
        outputs=(
            Output("least_as_new", "Least diametral clearance as new of the standard.", "mm", 3),
            Output("as_new", "What was taken as new.", "mm", 3),
            Output("renew_above", "Renew above this.", "mm", 3),
            Output("share_of_new", "Measured by as new.", "", 2),
            Output("finding", "keep, renew or too tight."),
        ),
        sources=(
            Source(STANDARD, EDITION, f"{PLACE}; above 650 mm and for galling", MEMORY),
            Source("renewal at 1.5 to 2 times the clearance as new", "", "", PRACTICE),
        ),
        cautions=(
            "The table is for pumps built to that standard; any other pump follows its maker's value, often larger.",
            "Clearances here are diametral: what a feeler gauge shows on one side is about half.",
            LOCAL_RULES,
        ),
        example={"diameter": of("95", "mm"), "measured": of("0.72", "mm")},
        perform=_rings,
    ),
)
