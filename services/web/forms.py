"""Reading what every form of a page sends along."""

import uuid

from django.http import HttpRequest

from services.api.refusals import InvalidValue


def version_of(request: HttpRequest) -> int:
    """The version that the form was made from. Raises `InvalidValue`."""
    text = request.POST.get("version", "")
    # Longer than any version; Python refuses to read very long ones at all.
    if not text.isdecimal() or len(text) > 18:
        raise InvalidValue("The form does not say which version was seen.", remedy="Load the page again.")
    return int(text)


def id_of(request: HttpRequest, name: str, what: str) -> uuid.UUID:
    """An id that the form carries. Raises `InvalidValue` with ``what`` in its sentence."""
    try:
        return uuid.UUID(request.POST.get(name, ""))
    except ValueError as error:
        raise InvalidValue(f"{what} is missing.", remedy="Choose it, or load the page again.") from error


def reason_of(request: HttpRequest, name: str = "reason") -> str:
    """Why something is done, in a few words. Raises `InvalidValue` where nothing is written."""
    reason = request.POST.get(name, "").strip()
    if not reason:
        raise InvalidValue("A reason is needed.", remedy="Write why, in a few words.")
    return reason[:500]
