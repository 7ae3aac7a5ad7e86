"""Routes of the door to the pages; what the pages show is routed in commissioning.pages."""

from django.urls import URLPattern, path

from portfolio.dashboards import display, entrance

urlpatterns: list[URLPattern] = [
    path("login", entrance.LoginPage.as_view(), name="login"),
    path("logout", entrance.LogoutPage.as_view(), name="logout"),
    path("display", display.DisplayPage.as_view(), name="display"),
]
