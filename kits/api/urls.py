"""Addresses of what is needed, stocked and ordered."""

from django.urls import URLPattern, URLResolver, include, path

from kits.api import (
    described_fits,
    fits,
    kit_fits,
    kits,
    lubricant_advice,
    material_suitability,
    parts,
    storage_life,
    supersessions,
    suppliers,
)

urlpatterns: list[URLPattern | URLResolver] = [
    path("parts", parts.PartsView.as_view()),
    path("parts/<uuid:part>", parts.PartView.as_view()),
    path("parts/<uuid:part>/supersessions", supersessions.PartSupersessionsView.as_view()),
    path("supersessions", supersessions.SupersessionsView.as_view()),
    path("supersessions/resolve", supersessions.ResolveSupersessionsView.as_view()),
    path("supersessions/<uuid:supersession>", supersessions.SupersessionView.as_view()),
    path("supersessions/<uuid:supersession>/withdraw", supersessions.WithdrawSupersessionView.as_view()),
    path("suppliers", suppliers.SuppliersView.as_view()),
    path("suppliers/<uuid:supplier>", suppliers.SupplierView.as_view()),
    path("supplier-terms", suppliers.SupplierTermsListView.as_view()),
    path("supplier-terms/<uuid:terms>", suppliers.SupplierTermsView.as_view()),
    path("kits", kits.KitsView.as_view()),
    path("kits/<uuid:kit>", kits.KitView.as_view()),
    path("kits/<uuid:kit>/lines", kits.KitLinesView.as_view()),
    path("kits/<uuid:kit>/release", kits.ReleaseKitView.as_view()),
    path("kits/<uuid:kit>/withdraw", kits.WithdrawKitView.as_view()),
    path("coverage", kits.CoverageView.as_view()),
    path("pumps/<uuid:pump>/fits", fits.PumpFitsView.as_view()),
    path("material-suitability", material_suitability.MaterialSuitabilityView.as_view()),
    path("lubricant-advice", lubricant_advice.LubricantAdviceView.as_view()),
    path("storage-life", storage_life.StorageLifeView.as_view()),
    path("", include("kits.api.table_urls")),
    path("described-pump-fits", described_fits.DescribedPumpFitsView.as_view()),
    path("described-kit-fits", described_fits.DescribedKitFitsView.as_view()),
    path("kits/<uuid:kit>/pumps", kit_fits.KitPumpsView.as_view()),
    path("kits/<uuid:kit>/dependence", kit_fits.KitDependenceView.as_view()),
    path("", include("kits.api.stock_urls")),
]
