"""Texts of nameplates made comparable: tokens, keys, trigrams, and sizes as numbers.

Two keys. The strong one keeps what is written but for case, accents, spaces, dashes and strokes. The weak one also
takes for equal what readers of plates confuse: O and 0, I, l and 1, S and 5, B and 8, Z and 2. Whatever only the weak
key makes equal is told as a note.
"""

import re
import unicodedata
from dataclasses import dataclass
from functools import lru_cache

_ACCENTED = "ÀÁÂÃÄÅÇÈÉÊËÌÍÎÏÑÒÓÔÕÖØÙÚÛÜÝàáâãäåçèéêëìíîïñòóôõöøùúûüýÿ"
_BARE = "aaaaaaceeeeiiiinoooooouuuuyaaaaaaceeeeiiiinoooooouuuuyy"
_CAPITALS, _SMALL = "ABCDEFGHIJKLMNOPQRSTUVWXYZ", "abcdefghijklmnopqrstuvwxyz"
_CONFUSED, _MEANT = "oilsbz", "011582"
_PARTING = " -/._|\u00a0\u2010\u2011\u2012\u2013\u2014\u2212\u00d7"
_PLAIN = str.maketrans(_ACCENTED + _CAPITALS, _BARE + _SMALL)
_WEAK = str.maketrans(_CONFUSED, _MEANT)
_SEARCHED = str.maketrans(_CAPITALS + _CONFUSED, _SMALL.translate(_WEAK) + _MEANT, _PARTING)
# One plate is compared with many models: what was made of its texts is kept for a while.
KEPT = 1024
_DASHES = str.maketrans(dict.fromkeys("‐‑‒–—―−﹣－", "-") | dict.fromkeys("⁄∕／×✕", "/"))
_CROSS = re.compile(r"(?<=\d)(\s*)[xX](\s*)(?=\d)")
_TOKEN = re.compile(r"[^\W\d_]+|\d+")
_MISREAD = {"0": "0OoQ", "1": "1IiLl|!", "2": "2Zz", "5": "5Ss", "8": "8B"}


def tidy(text: str) -> str:
    """One form for each sign (NFKC); dashes as plain ones, strokes and crosses between numbers as plain strokes."""
    return _CROSS.sub(r"\1/\2", unicodedata.normalize("NFKC", text).translate(_DASHES))


def plain(text: str) -> str:
    """Small letters without accents, sign by sign; as long as the text given."""
    return text.translate(_PLAIN)


@lru_cache(maxsize=KEPT)
def tokens(text: str) -> tuple[str, ...]:
    """The strong key: runs of letters and runs of digits. ``"NB65-40-200"`` -> ``("nb", "65", "40", "200")``."""
    bare = unicodedata.normalize("NFKD", tidy(text).translate(_PLAIN))
    bare = "".join(one for one in bare if not unicodedata.combining(one))
    return tuple(_TOKEN.findall(bare.casefold()))


def compact_key(text: str) -> str:
    """The weak key: confused signs taken for equal, and no separators. ``"NB 65-4O"`` -> ``"n86540"``."""
    return re.sub(r"[\W_]+", "", plain(tidy(text)).translate(_WEAK))


def search_key(text: str) -> str:
    """The weak key in the plainer form by which the database searches (its function nameplate_key)."""
    return text.translate(_SEARCHED)


@lru_cache(maxsize=KEPT)
def trigrams(text: str) -> frozenset[str]:
    """The set of trigrams of a text as PostgreSQL's documentation defines it for pg_trgm (appendix F, "Trigram (or
    Trigraph) Concepts"): signs that are neither letters nor digits part words; each word is taken in small letters
    with two spaces before it and one after it."""
    found: set[str] = set()
    for word in re.findall(r"[^\W_]+", text.lower()):
        padded = f"  {word} "
        found.update(padded[place : place + 3] for place in range(len(padded) - 2))
    return frozenset(found)


def similarity(one: str, other: str) -> float:
    """Shared trigrams as a part of all trigrams of the two texts, 0 to 1; 0 where neither has any."""
    first, second = trigrams(one), trigrams(other)
    every = len(first | second)
    return len(first & second) / every if every else 0.0


@dataclass(frozen=True)
class Size:
    """A size designation as numbers, and what follows it as tokens.

    ``form``: ``iso-2858`` suction, discharge, nominal impeller diameter (80-65-160); ``en-733`` discharge, nominal
    impeller diameter (65-160); ``other`` numbers in neither form; ``unsure`` where a sign that may be a misread digit
    stands before it, so that its first number may be missing.
    """

    numbers: tuple[int, ...]
    form: str
    suffix: tuple[str, ...] = ()

    def __str__(self) -> str:
        return "-".join(map(str, self.numbers))

    def same_figures(self, other: "Size") -> bool:
        """Whether all numbers, those that follow included, are the same however they are parted. Nothing equals what
        is unsure."""
        return "unsure" not in (self.form, other.form) and self._figures() == other._figures()

    def _figures(self) -> tuple[int, ...]:
        return *self.numbers, *(int(one) for one in self.suffix if one.isdecimal())


@dataclass(frozen=True)
class SizedText:
    """A text with its size, and what stands before and after the size."""

    size: Size
    before: str
    after: str


_RUN = re.compile(r"(?<![\d.,])\d{1,4}(?:\s*[-/.]\s*\d{1,4})+(?!\d)")
_SPACED = re.compile(r"(?<![\d.,\-/])\d{1,4}(?:\s+\d{1,4})+(?![\d.,])")
_CHUNK_BEFORE = re.compile(r"([^\W_]+)\s*[-/.]\s*$")


@lru_cache(maxsize=KEPT)
def parse_size(text: str) -> SizedText | None:
    """The size in a type text or designation; None where no two numbers stand together.

    Forms: ISO 2858 with three numbers, EN 733 with two (value from memory). Numbers joined by dashes, strokes, crosses
    or dots are one designation; where nothing joins them, spaces do. What is in neither form is kept as ``other``, so
    that it equals nothing but itself.
    """
    whole = tidy(text)
    runs = sorted(_RUN.finditer(whole), key=lambda one: -len(re.findall(r"\d+", one[0])))
    for run in runs:
        found = _sized(whole, run)
        if found is not None:
            return found
    for run in _SPACED.finditer(whole):
        found = _spaced(whole, run)
        if found is not None:
            return found
    return None


def _sized(whole: str, run: re.Match[str]) -> SizedText | None:
    places = [(int(one[0]), run.start() + one.start(), run.start() + one.end()) for one in re.finditer(r"\d+", run[0])]
    joiners = [re.sub(r"[\d\s]", "", one) for one in re.findall(r"\D+", run[0])]
    if places[0][0] >= 1900 or (set(joiners) == {"."} and not _form([one[0] for one in places], joiners)):
        return None
    before = whole[: run.start()]
    chunk = _CHUNK_BEFORE.search(before)
    unsure = bool(chunk and any(one.isdigit() for one in chunk[1]))
    attached = before[-1:].isalpha() or (chunk is not None and not unsure)
    if attached and len(places) > 2 and places[0][0] < 10 and _form([one[0] for one in places[1:]], joiners[1:]):
        places, joiners = places[1:], joiners[1:]
    numbers = [one[0] for one in places]
    form = "" if unsure else _form(numbers, joiners)
    if not form and len(numbers) == 2 and "-" not in joiners and not unsure:
        return None
    count = {"iso-2858": 3, "en-733": 2}.get(form, len(numbers))
    end = places[count - 1][2]
    size = Size(tuple(numbers[:count]), "unsure" if unsure else form or "other", tokens(whole[end:]))
    return SizedText(size, whole[: places[0][1]].rstrip(" -/."), whole[end:].lstrip(" -/."))


def _form(numbers: list[int], joiners: list[str]) -> str:
    if len(numbers) >= 3 and numbers[0] >= numbers[1] >= 15 and numbers[2] >= 80 and numbers[2] > numbers[1]:
        return "iso-2858"
    alone = len(numbers) == 2 or (len(numbers) > 2 and joiners[1] != joiners[0])
    if alone and numbers[0] >= 15 and numbers[1] >= 100 and numbers[1] > numbers[0]:
        return "en-733"
    return ""


def _spaced(whole: str, run: re.Match[str]) -> SizedText | None:
    places = [(int(one[0]), run.start() + one.start(), run.start() + one.end()) for one in re.finditer(r"\d+", run[0])]
    for count, form in ((3, "iso-2858"), (2, "en-733")):
        for start in range(len(places) - count + 1):
            window = places[start : start + count]
            if _form([one[0] for one in window], [" "] * (count - 1)) == form:
                end = window[-1][2]
                size = Size(tuple(one[0] for one in window), form, tokens(whole[end:]))
                return SizedText(size, whole[: window[0][1]].rstrip(), whole[end:].lstrip())
    return None


def find_misread_size(text: str, size: Size) -> tuple[str, str, str] | None:
    """(as written, before, after) where a text holds the size with signs that readers confuse: ``8O-65-I60``. None
    where it does not, or where the digits stand there plainly."""
    whole = tidy(text)
    digits = ["".join(f"[{re.escape(_MISREAD.get(one, one))}]" for one in str(number)) for number in size.numbers]
    for one in re.finditer(r"(?<!\d)" + r"\s*[-/.]?\s*".join(digits) + r"(?!\d)", whole):
        before, after = whole[: one.start()], whole[one.end() :]
        continued = re.search(r"\d\w*\s*[-/.]\s*$", before) or re.match(r"\s*[-.]\s*\d", after)
        if any(sign.isalpha() or sign in "|!" for sign in one[0]) and not continued:
            return one[0], before.rstrip(" -/."), after.lstrip(" -/.")
    return None
