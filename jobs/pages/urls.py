"""Addresses of the pages of work."""

from django.urls import URLPattern, URLResolver, path

from jobs.pages import (
    decisions,
    found_and_booked,
    job_actions,
    job_sheet,
    parts_of_job,
    procedure_pages,
    pump_page,
    step_records,
    work_list,
)

JOB, STEP = "workshop/jobs/<uuid:job>", "workshop/jobs/<uuid:job>/steps/<int:number>"
PROCEDURE = "workshop/procedures/<uuid:revision>"

urlpatterns: list[URLPattern | URLResolver] = [
    path("workshop", work_list.work_list, name="work"),
    path("workshop/pumps/<uuid:pump>", pump_page.pump_page, name="pump-page"),
    path("workshop/procedures", procedure_pages.procedures, name="procedures-page"),
    path(PROCEDURE, procedure_pages.procedure, name="procedure-page"),
    path(f"{PROCEDURE}/hand-in", procedure_pages.hand_in, name="hand-in-procedure"),
    path(f"{PROCEDURE}/find-good", procedure_pages.find_good, name="find-procedure-good"),
    path(f"{PROCEDURE}/send-back", procedure_pages.mend, name="mend-procedure"),
    path(f"{PROCEDURE}/publish", procedure_pages.publish_it, name="publish-procedure"),
    path(JOB, job_sheet.job_sheet, name="job-sheet"),
    path(f"{JOB}/reserve-kit", job_actions.reserve, name="reserve-kit-of-job"),
    path(f"{JOB}/start", job_actions.start, name="start-job"),
    path(f"{JOB}/take-kit", job_actions.take, name="take-kit-of-job"),
    path(f"{JOB}/hold", job_actions.hold, name="hold-job"),
    path(f"{JOB}/resume", job_actions.resume, name="resume-job"),
    path(f"{JOB}/hand-over", job_actions.hand_over, name="hand-over-job"),
    path(f"{JOB}/reschedule", job_actions.reschedule, name="reschedule-job"),
    path(f"{JOB}/finish", job_actions.finish, name="finish-job"),
    path(f"{JOB}/sign-off", job_actions.sign, name="sign-off-job"),
    path(f"{JOB}/report", decisions.report, name="report-on-job"),
    path(f"{JOB}/findings", found_and_booked.find, name="find-on-job"),
    path(f"{JOB}/photos", found_and_booked.attach, name="attach-to-job"),
    path(f"{JOB}/time", found_and_booked.book, name="book-on-job"),
    path(f"{JOB}/extra-parts", parts_of_job.ask, name="ask-for-part"),
    path(f"{JOB}/extra-parts/hold", parts_of_job.hold, name="hold-extra-part"),
    path(f"{JOB}/extra-parts/take", parts_of_job.take, name="take-extra-part"),
    path(f"{JOB}/extra-parts/withdraw", parts_of_job.withdraw, name="withdraw-extra-part"),
    path(f"{JOB}/give-back", parts_of_job.give_back, name="give-back-from-job"),
    path(f"{STEP}/measure", step_records.measure, name="measure-at-step"),
    path(f"{STEP}/confirm", step_records.confirm, name="confirm-job-step"),
    path(f"{STEP}/release", step_records.release, name="release-job-step"),
    path(f"{JOB}/nonconformities/<uuid:nonconformity>/decide", decisions.settle, name="decide-nonconformity"),
    path(f"{JOB}/offline-records/<uuid:record>/settle", decisions.settle_offline, name="settle-offline-record"),
]
