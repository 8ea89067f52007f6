"""What the service says of itself at /openapi.json: bodies that routes read on their own, and the form of errors.

Public: `PROBLEMS`, `install`.
"""

from __future__ import annotations

from typing import Any

from fastapi import FastAPI
from pydantic import BaseModel
from pydantic.json_schema import models_json_schema

from passband.analysis.given.car import Air, Car, Slip
from passband.service.details import RunChanges, UploadDetails

PROBLEM_SCHEMA = {
    "type": "object",
    "required": ["type", "title", "status", "detail", "instance"],
    "properties": {
        "type": {"type": "string"},
        "title": {"type": "string"},
        "status": {"type": "integer"},
        "detail": {"type": "string"},
        "instance": {"type": "string"},
        "findings": {"type": "array", "items": {"type": "object"}},
        "errors": {"type": "array", "items": {"type": "object"}},
        "reference": {"type": "string"},
    },
}
PROBLEMS: dict[int | str, dict[str, Any]] = {
    "default": {
        "description": "A problem, RFC 9457",
        "content": {"application/problem+json": {"schema": {"$ref": "#/components/schemas/Problem"}}},
    }
}
BODIES: dict[tuple[str, str], type[BaseModel]] = {
    ("/api/cars", "post"): Car,
    ("/api/cars/{car_id}", "put"): Car,
    ("/api/runs/{run_id}", "patch"): RunChanges,
}
"""Bodies that are read as plain values first, so that what is kept is what the user wrote."""
QUANTITIES = frozenset({"Car", "Slip", "Air"})
"""Whose numbers may also be texts with a unit."""


def install(app: FastAPI) -> None:
    """Add to an application's own description what its routes cannot say.

    Parameters
    ----------
    app : FastAPI
        Changed in place; the routes must be there already.
    """
    made = app.openapi

    def described() -> dict[str, Any]:
        if app.openapi_schema is None:
            _complete(made())
        return made()

    app.openapi = described  # type: ignore[method-assign]


def _complete(schema: dict[str, Any]) -> None:
    models = [(model, "validation") for model in (Car, Slip, Air, RunChanges, UploadDetails)]
    _, extra = models_json_schema(models, ref_template="#/components/schemas/{model}")  # type: ignore[arg-type]
    components = schema.setdefault("components", {}).setdefault("schemas", {})
    components.update(extra["$defs"], Problem=PROBLEM_SCHEMA)
    for name in QUANTITIES:
        _allow_units(components[name]["properties"])
    for (path, method), model in BODIES.items():
        schema["paths"][path][method]["requestBody"] = _json_body(model.__name__)
    schema["paths"]["/api/runs"]["post"]["requestBody"] = _upload_body()
    for path in schema["paths"].values():
        for operation in path.values():
            operation["responses"].pop("422", None)  # FastAPI's own form of it, which we do not use
    components.pop("HTTPValidationError", None)
    components.pop("ValidationError", None)


def _allow_units(node: Any) -> None:
    if isinstance(node, list):
        for item in node:
            _allow_units(item)
    if isinstance(node, dict):
        if node.get("type") == "number":
            node["type"] = ["number", "string"]
        for item in node.values():
            _allow_units(item)


def _json_body(name: str) -> dict[str, Any]:
    return {"required": True, "content": {"application/json": {"schema": {"$ref": f"#/components/schemas/{name}"}}}}


def _upload_body() -> dict[str, Any]:
    schema = {
        "type": "object",
        "required": ["log"],
        "properties": {
            "log": {"type": "array", "minItems": 1, "items": {"type": "string", "format": "binary"}},
            "car": {"type": "string", "description": "Id of a car."},
            "details": {"$ref": "#/components/schemas/UploadDetails"},
        },
    }
    encoding = {"details": {"contentType": "application/json"}}
    return {"required": True, "content": {"multipart/form-data": {"schema": schema, "encoding": encoding}}}
