"""Django's name for this part of the service; loading it lets every process send request ids along with its tasks."""

from django.apps import AppConfig

from services.observability import request_ids


class ObservabilityConfig(AppConfig):
    name = "services.observability"
    label = "observability"
    carried_as = request_ids.TASK_HEADER
