"""The server's routes, and beside them the plain insert's."""

from django.urls import include, path

urlpatterns = [path("bench/", include("tests.bench.nested.serving")), path("", include("portfolio.urls"))]
