"""Tightening of screws as it is offered."""

from decimal import Decimal

from jobs.calculations.offered.declared import (
    MEMORY,
    PRACTICE,
    Calculation,
    InputWrong,
    Outcome,
    Output,
    Source,
    blames,
    choice,
    number,
    of,
    quantity,
    whole,
)
from jobs.calculations.tightening import (
    CAUTION,
    PROPERTY_CLASSES,
    THREADS,
    TighteningUnknown,
    cross_pattern,
    diameter,
    proof_load,
    share_of_proof_reached,
    tightening,
    torque_with_friction,
)

FAMILY = "screws"
# The largest share of the proof load that a torque may be asked for (common practice, no source).
_MOST_TAKEN = Decimal("0.9")
_THREAD = choice("thread", THREADS, "Metric coarse thread.")
_CLASS = choice("property_class", PROPERTY_CLASSES, "Property class of the screw; the nut or thread bears as much.")
_K = number("nut_factor", "0.08", "0.4", "Nut factor K: 0.20 dry, 0.15 to 0.18 oiled, 0.12 to 0.16 anti-seize.")
_SHARE = number("share_of_proof", "0.05", "0.9", "Preload as a share of the proof load; 0.75 is usual.", usual="0.75")
_SOURCES = (
    Source("ISO 898-1", "2013", "tables 3 to 5; stainless steels after ISO 3506-1:2020", MEMORY),
    Source("nut factors and 0.75 of the proof load", "", "", PRACTICE),
)
_CAUTIONS = (
    CAUTION,
    "K changes by a factor of two with lubrication: never use a dry torque on an oiled screw.",
    "A torque wrench has its own uncertainty, and the preload scatters by a quarter and more.",
)


def _torque(
    *,
    thread: str,
    property_class: str,
    nut_factor: Decimal,
    share_of_proof: Decimal,
    screws: Decimal | None,
) -> Outcome:
    with blames("property_class", TighteningUnknown):
        found = tightening(
            thread=thread, property_class=property_class, nut_factor=nut_factor, share_of_proof=share_of_proof
        )
    passes = ", ".join(f"{one:f}" for one in found.passes_nm)
    order = None if screws is None else "-".join(str(one) for one in cross_pattern(int(screws)))
    words = (
        f"{found.torque_nm:f} N·m for {found.preload_kn:f} kN. Crosswise in passes of {passes} N·m, then once round at "
        "the last."
    )
    return Outcome(
        {
            "preload": found.preload_kn,
            "torque": found.torque_nm,
            "proof_load": proof_load(thread, property_class),
            "passes": found.passes_nm,
            "order": order,
        },
        words + (f" Order: {order}." if order else ""),
    )


def _friction(
    *,
    thread: str,
    property_class: str,
    share_of_proof: Decimal,
    friction_in_thread: Decimal,
    friction_under_head: Decimal,
    bearing_diameter: Decimal,
) -> Outcome:
    with blames("property_class", TighteningUnknown):
        preload = share_of_proof * proof_load(thread, property_class)
    with blames("thread", TighteningUnknown):
        torque = torque_with_friction(
            thread=thread,
            preload_kn=preload,
            friction_in_thread=friction_in_thread,
            friction_under_head=friction_under_head,
            bearing_diameter_mm=bearing_diameter,
        )
    if bearing_diameter <= diameter(thread):
        raise InputWrong("bearing_diameter", "Head and nut turn on a ring wider than the thread.", "Check its unit.")
    same = torque / (preload * diameter(thread))
    return Outcome(
        {"preload": preload, "torque": torque, "nut_factor": same},
        f"{torque:.1f} N·m for {preload:.1f} kN, the same as a nut factor of {same:.3f}.",
    )


def _per_cent(share: Decimal) -> str:
    """A whole number, but where that would read as just the proof load."""
    whole = round(100 * share)
    return f"{100 * share:.2f} %" if whole == 100 and share != 1 else f"{whole} %"


def _reached(*, thread: str, property_class: str, nut_factor: Decimal, torque: Decimal) -> Outcome:
    with blames("property_class", TighteningUnknown):
        share = share_of_proof_reached(
            torque_nm=torque, thread=thread, property_class=property_class, nut_factor=nut_factor
        )
    preload = share * proof_load(thread, property_class)
    words = f"{torque:.1f} N·m bring {preload:.1f} kN, {_per_cent(share)} of the proof load."
    if _MOST_TAKEN < share <= 1:
        words += " More than nine tenths leaves nothing for scatter: take less."
    if share > 1:
        words += " Stop: the screw stretches for good. Replace it, and ask before tightening again."
    return Outcome({"preload": preload, "share_of_proof": share, "overloaded": share > 1}, words)


CALCULATIONS = (
    Calculation(
        name="tightening-torque",
        title="Tightening torque of a screw",
        family=FAMILY,
        formula="T = K d F, F = share of proof load x proof strength x stress area",
        inputs=(
            _THREAD,
            _CLASS,
            _K,
            _SHARE,
            whole("screws", 3, 64, "Screws of the cover, for their order.", optional=True),
        ),
        outputs=(
            Output("preload", "Preload F.", "kN", 1),
            Output("torque", "Full torque T.", "N*m", 1),
            Output("proof_load", "Proof load of the screw.", "kN", 1),
            Output("passes", "Torques of the crosswise passes.", "N*m", 1),
            Output("order", "Order of the screws, numbered round the cover."),
        ),
        sources=(*_SOURCES, Source("ASME PCC-1", "2019", "crosswise passes and order", MEMORY)),
        cautions=_CAUTIONS,
        example={"thread": "M12", "property_class": "8.8", "nut_factor": "0.20", "screws": 8},
        perform=_torque,
    ),
    Calculation(
        name="tightening-torque-friction",
        title="Tightening torque from friction in thread and under the head",
        family=FAMILY,
        formula="T = F (0.159 P + 0.577 d2 mu_thread + D_Km/2 mu_head)",
        inputs=(
            _THREAD,
            _CLASS,
            _SHARE,
            number("friction_in_thread", "0.04", "0.5", "Coefficient of friction in the thread."),
            number("friction_under_head", "0.04", "0.5", "Coefficient of friction under head or nut."),
            quantity("bearing_diameter", "mm", "3", "120", "Mean diameter D_Km on which head or nut turns."),
        ),
        outputs=(
            Output("preload", "Preload F.", "kN", 2),
            Output("torque", "Torque T.", "N*m", 1),
            Output("nut_factor", "Nut factor that gives the same.", "", 3),
        ),
        sources=(Source("ISO 16047", "2005", "torque and preload", MEMORY), _SOURCES[0]),
        cautions=_CAUTIONS,
        example={
            "thread": "M12",
            "property_class": "8.8",
            "friction_in_thread": "0.12",
            "friction_under_head": "0.12",
            "bearing_diameter": of("15.3", "mm"),
        },
        perform=_friction,
    ),
    Calculation(
        name="preload-reached",
        title="How far a torque loads a screw",
        family=FAMILY,
        formula="F = T / (K d); share = F / proof load",
        inputs=(_THREAD, _CLASS, _K, quantity("torque", "N*m", "0.1", "20000", "Torque at the wrench.")),
        outputs=(
            Output("preload", "Preload F.", "kN", 1),
            Output("share_of_proof", "Share of the proof load.", "", 3),
            Output("overloaded", "Whether the proof load is passed."),
        ),
        sources=_SOURCES,
        cautions=_CAUTIONS,
        example={"thread": "M12", "property_class": "8.8", "nut_factor": "0.12", "torque": of("88.0", "N*m")},
        perform=_reached,
    ),
)
