"""Addresses of what is installed where."""

from django.urls import URLPattern, URLResolver, path

from assets.api import (
    access_tokens,
    fluid_families,
    grants,
    nameplates,
    people,
    position_roles,
    pump_models,
    pumps,
    sites,
    specifications,
    trade,
)

urlpatterns: list[URLPattern | URLResolver] = [
    path("me", people.MeView.as_view()),
    path("principals", people.PrincipalsView.as_view()),
    path("principals/<uuid:principal>", people.PrincipalView.as_view()),
    path("principals/<uuid:principal>/access-tokens", access_tokens.TokensOfPrincipalView.as_view()),
    path(
        "principals/<uuid:principal>/access-tokens/<uuid:token>",
        access_tokens.TokenOfPrincipalView.as_view(),
    ),
    path("sites", sites.SitesView.as_view()),
    path("sites/<uuid:site>", sites.SiteView.as_view()),
    path("bins", sites.BinsView.as_view()),
    path("bins/<uuid:bin>", sites.BinView.as_view()),
    path("grants", grants.GrantsView.as_view()),
    path("grants/<uuid:grant>", grants.GrantView.as_view()),
    path("makers", trade.MakersView.as_view()),
    path("makers/<uuid:maker>", trade.MakerView.as_view()),
    path("fluid-families", fluid_families.FluidFamiliesView.as_view()),
    path("fluid-families/<uuid:fluid_family>", fluid_families.FluidFamilyView.as_view()),
    path("fluids", trade.FluidsView.as_view()),
    path("fluids/<uuid:fluid>", trade.FluidView.as_view()),
    path("position-roles", position_roles.PositionRolesView.as_view()),
    path("position-roles/<uuid:position_role>", position_roles.PositionRoleView.as_view()),
    path("part-categories", specifications.PartCategoriesView.as_view()),
    path("specifications/read", specifications.ReadSpecificationView.as_view()),
    path("pump-models", pump_models.PumpModelsView.as_view()),
    path("pump-models/<uuid:model>", pump_models.PumpModelView.as_view()),
    path("pump-models/<uuid:model>/wear-positions", pump_models.WearPositionsView.as_view()),
    path("wear-positions/<uuid:position>", pump_models.WearPositionView.as_view()),
    path("nameplates/match", nameplates.NameplateMatchView.as_view()),
    path("pumps", pumps.PumpsView.as_view()),
    path("pumps/<uuid:pump>", pumps.PumpView.as_view()),
    path("pumps/<uuid:pump>/running-hours", pumps.PumpRunningHoursView.as_view()),
]
