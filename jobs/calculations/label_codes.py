"""Codes of labels: ten characters that people can read aloud, the last of which checks the others.

The characters are Crockford's base 32 (digits and capitals without I, L, O and U; value from memory), so a letter that
was misread for a digit can be put right. The check character is the one check symbol of a Reed-Solomon code over
GF(32) with the primitive polynomial x^5 + x^2 + 1: any one wrong character and any two characters that changed places
are noticed, since each place has a weight of its own.
"""

import secrets

ALPHABET = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"
LENGTH = 10
GROUP = 5
_VALUES = {character: value for value, character in enumerate(ALPHABET)}
_MISREAD = str.maketrans({"I": "1", "L": "1", "O": "0", " ": None, "-": None, "\t": None, "\n": None, "\r": None})
_POLYNOMIAL = 0b100101


class CodeUnreadable(ValueError):
    """The text holds no code of a label; the message says why."""


def check_character(first: str) -> str:
    """The character that completes the first nine. Raises `KeyError` for a character outside `ALPHABET`."""
    return ALPHABET[_doubled(_weighed(first))]


def is_sound(code: str) -> bool:
    """Whether a code of ten characters checks."""
    return len(code) == LENGTH and all(one in _VALUES for one in code) and _weighed(code) == 0


def new_code() -> str:
    """A random code: 45 bits, and the check character."""
    first = "".join(secrets.choice(ALPHABET) for _ in range(LENGTH - 1))
    return first + check_character(first)


def read_code(text: str) -> str:
    """The code in what was scanned or typed: the bare code, in any capitals and grouping, or the whole address.

    I and L are read as 1, O as 0. The host of an address is not asked: labels outlive a change of name. Raises
    `CodeUnreadable`.
    """
    bare = text.split("?", 1)[0].split("#", 1)[0].strip().upper()
    if "/" in bare:
        before, _, bare = bare.rstrip("/").rpartition("/")
        if before.rpartition("/")[2] != "S":
            raise CodeUnreadable("This address is not that of a label: it would end in /S/ and the code.")
    code = bare.translate(_MISREAD)
    for one in code:
        if one not in _VALUES:
            raise CodeUnreadable(f"A code has digits and capitals without I, L, O and U; this has {one!r}.")
    if len(code) != LENGTH:
        raise CodeUnreadable(f"A code has {LENGTH} characters; this has {len(code)}.")
    if not is_sound(code):
        raise CodeUnreadable("The code does not check: a character is wrong, or two have changed places.")
    return code


def grouped(code: str) -> str:
    """The code as it is printed for people: in two groups."""
    return f"{code[:GROUP]}-{code[GROUP:]}"


def label_address(public_address: str, code: str) -> str:
    """The address in a label's symbol, e.g. ``HTTPS://PUMPS.EXAMPLE.ORG/S/7K3MP9QXZ4``.

    Scheme and host mean the same in capitals (RFC 3986, 6.2.2.1), and capitals make the smaller symbol. A folder of the
    public address keeps its spelling, since there capitals count.
    """
    scheme, _, rest = public_address.partition("://")
    host, slash, folder = rest.rstrip("/").partition("/")
    return f"{scheme.upper()}://{host.upper()}{slash}{folder}/S/{code}"


def _doubled(value: int) -> int:
    """A value of GF(32) times x."""
    return (value << 1) ^ (_POLYNOMIAL if value & 0b10000 else 0)


def _weighed(characters: str) -> int:
    total = 0
    for one in characters:
        total = _doubled(total) ^ _VALUES[one]
    return total
