"""Nobody may anything by default: a view that is not a `DoorView` answers 403 until somebody thinks about it."""

from typing import Any

from rest_framework.permissions import BasePermission
from rest_framework.request import Request


class Nobody(BasePermission):
    message = "This route grants nothing."

    def has_permission(self, request: Request, view: Any) -> bool:
        return False
