"""The plain nested insert as one would write it with the REST framework, its rows by one statement."""

from typing import Any

from django.core.handlers.wsgi import WSGIHandler
from django.db import transaction
from django.test.utils import override_settings
from django.urls import path
from rest_framework import generics, serializers
from rest_framework.authentication import TokenAuthentication
from rest_framework.parsers import JSONParser
from rest_framework.permissions import IsAuthenticated

from portfolio.models import Position
from tests.bench.nested.models import Reading, Sheet


class ReadingSerializer(serializers.ModelSerializer[Reading]):
    class Meta:
        model = Reading
        fields = ["number", "value", "unit"]


class SheetSerializer(serializers.ModelSerializer[Sheet]):
    position = serializers.PrimaryKeyRelatedField(queryset=Position.objects.all())
    readings = ReadingSerializer(many=True)

    class Meta:
        model = Sheet
        exclude = ["created_at"]

    def create(self, validated_data: dict[str, Any]) -> Sheet:
        readings = validated_data.pop("readings")
        with transaction.atomic():
            sheet = Sheet.objects.create(**validated_data)
            Reading.objects.bulk_create(Reading(sheet=sheet, **one) for one in readings)
        return sheet


class SheetsView(generics.CreateAPIView[Sheet]):
    authentication_classes = [TokenAuthentication]
    permission_classes = [IsAuthenticated]
    parser_classes = [JSONParser]
    serializer_class = SheetSerializer
    queryset = Sheet.objects.all()


urlpatterns = [path("sheets", SheetsView.as_view())]

USUAL_MIDDLEWARE = [
    "django.middleware.security.SecurityMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
]
"""As a new project has it."""


def application() -> WSGIHandler:
    with override_settings(MIDDLEWARE=USUAL_MIDDLEWARE):
        return WSGIHandler()
