"""How the API describes itself: names of operations, who may call, and that every refusal is a problem document."""

from typing import Any

from drf_spectacular.openapi import AutoSchema

_METHODS = ("get", "post", "put", "patch", "delete")
_REFUSALS = {
    "400": "The request has faults; `errors` names each.",
    "401": "Nobody is signed in, or the token is refused.",
    "403": "It is seen, and may not be done; `detail` says why.",
    "404": "There is no such thing, or it is not yours to see.",
    "default": "Any other refusal, such as 405, 409, 412, 413, 415, 428, 429, 500 or 503.",
}
_PROBLEM: dict[str, Any] = {
    "type": "object",
    "description": "RFC 9457. `code` is stable; sentences may change.",
    "required": ["type", "title", "status", "code", "detail", "request_id"],
    "properties": {
        "type": {"type": "string"},
        "title": {"type": "string"},
        "status": {"type": "integer"},
        "code": {"type": "string"},
        "detail": {"type": "string"},
        "request_id": {"type": "string"},
        "errors": {
            "type": "array",
            "items": {
                "type": "object",
                "required": ["pointer", "code", "detail"],
                "properties": {
                    "pointer": {"type": "string", "description": "A JSON pointer, or ?key of the query."},
                    "code": {"type": "string"},
                    "detail": {"type": "string"},
                    "value": {},
                    "remedy": {"type": "string"},
                },
            },
        },
    },
}
_SECURITY_SCHEMES = {
    "deviceToken": {"type": "http", "scheme": "bearer", "description": "A device token, `vfd_…`."},
    "session": {"type": "apiKey", "in": "cookie", "name": "session", "description": "Our own pages; with CSRF."},
}


class DoorSchema(AutoSchema):
    """Operations are called after method and path; their summary is the view's first sentence."""

    def get_operation_id(self) -> str:
        words = [word.strip("{}") for word in self.path.split("/") if word and word not in ("api", "v1")]
        return "_".join([self.method.lower(), *words]).replace(".", "_")

    def get_summary(self) -> str:
        text: str = self.get_description()
        return text.partition(".")[0].replace("\n", " ").strip()

    def get_auth(self) -> list[dict[str, list[str]]]:
        return [] if getattr(self.view, "public", False) else [{"deviceToken": []}, {"session": []}]

    def get_tags(self) -> list[str]:
        return [next(word for word in self.path.split("/") if word and word not in ("api", "v1"))]


def finish(result: dict[str, Any], **_: Any) -> dict[str, Any]:
    """Hook of the generator: add the problem document, and what each list takes."""
    components = result.setdefault("components", {})
    components.setdefault("schemas", {})["Problem"] = _PROBLEM
    components["securitySchemes"] = _SECURITY_SCHEMES
    for item in result["paths"].values():
        for method, operation in item.items():
            if method in _METHODS:
                _finish_operation(operation)
    return result


def _finish_operation(operation: dict[str, Any]) -> None:
    content = {"application/problem+json": {"schema": {"$ref": "#/components/schemas/Problem"}}}
    for status, description in _REFUSALS.items():
        operation["responses"].setdefault(status, {"description": description, "content": content})
    listed = operation["responses"].get("200", {}).get("content", {}).get("application/json", {}).get("schema", {})
    if str(listed.get("$ref", "")).endswith("Page"):
        operation.setdefault("parameters", []).extend(
            [
                {"in": "query", "name": "cursor", "schema": {"type": "string"}, "description": "Taken from `next`."},
                {
                    "in": "query",
                    "name": "page_size",
                    "schema": {"type": "integer", "minimum": 1, "maximum": 500, "default": 100},
                },
            ]
        )
