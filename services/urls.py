"""All addresses. The apps' own lie in their ``api/urls.py`` and ``pages/urls.py``."""

from django.urls import include, path
from drf_spectacular.views import SpectacularAPIView, SpectacularSwaggerView
from rest_framework.permissions import AllowAny

from jobs.api.job_records import RecordVerificationView
from jobs.api.scanned_labels import ScannedLabelView
from jobs.pages.scanned_labels import scanned_label
from jobs.pages.verified_records import verified_record
from services.web.negotiation import by_media_type

scan = by_media_type(page=scanned_label, api=ScannedLabelView.as_view())
verification = by_media_type(page=verified_record, api=RecordVerificationView.as_view())

urlpatterns = [
    path("", include("services.observability.urls")),
    path("api/schema/", SpectacularAPIView.as_view(permission_classes=[AllowAny], throttle_classes=[]), name="schema"),
    path(
        "api/docs/",
        SpectacularSwaggerView.as_view(url_name="schema", permission_classes=[AllowAny], throttle_classes=[]),
        name="reference",
    ),
    path("api/v1/", include("services.identity.urls")),
    path("api/v1/", include("services.work.urls")),
    path("api/v1/", include("services.feed.urls")),
    path("api/v1/", include("services.bulk_loads.urls")),
    path("api/v1/", include("assets.api.urls")),
    path("api/v1/", include("kits.api.urls")),
    path("api/v1/", include("jobs.api.urls")),
    # Labels hold their address in capitals; people type small letters.
    path("S/<str:code>", scan),
    path("s/<str:code>", scan, name="scanned-label"),
    path("records/<str:digest>", verification, name="verified-record"),
    path("", include("services.web.urls")),
    path("", include("kits.pages.urls")),
    path("", include("jobs.pages.urls")),
]
