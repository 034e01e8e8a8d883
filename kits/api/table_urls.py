"""Addresses of the tables of the trade."""

from django.urls import URLPattern, URLResolver, path

from kits.api.tables import (
    approval_limits,
    assembly_cautions,
    kit_scopes,
    lubricant_verdicts,
    lubricants,
    material_limits,
    material_ratings,
    material_storage_groups,
    materials,
    seal_face_ratings,
    seal_faces,
    service_targets,
    storage_groups,
    transit_times,
)

urlpatterns: list[URLPattern | URLResolver] = [
    path("materials", materials.MaterialsView.as_view()),
    path("materials/<uuid:material>", materials.MaterialView.as_view()),
    path("material-limits", material_limits.MaterialLimitsView.as_view()),
    path("material-limits/<uuid:material_limit>", material_limits.MaterialLimitView.as_view()),
    path("material-ratings", material_ratings.MaterialRatingsView.as_view()),
    path("material-ratings/<uuid:material_rating>", material_ratings.MaterialRatingView.as_view()),
    path("material-storage-groups", material_storage_groups.MaterialStorageGroupsView.as_view()),
    path(
        "material-storage-groups/<uuid:material_storage_group>",
        material_storage_groups.MaterialStorageGroupView.as_view(),
    ),
    path("storage-groups", storage_groups.StorageGroupsView.as_view()),
    path("storage-groups/<uuid:storage_group>", storage_groups.StorageGroupView.as_view()),
    path("seal-faces", seal_faces.SealFacesView.as_view()),
    path("seal-faces/<uuid:seal_face>", seal_faces.SealFaceView.as_view()),
    path("seal-face-ratings", seal_face_ratings.SealFaceRatingsView.as_view()),
    path("seal-face-ratings/<uuid:seal_face_rating>", seal_face_ratings.SealFaceRatingView.as_view()),
    path("lubricants", lubricants.LubricantsView.as_view()),
    path("lubricants/<uuid:lubricant>", lubricants.LubricantView.as_view()),
    path("lubricant-verdicts", lubricant_verdicts.LubricantVerdictsView.as_view()),
    path("lubricant-verdicts/<uuid:lubricant_verdict>", lubricant_verdicts.LubricantVerdictView.as_view()),
    path("assembly-cautions", assembly_cautions.AssemblyCautionsView.as_view()),
    path("assembly-cautions/<uuid:assembly_caution>", assembly_cautions.AssemblyCautionView.as_view()),
    path("kit-scopes", kit_scopes.KitScopesView.as_view()),
    path("kit-scopes/<uuid:kit_scope>", kit_scopes.KitScopeView.as_view()),
    path("service-targets", service_targets.ServiceTargetsView.as_view()),
    path("approval-limits", approval_limits.ApprovalLimitsView.as_view()),
    path("approval-limits/<uuid:approval_limit>", approval_limits.ApprovalLimitView.as_view()),
    path("transit-times", transit_times.TransitTimesView.as_view()),
    path("transit-times/<uuid:transit_time>", transit_times.TransitTimeView.as_view()),
    path("service-targets/<uuid:service_target>", service_targets.ServiceTargetView.as_view()),
]
