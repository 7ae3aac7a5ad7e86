"""The project's routes; commissioning is named only as strings."""

from django.urls import URLPattern, URLResolver, include, path

from portfolio.door import health

urlpatterns: list[URLPattern | URLResolver] = [
    path("healthz", health.lives, name="healthz"),
    path("readyz", health.ready, name="readyz"),
    path("api/v1/", include("portfolio.api.urls")),
    path("api/v1/", include("commissioning.api.urls")),
    path("", include("portfolio.dashboards.urls")),
    path("", include("commissioning.pages.urls")),
]

handler400 = "portfolio.door.problems.bad_request"
handler403 = "portfolio.dashboards.faults.permission_denied"
handler404 = "portfolio.dashboards.faults.page_not_found"
handler500 = "portfolio.door.problems.server_error"
