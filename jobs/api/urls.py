"""Addresses of what is done."""

from django.urls import path

from jobs.api import instruments, jobs, labels, measurements, procedures, records, scanned_labels, steps, taking_over

urlpatterns = [
    path("reservations/<uuid:reservation>/take-over", taking_over.TakeOverView.as_view()),
    path("procedures", procedures.ProceduresView.as_view()),
    path("procedure-revisions", procedures.ProcedureRevisionsView.as_view()),
    path("procedure-revisions/<uuid:revision>", procedures.ProcedureRevisionView.as_view()),
    path("procedure-revisions/<uuid:revision>/publish", procedures.PublishView.as_view()),
    path("procedure-revisions/<uuid:revision>/withdraw", procedures.WithdrawView.as_view()),
    path("instruments", instruments.InstrumentsView.as_view()),
    path("instruments/<uuid:instrument>", instruments.InstrumentView.as_view()),
    path("jobs", jobs.JobsView.as_view()),
    path("jobs/<uuid:job>", jobs.JobView.as_view()),
    path("jobs/<uuid:job>/reserve-kit", jobs.ReserveKitView.as_view()),
    path("jobs/<uuid:job>/start", jobs.StartView.as_view()),
    path("jobs/<uuid:job>/hold", jobs.HoldView.as_view()),
    path("jobs/<uuid:job>/resume", jobs.ResumeView.as_view()),
    path("jobs/<uuid:job>/cancel", jobs.CancelView.as_view()),
    path("jobs/<uuid:job>/take-kit", jobs.TakeKitView.as_view()),
    path("jobs/<uuid:job>/finish", jobs.FinishView.as_view()),
    path("jobs/<uuid:job>/sign-off", jobs.SignOffJobView.as_view()),
    path("jobs/<uuid:job>/steps", steps.JobStepsView.as_view()),
    path("jobs/<uuid:job>/steps/<int:number>", steps.JobStepView.as_view()),
    path("jobs/<uuid:job>/steps/<int:number>/confirm", steps.ConfirmStepView.as_view()),
    path("jobs/<uuid:job>/steps/<int:number>/release", steps.ReleaseStepView.as_view()),
    path("jobs/<uuid:job>/measurements", measurements.JobMeasurementsView.as_view()),
    path("jobs/<uuid:job>/sign-offs", records.JobSignOffsView.as_view()),
    path("labels", labels.LabelsView.as_view()),
    path("labels/<uuid:label>", labels.LabelView.as_view()),
    path("labels/<uuid:label>/replace", labels.ReplaceLabelView.as_view()),
    path("labels/<uuid:label>/void", labels.VoidLabelView.as_view()),
    path("label-sheets", labels.LabelSheetsView.as_view()),
    path("scanned-labels", scanned_labels.ScannedLabelsView.as_view()),
    path("scanned-labels/<str:code>", scanned_labels.ScannedLabelView.as_view()),
    path("nonconformities", records.NonconformitiesView.as_view()),
    path("nonconformities/<uuid:nonconformity>", records.NonconformityView.as_view()),
    path("nonconformities/<uuid:nonconformity>/decide", records.DecideView.as_view()),
    path("pumps/<uuid:pump>/fitted-parts", records.PumpFittedPartsView.as_view()),
]
