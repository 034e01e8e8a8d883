"""What is refused of files handed in, and what would help."""

from services.api.refusals import Kind, Refusal


class FileTooLarge(Refusal):
    """The file is larger than 50 MB, or a document larger than 1 MB. Cut it into several; rows that are there already
    are left alone."""

    kind = Kind.TOO_LARGE
    code = "file-too-large"
    title = "The file is too large"


class FileTypeUnsupported(Refusal):
    """Files come as CSV, XLSX, NDJSON, JSON or YAML, named in Content-Type."""

    kind = Kind.UNSUPPORTED
    code = "file-type-unsupported"
    title = "The file's media type is not taken"


class FileUnreadable(Refusal):
    """The file cannot be read as what it says it is, or its columns are not those of its kind. Nothing was loaded."""

    kind = Kind.INVALID
    code = "file-unreadable"
    title = "The file cannot be read"
