"""Numbers as people and spreadsheets write them, read in one way only or not at all."""

import re
from collections.abc import Callable
from decimal import Decimal

from services.api.loading import Column
from services.bulk_loads.reading.result import CellWrong, DecimalMark

LONGEST = 30
NO_NUMBER = "It is no number."
# Double precision carries 15 digits whatever the number; beyond them stands the noise of binary fractions.
FLOAT_DIGITS = 15
_SPACES = re.compile(r"[\s\u00a0\u2007\u2009\u202f]+")
_DASHES = str.maketrans(dict.fromkeys("\u2010\u2011\u2012\u2013\u2014\u2212\ufe63\uff0d", "-"))
_SIGNED = r"[+-]?"
_POINT = re.compile(rf"{_SIGNED}\d+(?:\.\d+)?")
_COMMA = re.compile(rf"{_SIGNED}\d+,\d+")
_AMBIGUOUS_COMMA = re.compile(rf"{_SIGNED}[1-9]\d{{0,2}},\d{{3}}")
_AMBIGUOUS_POINT = re.compile(rf"{_SIGNED}[1-9]\d{{0,2}}\.\d{{3}}")
# Groups of three by a blank or an apostrophe, by points before a comma, by commas before a point.
_GROUPED = (
    (re.compile(rf"{_SIGNED}[1-9]\d{{0,2}}(?:[ '’]\d{{3}})+(?:[.,]\d+)?"), " '’"),
    (re.compile(rf"{_SIGNED}[1-9]\d{{0,2}}(?:\.\d{{3}})+,\d+|{_SIGNED}[1-9]\d{{0,2}}(?:\.\d{{3}}){{2,}}"), "."),
    (re.compile(rf"{_SIGNED}[1-9]\d{{0,2}}(?:,\d{{3}})+\.\d+|{_SIGNED}[1-9]\d{{0,2}}(?:,\d{{3}}){{2,}}"), ","),
)
_WITH_UNIT = re.compile(r"([+-]?[\d.,'’ ]*\d)\s*([^\d\s.,'’+-][^\d]*[23²³]?(?:/\w+)?|1/min|['′″\"”]+)")


def read_number(text: str, mark: DecimalMark = "", *, commas: bool = False) -> tuple[Decimal, list[str]]:
    """(number, notes). ``mark`` is the decimal mark where it is known; ``commas`` says that the column has numbers
    that can only be decimal commas. Raises `CellWrong` for what is no number, or two."""
    notes = []
    plain = _SPACES.sub(" ", text.translate(_DASHES)).strip().replace("- ", "-")
    if plain != text.strip():
        notes.append("typographic dashes and blanks read as plain ones")
    if len(plain) > LONGEST:
        raise CellWrong(NO_NUMBER)
    if mark:
        bare, ungrouped = _by_mark(plain, mark)
    else:
        bare, ungrouped = _by_shape(plain, commas=commas)
    if ungrouped:
        notes.append("thousands separators taken out")
    if "," in bare:
        bare = bare.replace(",", ".")
        notes.append("decimal comma read as a point")
    if not _POINT.fullmatch(bare):
        raise CellWrong(NO_NUMBER)
    value = Decimal(bare)
    if "." in bare and len(value.as_tuple().digits) > FLOAT_DIGITS:
        value = without_noise(value)
        notes.append(f"noise beyond {FLOAT_DIGITS} digits taken off: {value:f}")
    return value, notes


def without_noise(value: Decimal) -> Decimal:
    """The number to the digits that a double keeps."""
    places = FLOAT_DIGITS - 1 - value.adjusted()
    return value.quantize(Decimal(1).scaleb(-places)).normalize() if places > 0 else value


def from_float(value: float) -> tuple[Decimal, list[str]]:
    """(number, notes) of a workbook's number. Raises `CellWrong` where it is not finite."""
    exact = Decimal(repr(value))
    if not exact.is_finite():
        raise CellWrong(NO_NUMBER)
    if exact == exact.to_integral_value():
        return exact.quantize(Decimal(1)) if exact.adjusted() < LONGEST - 3 else exact, []
    clean = Decimal(format(value, f".{FLOAT_DIGITS}g"))
    return clean, [] if clean == exact else [f"noise of binary fractions taken off: {clean:f}"]


def only_a_decimal_comma(text: str) -> bool:
    """Whether a number can be nothing but one with a decimal comma."""
    bare = text.strip()
    if _GROUPED[1][0].fullmatch(bare):
        return "," in bare
    return bool(_COMMA.fullmatch(bare)) and not _AMBIGUOUS_COMMA.fullmatch(bare)


def _by_mark(plain: str, mark: str) -> tuple[str, bool]:
    other = "." if mark == "," else ","
    whole, sign, rest = plain.partition(mark)
    groups = re.split(rf"[{re.escape(other)} '’]", whole)
    if len(groups) > 1 and (not all(len(one) == 3 for one in groups[1:]) or len(groups[0].lstrip("+-")) > 3):
        raise CellWrong(NO_NUMBER, f"The decimal mark was said to be {mark!r}; write it like 1234{mark}5.")
    return "".join(groups) + sign + rest, len(groups) > 1


def _by_shape(plain: str, *, commas: bool) -> tuple[str, bool]:
    if _AMBIGUOUS_COMMA.fullmatch(plain):
        whole, _, rest = plain.partition(",")
        raise CellWrong(
            f"It could be {whole}{rest} or {whole}.{rest}.",
            f"Write {whole}{rest} or {whole}.{rest}, or load with a mapping that names the decimal mark.",
        )
    if commas and _AMBIGUOUS_POINT.fullmatch(plain):
        whole, _, rest = plain.partition(".")
        raise CellWrong(
            f"It could be {whole}{rest} or {whole}.{rest}: other rows have decimal commas here.",
            f"Write {whole}{rest} or {whole},{rest}0, or load with a mapping that names the decimal mark.",
        )
    for shape, separators in _GROUPED:
        if shape.fullmatch(plain):
            return plain.translate(str.maketrans("", "", separators)), True
    return plain, False


def split_unit(text: str) -> tuple[str, str] | None:
    """(number, unit) of a cell that names its unit, or None."""
    found = _WITH_UNIT.fullmatch(text.translate(_DASHES).strip())
    return (found[1], found[2].strip()) if found else None


def measured(
    text: str, column: Column, unit: str, number: Callable[[str], tuple[Decimal, list[str]]]
) -> tuple[Decimal, list[str]]:
    """(number in the column's unit, notes). ``unit`` is the one of bare numbers where it is not the column's.

    Raises `CellWrong` for an unknown unit or one of another kind.
    """
    parts = split_unit(text)
    if parts is None:
        value, notes = number(text)
        return (convert(value, unit, column), notes) if unit else (value, notes)
    bare, written = parts
    value, notes = number(bare)
    converted = convert(value, written, column)
    if converted == value:
        return value, [*notes, f"read as {value:f} {column.unit}"]
    return converted, [*notes, f"{bare} {written} read as {converted:f} {column.unit}"]


def convert(value: Decimal, written: str, column: Column) -> Decimal:
    """A number in the column's unit, to the places the column keeps. Raises `CellWrong`."""
    if column.convert is None:
        raise CellWrong(NO_NUMBER)
    try:
        return _settled(column.convert(value, written, column.unit), column)
    except ValueError as error:
        raise CellWrong(str(error), f"Write it in {column.unit}, as a number such as 12.5.") from error


def _settled(value: Decimal, column: Column) -> Decimal:
    places = column.places
    if places is not None and -int(value.as_tuple().exponent) > places:
        value = value.quantize(Decimal(1).scaleb(-places))
    return value.normalize() if value != value.to_integral_value() else value.quantize(Decimal(1))


def kept(value: Decimal, column: Column) -> tuple[Decimal, list[str]]:
    """(number as the column keeps it, note where digits were lost)."""
    places = column.places
    if places is None or -int(value.as_tuple().exponent) <= places:
        return value, []
    rounded = value.quantize(Decimal(1).scaleb(-places))
    return rounded, [] if rounded == value else [f"rounded to {places} places: {rounded:f}"]
