"""Tables of what is done."""

from jobs.models.attachments import Attachment, StoredFile
from jobs.models.extra_parts import ExtraPart, JobReturn
from jobs.models.findings import Finding
from jobs.models.instruments import Instrument
from jobs.models.job_events import JobEvent
from jobs.models.jobs import FittedPart, Job, JobCharacteristic, JobState, JobStep
from jobs.models.labels import Label, LabelKind
from jobs.models.measurements import Measurement, Nonconformity, SignOff
from jobs.models.offline_records import OfflineRecord
from jobs.models.overhaul_intervals import OverhaulInterval
from jobs.models.procedures import (
    Characteristic,
    Procedure,
    ProcedureRevision,
    RevisionAct,
    Section,
    SignalWord,
    Step,
)
from jobs.models.record_links import RecordLink
from jobs.models.work_bookings import WorkBooking

__all__ = [
    "Attachment",
    "Characteristic",
    "ExtraPart",
    "Finding",
    "FittedPart",
    "Instrument",
    "Job",
    "JobCharacteristic",
    "JobEvent",
    "JobReturn",
    "JobState",
    "JobStep",
    "Label",
    "LabelKind",
    "Measurement",
    "Nonconformity",
    "OfflineRecord",
    "OverhaulInterval",
    "Procedure",
    "ProcedureRevision",
    "RecordLink",
    "RevisionAct",
    "Section",
    "SignOff",
    "SignalWord",
    "Step",
    "StoredFile",
    "WorkBooking",
]
