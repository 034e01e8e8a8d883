"""Tables of what is done."""

from jobs.models.instruments import Instrument
from jobs.models.jobs import FittedPart, Job, JobCharacteristic, JobState, JobStep
from jobs.models.labels import Label, LabelKind
from jobs.models.measurements import Measurement, Nonconformity, SignOff
from jobs.models.procedures import Characteristic, Procedure, ProcedureRevision, Section, SignalWord, Step
from jobs.models.record_links import RecordLink

__all__ = [
    "Characteristic",
    "FittedPart",
    "Instrument",
    "Job",
    "JobCharacteristic",
    "JobState",
    "JobStep",
    "Label",
    "LabelKind",
    "Measurement",
    "Nonconformity",
    "Procedure",
    "ProcedureRevision",
    "RecordLink",
    "Section",
    "SignOff",
    "SignalWord",
    "Step",
]
