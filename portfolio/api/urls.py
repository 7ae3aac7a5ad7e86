from django.urls import URLPattern, path, register_converter

from portfolio.api import description, imports, instruments, parties, people, photos, places, positions


class Sha256Converter:
    regex = "[0-9a-f]{64}"

    def to_python(self, value: str) -> str:
        return value

    def to_url(self, value: str) -> str:
        return value


register_converter(Sha256Converter, "sha256")

urlpatterns: list[URLPattern] = [
    path("openapi.json", description.DescriptionView.as_view()),
    path("me", people.MeView.as_view()),
    path("tokens", people.TokensView.as_view()),
    path("tokens/<uuid:pk>", people.TokenView.as_view()),
    path("people", people.PeopleView.as_view()),
    path("memberships", people.MembershipsView.as_view()),
    path("memberships/<uuid:pk>", people.MembershipView.as_view()),
    path("firms", parties.FirmsView.as_view()),
    path("firms/<uuid:pk>/owners", parties.OwnersView.as_view()),
    path("firms/<uuid:pk>/companies", parties.CompaniesView.as_view()),
    path("firms/<uuid:pk>/projects", parties.FirmProjectsView.as_view()),
    path("firms/<uuid:pk>/instruments", instruments.FirmInstrumentsView.as_view()),
    path("instruments", instruments.InstrumentsView.as_view()),
    path("instruments/<uuid:pk>", instruments.InstrumentView.as_view()),
    path("instruments/<uuid:pk>/calibrations", instruments.CalibrationsView.as_view()),
    path("projects", parties.ProjectsView.as_view()),
    path("projects/<uuid:pk>", parties.ProjectView.as_view()),
    path("projects/<uuid:pk>/imports", imports.ImportsView.as_view()),
    path("imports/<uuid:pk>", imports.ImportView.as_view()),
    path("imports/<uuid:pk>/apply", imports.ApplyView.as_view()),
    path("projects/<uuid:pk>/conventions", parties.ConventionsView.as_view()),
    path("projects/<uuid:pk>/sites", places.SitesView.as_view()),
    path("sites/<uuid:pk>", places.SiteView.as_view()),
    path("sites/<uuid:pk>/buildings", places.SiteBuildingsView.as_view()),
    path("buildings", places.BuildingsView.as_view()),
    path("buildings/<uuid:pk>", places.BuildingView.as_view()),
    path("buildings/<uuid:pk>/systems", places.SystemsView.as_view()),
    path("buildings/<uuid:pk>/spaces", places.SpacesView.as_view()),
    path("buildings/<uuid:pk>/positions", positions.BuildingPositionsView.as_view()),
    path("positions", positions.PositionsView.as_view()),
    path("positions/<uuid:pk>", positions.PositionView.as_view()),
    path("positions/<uuid:pk>/installations", positions.InstallationsView.as_view()),
    path("installations/<uuid:pk>", positions.InstallationView.as_view()),
    path("photos/<sha256:sha256>", photos.PhotoView.as_view()),
]
