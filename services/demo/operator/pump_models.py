"""Fourteen pump models of the three makers, with the sizes from which their wear positions follow."""

from dataclasses import dataclass

CLOSE = "close-coupled"
PULL = "long-coupled-back-pull-out"
IN_LINE = "in-line"
BETWEEN = "between-bearings"


@dataclass(frozen=True)
class Model:
    """Nameplate of a model; ``short`` names it in kit numbers, ``letters`` begin its serial numbers."""

    code: str
    maker: str
    series: str
    designation: str
    configuration: str
    seal_mm: int
    speed_rpm: int
    power_kw: str
    short: str
    letters: str
    built_with: str

    @property
    def elastomers(self) -> tuple[str, ...]:
        """ISO 1629 codes of the elastomers it is built with."""
        return tuple(self.built_with.split())


MODELS = (
    Model("skerra-c-32-160", "skerrholm", "Skerra C", "32-160", CLOSE, 22, 2900, "3", "C32", "SC", "EPDM NBR"),
    Model("skerra-c-40-160", "skerrholm", "Skerra C", "40-160", CLOSE, 24, 2900, "5.5", "C40", "SD", "EPDM NBR"),
    Model("skerra-c-50-200", "skerrholm", "Skerra C", "50-200", CLOSE, 28, 2900, "11", "C50", "SE", "EPDM FKM"),
    Model("skerra-c-65-160", "skerrholm", "Skerra C", "65-160", CLOSE, 30, 2900, "15", "C65", "SF", "EPDM"),
    Model("tarna-c-32-125", "tarnfell", "Tarna C", "32-125", CLOSE, 20, 2900, "1.5", "T32", "TC", "EPDM NBR"),
    Model("skerra-p-65-40-200", "skerrholm", "Skerra P", "65-40-200", PULL, 33, 2900, "7.5", "P65", "SP", "EPDM"),
    Model("skerra-p-80-50-250", "skerrholm", "Skerra P", "80-50-250", PULL, 38, 1450, "11", "P80", "SQ", "EPDM"),
    Model("dunva-l-100-65-200", "dunvard", "Dunva L", "100-65-200", PULL, 43, 2900, "30", "L100", "DL", "EPDM NBR"),
    Model("dunva-l-125-80-250", "dunvard", "Dunva L", "125-80-250", PULL, 48, 1450, "18.5", "L125", "DM", "EPDM FKM"),
    Model("dunva-k-50-160", "dunvard", "Dunva K", "50-160", IN_LINE, 25, 2900, "4", "K50", "DK", "EPDM"),
    Model("dunva-k-80-200", "dunvard", "Dunva K", "80-200", IN_LINE, 32, 1450, "5.5", "K80", "DN", "EPDM"),
    Model("dunva-k-100-250", "dunvard", "Dunva K", "100-250", IN_LINE, 40, 1450, "11", "K100", "DP", "EPDM"),
    Model("tarna-g-150-315", "tarnfell", "Tarna G", "150-315", BETWEEN, 60, 1450, "45", "G150", "TG", "NBR"),
    Model("tarna-g-200-400", "tarnfell", "Tarna G", "200-400", BETWEEN, 75, 1450, "90", "G200", "TH", "NBR"),
)  # fmt: skip
MODEL_OF = {one.code: one for one in MODELS}
STORY_MODEL = "dunva-l-100-65-200"
