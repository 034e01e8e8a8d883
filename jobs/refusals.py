"""What jobs refuse, and what would help."""

from services.api.problems import when_broken
from services.api.refusals import InvalidValue, Kind, Refusal


class JobNotReady(Refusal):
    """The job cannot start: its kit is not reserved and in date, an instrument is out of calibration on that day, or
    the procedure is not published. The reasons name each; clear them and try again."""

    code = "job-not-ready"
    title = "The job is not ready"


class WrongJobState(Refusal):
    """The job is not in a state from which this can be done. The detail says what is possible from here."""

    code = "wrong-job-state"
    title = "Not possible in the job's present state"


class MakeSafeFirst(Refusal):
    """Making safe comes first: isolate, lock and tag, prove dead, drain, cool. Confirm every make-safe step on site
    before anything later is recorded. Site rules, permits and local law come before this guide."""

    code = "make-safe-first"
    title = "Confirm making safe first"


class StepNotOpen(Refusal):
    """The step is done already, does not apply to this pump, or is not part of the job."""

    code = "step-not-open"
    title = "The step is not open"


class StepIncomplete(Refusal):
    """Something the step asks for is missing: a measurement that was accepted, or a concession for one that was not."""

    code = "step-incomplete"
    title = "The step is not complete"


class HoldPointWaits(Refusal):
    """An earlier hold point waits for somebody else to look. Later steps open once it is released."""

    code = "hold-point-waits"
    title = "A hold point waits for release"


class SecondPersonNeeded(Refusal):
    """The person who did the work cannot release, concede or sign it off. Ask another with the right role."""

    code = "second-person-needed"
    title = "Somebody else must do this"


class KitDoesNotFit(Refusal):
    """The computed fit says that this kit is wrong or not complete for this pump. The reasons name each position.
    Choose another kit."""

    kind = Kind.INVALID
    code = "kit-does-not-fit"
    title = "The kit does not fit this pump"


class NoPublishedProcedure(Refusal):
    """No published procedure covers this pump's configuration. Publish one, or name a revision."""

    kind = Kind.INVALID
    code = "no-published-procedure"
    title = "There is no published procedure"


class ReadingUnusable(InvalidValue):
    """A reading, its unit or its instrument cannot be used. The errors name the reading; send it again corrected."""

    code = "reading-unusable"
    title = "The reading cannot be used"


class ReadingDoubtful(InvalidValue):
    """A reading looks as if it was taken in another unit: it lies far outside the limits, or apart from its fellows, by
    the factor between two units. Look again. Send it corrected, or unchanged with ``as_read`` true where it is right;
    the record then says that it was asked about."""

    code = "reading-doubtful"
    title = "Is this reading right?"


class AlreadyMeasured(Refusal):
    """This id was used for another measurement. Use a fresh id for a new one."""

    code = "measurement-id-used"
    title = "The id was used for another measurement"


class RecordChanged(Refusal):
    """The record that you name is not the one that is there by now. Read it again, look at it, then sign that one."""

    kind = Kind.VERSION_CHANGED
    code = "record-changed"
    title = "The record has changed since you read it"


class OpenNonconformity(Refusal):
    """Something is not as it must be and nobody has decided about it yet. Rework, replace, or have it conceded."""

    code = "open-nonconformity"
    title = "A nonconformity is still open"


class WrongExtraPartState(Refusal):
    """The extra part was taken or withdrawn already. What was taken and not used comes back as a return of the job;
    what was withdrawn is asked for anew."""

    code = "wrong-extra-part-state"
    title = "Not possible with the extra part as it stands"


class AlreadyCorrected(Refusal):
    """Somebody corrected this record before; both stay. Read again and correct the one that counts now."""

    code = "already-corrected"
    title = "The record was corrected already"


class CannotBeSplit(Refusal):
    """What was named cannot wait for a follow-up job: making safe, closing up and testing belong to each visit, work
    that was done is done, and a kit that was issued is here. The errors name each step."""

    code = "cannot-be-split"
    title = "This cannot wait for a follow-up"


class FileNotTaken(InvalidValue):
    """The file is none of the kinds taken (JPEG, PNG, WebP, PDF), is broken, or is not what its type says. The content
    counts, not the name."""

    code = "file-not-taken"
    title = "The file cannot be taken"


class AttachmentTooLarge(Refusal):
    """The file is larger than this service takes (`ATTACHMENT_MOST_BYTES`). Send a smaller picture, or a document in
    parts."""

    kind = Kind.TOO_LARGE
    code = "attachment-too-large"
    title = "The file is too large"


class RevisionClosed(Refusal):
    """Only a draft changes: a revision under review stands still, a published one never changes. Have it sent back, or
    prepare a new revision, have it reviewed and publish that."""

    code = "revision-closed"
    title = "Not possible in the present state of the revision"


class RevisionNotReviewed(Refusal):
    """A revision is published once another person has reviewed it. Hand it in for review and ask another author."""

    code = "revision-not-reviewed"
    title = "The revision was not reviewed"


class InstrumentUnfit(InvalidValue):
    """The instrument does not measure this, or not in this range. Choose another."""

    code = "instrument-unfit"
    title = "The instrument does not suit"


class ProcedureUnsound(InvalidValue):
    """The procedure cannot be used as written. The errors point at each place."""

    code = "procedure-unsound"
    title = "The procedure is not sound"


class CodeNotRead(InvalidValue):
    """What was scanned or typed is no code of a label: its length, a character or its check is wrong. Scan it again,
    or type it as it stands beneath the symbol."""

    code = "code-not-read"
    title = "The code cannot be read"


class HashNotRead(InvalidValue):
    """What was scanned or typed is no hash of a record: 64 digits from 0 to 9 and a to f. Scan the code again, or type
    the digits as they stand on the record."""

    code = "hash-not-read"
    title = "The hash cannot be read"


class LabelVoid(Refusal):
    """The label was made void: it no longer stands for the thing it is on. Do not go by it. Take it off, and have a new
    one printed."""

    kind = Kind.GONE
    code = "label-void"
    title = "The label is void"


class SheetImpossible(InvalidValue):
    """The sheet of labels cannot be set as asked: too many labels, a cell that is not on the page, or a label too small
    for its symbol. The detail says which."""

    code = "sheet-impossible"
    title = "The sheet cannot be set"


when_broken(
    "published_revision_never_changes",
    lambda: RevisionClosed("A published revision never changes.", remedy="Prepare a new revision."),
)
when_broken(
    "revision_is_reviewed_by_another",
    lambda: SecondPersonNeeded("Whoever handed it in does not review it.", remedy="Ask another author to look."),
)
when_broken(
    "hold_point_is_released_by_another",
    lambda: SecondPersonNeeded("The one who did the step cannot release it.", remedy="Ask a supervisor to look."),
)
when_broken(
    "concession_is_given_by_another",
    lambda: SecondPersonNeeded("The one who raised it cannot concede it.", remedy="Ask a supervisor to decide."),
)


class StillInConflict(Refusal):
    """The offline record still cannot be applied; the detail says what stands against it. Settle that first, or set
    the record aside: it stays readable."""

    code = "still-in-conflict"
    title = "The record is still in conflict"


class OfflineRecordsUnsettled(Refusal):
    """Records that were made without a connection wait, or conflict with others. A supervisor applies them or sets
    them aside before the job can be finished, and those that come after that before it can be signed off."""

    code = "offline-records-unsettled"
    title = "Offline records are not settled"
