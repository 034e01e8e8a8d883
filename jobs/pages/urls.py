"""Addresses of the pages of work."""

from django.urls import URLPattern, URLResolver, path

from jobs.pages import job_records, job_sheet, work_list

urlpatterns: list[URLPattern | URLResolver] = [
    path("work", work_list.work_list, name="work"),
    path("work/jobs/<uuid:job>", job_sheet.job_sheet, name="job-sheet"),
    path("work/jobs/<uuid:job>/reserve-kit", job_records.reserve, name="reserve-kit-of-job"),
    path("work/jobs/<uuid:job>/start", job_records.start, name="start-job"),
    path("work/jobs/<uuid:job>/take-kit", job_records.take, name="take-kit-of-job"),
    path("work/jobs/<uuid:job>/hold", job_records.hold, name="hold-job"),
    path("work/jobs/<uuid:job>/resume", job_records.resume, name="resume-job"),
    path("work/jobs/<uuid:job>/report", job_records.report, name="report-on-job"),
    path("work/jobs/<uuid:job>/finish", job_records.finish, name="finish-job"),
    path("work/jobs/<uuid:job>/sign-off", job_records.sign, name="sign-off-job"),
    path("work/jobs/<uuid:job>/steps/<int:number>/measure", job_records.measure, name="measure-at-step"),
    path("work/jobs/<uuid:job>/steps/<int:number>/confirm", job_records.confirm, name="confirm-job-step"),
    path("work/jobs/<uuid:job>/steps/<int:number>/release", job_records.release, name="release-job-step"),
    path(
        "work/jobs/<uuid:job>/nonconformities/<uuid:nonconformity>/decide",
        job_records.settle,
        name="decide-nonconformity",
    ),
]
