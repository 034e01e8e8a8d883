"""What conditions and limits may ask of a pump and its kit, by name, with the unit or the words each may hold."""

import difflib
from collections.abc import Iterable
from dataclasses import dataclass


@dataclass(frozen=True)
class Variable:
    """``unit`` is empty where it holds words. ``values``: the words known; ``closed``: there are no others.

    ``several``: it holds a list, of which any may be meant. ``positive``: a number that is never zero or below.
    """

    name: str
    words: str
    unit: str = ""
    values: tuple[str, ...] = ()
    closed: bool = False
    several: bool = False
    positive: bool = True

    @property
    def is_number(self) -> bool:
        return self.unit != ""

    @property
    def short(self) -> str:
        """The name without its unit, under which it may be written too."""
        return self.name.rsplit("_", 1)[0] if self.unit else self.name

    @property
    def spoken(self) -> str:
        return self.short.replace("_", " ")


# ISO 1629 codes that seals of pumps are made of; others may be written.
ELASTOMERS = ("EPDM", "FKM", "FFKM", "NBR", "HNBR", "VMQ", "CR", "IIR", "FVMQ", "FEPM", "NR", "SBR")
CONFIGURATIONS = ("close-coupled", "long-coupled-back-pull-out", "in-line", "between-bearings")
YES_NO = ("yes", "no")
_KNOWN = (
    Variable("elastomer", "the pump's elastomer as built, an ISO 1629 code", values=ELASTOMERS),
    Variable("kit_elastomers", "the elastomers that the kit brings", values=ELASTOMERS, several=True),
    Variable("seal_type", "mechanical or packed", values=("mechanical", "packed"), closed=True),
    Variable(
        "seal_form", "balance of the kit's shaft seal after EN 12756: U unbalanced, B balanced", values=("U", "B")
    ),
    Variable("configuration", "the model's configuration", values=CONFIGURATIONS, closed=True),
    Variable("size_designation", "the model's size designation"),
    Variable("fluid_family", "the family of the fluid pumped"),
    Variable("fluid_hazardous", "yes where a hazard is kept with the fluid", values=YES_NO, closed=True),
    Variable("temperature_max_c", "the hottest the pump gets", "degC", positive=False),
    Variable("criticality", "how much hangs on it", values=("vital", "essential", "desirable"), closed=True),
    Variable("rated_power_kw", "the model's rated power", "kW"),
    Variable("rated_speed_rpm", "the model's rated speed", "rpm"),
    Variable("shaft_diameter_at_seal_mm", "the shaft where the seal sits", "mm"),
    Variable("impeller_diameter_mm", "the impeller's diameter as built", "mm"),
    Variable("impeller_outlet_width_mm", "the width of the impeller at its outlet as built", "mm"),
    Variable("as_new_clearance_mm", "the diametral clearance at the wear rings as built", "mm"),
    Variable("bearing_bore_mm", "the bore of the drive-end bearing in the kit", "mm"),
    Variable(
        "bearing_sealed",
        "yes where the drive-end bearing is sealed or greased for life",
        values=YES_NO,
        closed=True,
    ),
)
PUMP_VARIABLES = {one.name: one for one in _KNOWN}
# As-built figures that stand in a pump's variant under the variable's own name.
AS_BUILT = ("impeller_diameter_mm", "impeller_outlet_width_mm", "as_new_clearance_mm")
_BY_SHORT = {one.short: one for one in _KNOWN}


def variable(name: str) -> Variable | None:
    """The variable of this name, with its unit or without."""
    return PUMP_VARIABLES.get(name) or _BY_SHORT.get(name)


def nearest(name: str, known: Iterable[str]) -> str:
    """Words that name what was perhaps meant; empty where nothing is near."""
    close = difflib.get_close_matches(name[:60], list(dict.fromkeys(known)), n=3, cutoff=0.5)
    return f" Did you mean {' or '.join(close)}?" if close else ""
