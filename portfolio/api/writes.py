"""Reading a body and writing a row: each act in one transaction with its audit."""

from typing import Any, TypeVar

from django.db import transaction
from django.db.models import Model
from rest_framework import serializers
from rest_framework.request import Request

from portfolio import audit
from portfolio.door.field_errors import FieldError
from portfolio.door.problems import Problem, invalid
from portfolio.door.views import DoorView

M = TypeVar("M", bound=Model)


def read(form: type[serializers.Serializer[Any]], request: Request, *, partial: bool = False) -> dict[str, Any]:
    """The body as `form` understands it, or 400 with every fault. A change that names nothing is a fault."""
    reader = form(data=request.data, partial=partial)
    reader.is_valid(raise_exception=True)
    values: dict[str, Any] = reader.validated_data
    if partial and not values:
        raise wrong("", "empty", "Nothing is named that could be changed.", "Name at least one field.")
    return values


def add(view: DoorView, row: M, *, once: tuple[str, ...] = (), detail: dict[str, Any] | None = None) -> M:
    """Insert `row` and note it. With the same values of `once` there already: 409, with the id of that one."""
    with transaction.atomic():
        if once:
            refuse_second(row, once)
        row.save(force_insert=True)
        note(view, row, detail)
    return row


def change(view: DoorView, row: M, values: dict[str, Any], *, detail: dict[str, Any] | None = None) -> M:
    """Set the named fields of `row` and note which."""
    with transaction.atomic():
        for name, value in values.items():
            setattr(row, name, value)
        if values:
            row.save(update_fields=list(values))
        note(view, row, {"fields": sorted(values)} | (detail or {}))
    return row


def note(view: DoorView, row: Model, detail: dict[str, Any] | None = None) -> None:
    scope = row.access_scope() if hasattr(row, "access_scope") else None
    audit.note(
        request=view.request,
        person=view.person,
        verb=view.verb,
        obj=row,
        project_id=scope.project_id if scope else None,
        detail=detail,
    )


def refuse_second(row: Model, once: tuple[str, ...]) -> None:
    same = type(row)._default_manager.filter(**{name: getattr(row, name) for name in once}).first()
    if same is not None:
        raise Problem(
            409,
            "exists",
            "There is one already",
            f"The same {' and '.join(once[1:] or once)} cannot be there twice.",
            extra={"id": str(same.pk)},
        )


def wrong(pointer: str, code: str, detail: str, remedy: str) -> Problem:
    """A fault that only the database could tell."""
    return invalid([FieldError(pointer=pointer, code=code, detail=detail, remedy=remedy)])
