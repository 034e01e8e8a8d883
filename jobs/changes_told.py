"""The kinds of change that jobs tell the outside."""

from services.changes.recording import declare_kinds

declare_kinds(
    {
        "procedure.drafted": "A revision of a procedure was loaded as a draft.",
        "procedure.published": "A revision was published; earlier ones are withdrawn, running jobs keep theirs.",
        "procedure.withdrawn": "A revision was withdrawn; new jobs cannot use it.",
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
        "job.record-changed": "Its record changed while it waits for its sign-off: whoever signs it looks again.",
        "job.closed": "The job was signed off and its record got its link in the chain.",
        "job-step.confirmed": "A step was confirmed.",
        "job-step.released": "A hold point was released by another person.",
        "measurement.recorded": "A measurement was recorded and judged.",
        "nonconformity.raised": "Something is not as it must be.",
        "nonconformity.decided": "It was decided what becomes of it.",
        "nonconformity.closed": "A later measurement or a decision settled it.",
        "fitted-part.fitted": "A part was fitted to a pump.",
        "fitted-part.removed": "A part was taken out of a pump.",
    }
)
