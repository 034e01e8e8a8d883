"""The kinds of change that jobs tell the outside."""

from services.changes.recording import declare_kinds

declare_kinds(
    {
        "procedure.drafted": "A revision of a procedure was written as a draft, or its draft got other content.",
        "procedure.submitted": "A draft was handed in for review; its content stands still.",
        "procedure.sent-back": "A reviewer sent a revision back; it is a draft again.",
        "procedure.reviewed": "Another person reviewed a revision and found it good.",
        "procedure.published": "A revision was published; new jobs use it, running jobs keep theirs.",
        "procedure.superseded": "A later revision was published in its place.",
        "procedure.withdrawn": "A revision was withdrawn, the reason says why; new jobs cannot use it.",
        "instrument.registered": "A measuring instrument was registered.",
        "instrument.changed": "An instrument's figures or calibration changed.",
        "label.made": "A kit, lot, pump or bin got a label with a code of its own.",
        "label.printed": "A label was put on a sheet.",
        "label.replaced": "A label was damaged or lost and another one took its place; the old code still leads on.",
        "label.voided": "A label no longer stands for anything.",
        "job.planned": "A job was planned for a pump, with a kit and a procedure revision.",
        "job.rescheduled": "A job's window or assignee changed.",
        "job.readied": "Everything the job needs is there for its day.",
        "job.unreadied": "Something the job needs has lapsed; the reasons say what.",
        "job.started": "Work began; steps and limits are resolved for this pump and kit.",
        "job.held": "The job waits; the reason says for what.",
        "job.resumed": "The job goes on.",
        "job.cancelled": "The job was cancelled and its claims released.",
        "job.finished": "All steps are done; the job waits for its sign-off.",
        "job.closed": "The job was signed off.",
        "job-step.confirmed": "A step was confirmed.",
        "job-step.released": "A hold point was released by another person.",
        "measurement.recorded": "A measurement was recorded and judged.",
        "nonconformity.raised": "Something is not as it must be.",
        "nonconformity.decided": "It was decided what becomes of it.",
        "nonconformity.closed": "A later measurement or a decision settled it.",
        "offline-record.conflicted": "A record made without a connection stands against another one.",
        "offline-record.settled": "A supervisor applied such a record, or set it aside.",
        "fitted-part.fitted": "A part was fitted to a pump.",
        "fitted-part.removed": "A part was taken out of a pump.",
    }
)
