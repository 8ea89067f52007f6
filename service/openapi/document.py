"""What the service says of itself at /openapi.json: bodies, answers, errors and bounds as they are.

Routes read their bodies and make their answers on their own, so that what is kept is what the user wrote; what the
framework cannot know of them is added here. Bounds are those of the settings in force.

Public: `install`.
"""

from __future__ import annotations

from dataclasses import dataclass
from http import HTTPStatus
from typing import Any

from fastapi import FastAPI
from pydantic import BaseModel
from pydantic.json_schema import models_json_schema

from passband.analysis.given.car import Air, Car, Slip
from passband.analysis.results.plain_values import JsonObject
from passband.service.answers.items import GroupsGiven, PartGiven
from passband.service.answers.put_right import PutRightAsked
from passband.service.answers.traces import ARROW_STREAM
from passband.service.answers.whatif_asked import WhatIfBody
from passband.service.cars.corrections import FactsGiven
from passband.service.cars.kept_sheets import SheetGiven
from passband.service.cars.usuals import UsualGiven
from passband.service.given.details import (
    BenchSheets,
    ColumnAnswers,
    GivenSoFar,
    PassAsked,
    RunChanges,
    SortDetails,
    UploadDetails,
)
from passband.service.openapi.answer_schemas import REF, answer_schemas
from passband.service.reviewing.following import EVENT_STREAM
from passband.service.routes.events import EVENTS_UNASKED
from passband.service.routes.review import POINTS_UNASKED
from passband.service.routes.runs import RUNS_UNASKED
from passband.service.settings import Settings
from passband.service.uploads.received import SORTED_FILES

Schema = JsonObject
JSON = "application/json"
BYTES: Schema = {"type": "string", "format": "binary"}
FILES: Schema = {
    "application/vnd.apache.parquet": BYTES,
    "text/csv": {"type": "string"},
    "application/pdf": BYTES,
    "image/png": BYTES,
}
"""Forms in which a run or an event's sheet is taken away."""
QUANTITY_TEXT: Schema = {
    "type": "string",
    "pattern": r"^\s*[-+]?(\d+([.,]\d*)?|[.,]\d+)([eE][-+]?\d+)?",
    "description": "A number, then its unit.",
}
QUANTITIES = ("Car", "Slip", "Air", "Limit", "Curve", "Condition")
"""Whose numbers may also be texts with a unit."""
NAME, WORD = r"^[^,]*$", r"^[^,\s]+$"
"""An item of a list parted by commas: a channel's name, which may hold blanks; an id, which may not."""
PROBLEM: Schema = {
    "type": "object",
    "required": ["type", "title", "status", "detail", "instance"],
    "properties": {
        "type": {"type": "string"},
        "title": {"type": "string"},
        "status": {"type": "integer", "minimum": 400, "maximum": 599},
        "detail": {"type": "string"},
        "instance": {"type": "string"},
        "request_id": {"type": "string", "description": "As in the header X-Request-Id and in the server's own log."},
        "findings": {"type": "array", "items": {"$ref": f"{REF}Finding"}},
        "columns": {
            "type": "array",
            "items": {"type": "object"},
            "description": "Where no log has an engine speed: those that may be it, to be kept with the car's layouts.",
        },
        "errors": {
            "type": "array",
            "items": {
                "type": "object",
                "required": ["where", "text"],
                "properties": {"where": {"type": "string"}, "text": {"type": "string"}},
            },
        },
        "reference": {"type": "string", "description": "Under which the server's own log tells more."},
    },
}
PREFER: Schema = {
    "name": "Prefer",
    "in": "header",
    "required": False,
    "schema": {"type": "string"},
    "description": "`respond-async` (RFC 7240): the logs are kept and reviewed later; the answer is 202.",
}
LOCATION: Schema = {"Location": {"schema": {"type": "string"}, "description": "Where to ask what became of it."}}
ALWAYS = (400, 421, 500, 503)
"""May come of any question: no HTTP, a foreign name, our own mistake, too busy or ending."""
WITH_BODY = (403, 408, 413, 415, 422, 507)
"""May come of what is sent."""


@dataclass(frozen=True, slots=True)
class Operation:
    """What is added to one operation."""

    answers: dict[int, dict[str, Schema]]
    """Status, media type, schema."""
    problems: tuple[int, ...] = ()
    """Statuses besides `ALWAYS`."""
    body: str | None = None
    """Name of the schema of its JSON body."""
    links: tuple[tuple[str, str, str], ...] = ()
    """Operation that goes on from the answer, its parameter, and where in the answer that stands."""


def _json(name: str) -> dict[str, Schema]:
    return {JSON: {"$ref": REF + name}}


CAR_LINKS = (("one_car", "car_id", "/id"), ("change_car", "car_id", "/id"))
OF_RUN = ("one_run", "change_run", "review", "traces", "log_as_it_came", "export", "remove_run")
RUN_LINKS = tuple((name, "run_id", "/runs/0/id") for name in OF_RUN)
JOB_LINKS = (("one_job", "job_id", "/id"),)
OPERATIONS: dict[tuple[str, str], Operation] = {
    ("/api/cars", "get"): Operation({200: _json("Cars")}),
    ("/api/cars", "post"): Operation({201: _json("KeptCar")}, WITH_BODY, "Car", CAR_LINKS),
    ("/api/cars/{car_id}", "get"): Operation({200: _json("KeptCar")}, (404, 422)),
    ("/api/cars/{car_id}", "put"): Operation({200: _json("KeptCar")}, (404, 409, *WITH_BODY), "Car"),
    ("/api/cars/{car_id}/facts", "get"): Operation({200: _json("CarFacts")}, (404,)),
    ("/api/cars/{car_id}/versions/{version}/facts", "put"): Operation(
        {200: _json("CarFacts")}, (404, 409, *WITH_BODY), "FactsGiven"
    ),
    ("/api/cars/{car_id}/foretold", "get"): Operation({200: _json("BackTests")}, (404, 409)),
    ("/api/runs", "get"): Operation({200: _json("Runs")}, (404, 422), links=RUN_LINKS),
    ("/api/runs", "post"): Operation(
        {200: {**_json("TakenIn"), EVENT_STREAM: {"type": "string"}}, 201: _json("TakenIn"), 202: _json("Job")},
        (404, 409, *WITH_BODY),
        links=RUN_LINKS,
    ),
    ("/api/runs/sort", "post"): Operation({200: _json("Sorted")}, WITH_BODY),
    ("/api/runs/{run_id}", "get"): Operation({200: _json("WholeRun")}, (404, 409)),
    ("/api/runs/{run_id}", "patch"): Operation({200: _json("Run")}, (404, 409, *WITH_BODY), "RunChanges"),
    ("/api/runs/{run_id}", "delete"): Operation({204: {}}, (403, 404, 409, 422, 507)),
    ("/api/runs/{run_id}/review", "get"): Operation({200: _json("Review")}, (404, 409)),
    ("/api/runs/{run_id}/traces", "get"): Operation({200: {**_json("Traces"), ARROW_STREAM: BYTES}}, (404, 409, 422)),
    ("/api/runs/{run_id}/logs/{n}", "get"): Operation(
        {200: {"application/octet-stream": BYTES}, 206: {"application/octet-stream": BYTES}, 307: {}},
        (404, 409, 416, 422),
    ),
    ("/api/runs/{run_id}/export", "get"): Operation(
        {200: FILES, 206: {"application/vnd.apache.parquet": BYTES}, 307: {}},
        (404, 409, 416, 422),
    ),
    ("/api/runs/{run_id}/whatif", "post"): Operation({200: _json("WhatIf")}, (404, *WITH_BODY), "WhatIfBody"),
    ("/api/runs/{run_id}/bench", "post"): Operation({200: _json("BenchBeside")}, (404, *WITH_BODY), "BenchSheets"),
    ("/api/runs/{run_id}/columns", "post"): Operation(
        {200: _json("Answered")}, (404, 409, *WITH_BODY), "ColumnAnswers"
    ),
    ("/api/compare", "get"): Operation({200: _json("Compared")}, (404, 422)),
    ("/api/change", "get"): Operation({200: _json("GroupChange")}, (404, 422)),
    ("/api/overlay", "get"): Operation(
        {200: {**_json("Overlay"), "application/pdf": BYTES, "image/png": BYTES}}, (404, 422)
    ),
    ("/api/events", "get"): Operation({200: _json("Events")}, (404, 422)),
    ("/api/events/{name}/sheet", "get"): Operation(
        {200: {**_json("EventSheet"), **FILES}},
        (404, 422),
    ),
    ("/api/cars/{car_id}/parts", "get"): Operation({200: _json("Parts")}, (404, 409)),
    ("/api/cars/{car_id}/parts", "post"): Operation({201: _json("Part")}, (404, 409, *WITH_BODY), "PartGiven"),
    ("/api/parts/{part_id}", "put"): Operation({200: _json("Part")}, (404, 409, *WITH_BODY), "PartGiven"),
    ("/api/parts/{part_id}", "delete"): Operation({204: {}}, (403, 404, 409, 507)),
    ("/api/cars/{car_id}/sheets", "get"): Operation({200: _json("Sheets")}, (404, 409)),
    ("/api/cars/{car_id}/sheets", "post"): Operation({201: _json("KeptSheet")}, (404, 409, *WITH_BODY), "SheetGiven"),
    ("/api/sheets/{sheet_id}", "delete"): Operation({204: {}}, (403, 404, 409, 507)),
    ("/api/cars/{car_id}/usuals", "get"): Operation({200: _json("Usuals")}, (404, 409)),
    ("/api/runs/{run_id}/usual", "put"): Operation({200: _json("Usual")}, (404, 409, *WITH_BODY), "UsualGiven"),
    ("/api/runs/{run_id}/usual", "delete"): Operation({204: {}}, (403, 404, 409, 507)),
    ("/api/groups", "get"): Operation({200: _json("AllGroups")}),
    ("/api/groups", "post"): Operation({201: _json("Groups")}, (404, 409, *WITH_BODY), "GroupsGiven"),
    ("/api/groups/{groups_id}", "get"): Operation({200: _json("NamedChange")}, (404, 409, 422)),
    ("/api/groups/{groups_id}", "put"): Operation({200: _json("Groups")}, (404, 409, *WITH_BODY), "GroupsGiven"),
    ("/api/groups/{groups_id}", "delete"): Operation({204: {}}, (403, 404, 409, 507)),
    ("/api/put-right", "get"): Operation({200: _json("AllPutRight")}),
    ("/api/put-right", "post"): Operation({200: _json("PutRight")}, (404, 409, *WITH_BODY), "PutRightAsked"),
    ("/api/put-right/{put_right_id}/undo", "post"): Operation({200: _json("PutRight")}, (403, 404, 409, 507)),
    ("/api/jobs/{job_id}", "get"): Operation({200: _json("Job")}, (404,)),
    ("/api/review-again", "post"): Operation({202: _json("Job")}, WITH_BODY, "PassAsked", JOB_LINKS),
    ("/api/understand", "post"): Operation({200: _json("Understood")}, WITH_BODY, "GivenSoFar"),
    ("/api/trash", "get"): Operation({200: _json("TrashEntries")}),
    ("/api/trash", "delete"): Operation({204: {}}, (403, 409)),
    ("/api/trash/{entry_id}", "delete"): Operation({204: {}}, (403, 404, 409)),
    ("/api/trash/{entry_id}/restore", "post"): Operation({200: _json("Restored")}, (403, 404, 409, 507)),
    ("/health", "get"): Operation({200: _json("Health")}),
    ("/ready", "get"): Operation({200: _json("Ready")}),
    ("/metrics", "get"): Operation({200: {"text/plain": {"type": "string"}}}, (401, 403)),
}


def install(app: FastAPI) -> None:
    """Add to an application's own description what its routes cannot say.

    Parameters
    ----------
    app : FastAPI
        Changed in place; the routes must be there already.
    """
    made = app.openapi

    def described() -> JsonObject:
        if app.openapi_schema is None:
            _complete(made(), app.state.settings)
        return made()

    app.openapi = described  # type: ignore[method-assign]


def _complete(schema: Schema, settings: Settings) -> None:
    components = schema.setdefault("components", {}).setdefault("schemas", {})
    for name in ("HTTPValidationError", "ValidationError"):  # the framework's own form, which we do not use
        components.pop(name, None)
    components.update(_given_schemas(), Problem=PROBLEM)
    components.update(answer_schemas(components["Car"]))
    for (path, method), operation in OPERATIONS.items():
        _complete_operation(schema["paths"][path][method], operation)
        _bound_parameters(path, schema["paths"][path][method], settings)
    schema["paths"]["/api/runs"]["post"]["requestBody"] = _upload_body(settings.files, "UploadDetails")
    schema["paths"]["/api/runs"]["post"].setdefault("parameters", []).append(PREFER)
    for path in ("/api/runs", "/api/review-again"):
        schema["paths"][path]["post"]["responses"]["202"]["headers"] = LOCATION
    schema["paths"]["/api/runs/sort"]["post"]["requestBody"] = _upload_body(SORTED_FILES, "SortDetails")


def _complete_operation(answer: Schema, operation: Operation) -> None:
    links = {
        f"{name} of {place}": {"operationId": name, "parameters": {parameter: f"$response.body#{place}"}}
        for name, parameter, place in operation.links
    }
    answer["responses"] = {
        str(status): {
            "description": HTTPStatus(status).phrase,
            **({"content": {kind: {"schema": of} for kind, of in media.items()}} if media else {}),
            **({"links": links} if links else {}),
        }
        for status, media in operation.answers.items()
    }
    problem = {"application/problem+json": {"schema": {"$ref": f"{REF}Problem"}}}
    for status in sorted({*ALWAYS, *operation.problems}):
        text = f"{HTTPStatus(status).phrase}: a problem, RFC 9457"
        answer["responses"][str(status)] = {"description": text, "content": problem}
    answer["responses"]["default"] = {"description": "Any other problem, RFC 9457", "content": problem}
    if operation.body:
        content = {JSON: {"schema": {"$ref": REF + operation.body}}}
        answer["requestBody"] = {"required": True, "content": content}


def _bound_parameters(path: str, operation: Schema, settings: Settings) -> None:
    most_runs, most_channels = settings.side_by_side, settings.channels
    bounds: dict[tuple[str, str], Schema] = {
        ("/api/runs", "limit"): _up_to(settings.page_runs, RUNS_UNASKED),
        ("/api/events", "limit"): _up_to(settings.page_runs, EVENTS_UNASKED),
        ("/api/runs/{run_id}/traces", "points"): _up_to(settings.points, POINTS_UNASKED),
        ("/api/runs/{run_id}/traces", "channels"): _listed(1, most_channels),
        ("/api/overlay", "channels"): _listed(0, most_channels),
        ("/api/overlay", "runs"): {**_listed(1, most_runs, of=WORD), "uniqueItems": True},
        ("/api/change", "before"): {**_listed(1, settings.page_runs, of=WORD), "uniqueItems": True},
        ("/api/change", "after"): {**_listed(1, settings.page_runs, of=WORD), "uniqueItems": True},
        ("/api/compare", "runs"): {**_listed(2, most_runs, of=WORD), "uniqueItems": True},
    }
    for parameter in operation.get("parameters", ()):
        parameter["schema"] = _without_null(parameter["schema"])
        bound = bounds.get((path, parameter["name"]), {})
        if bound.get("type") == "array":  # a,b,c
            bound = {**bound, **_default_list(parameter["schema"])}
            parameter.update(schema=bound, style="form", explode=False)
        parameter["schema"].update(bound)


def _up_to(most: int, unasked: int) -> Schema:
    return {"maximum": most, "default": min(unasked, most)}


def _listed(least: int, most: int, *, of: str = NAME) -> Schema:
    return {"type": "array", "minItems": least, "maxItems": most, "items": {"type": "string", "pattern": of}}


def _default_list(schema: Schema) -> Schema:
    return {"default": schema["default"].split(",")} if "default" in schema else {}


def _without_null(schema: Schema) -> Schema:
    """A parameter that may be left out; an address cannot say null."""
    choices = [choice for choice in schema.get("anyOf", ()) if choice != {"type": "null"}]
    rest = {key: value for key, value in schema.items() if key != "anyOf"}
    return {**rest, **choices[0]} if choices else schema


def _given_schemas() -> dict[str, Schema]:
    """What users send: cars, slips, air, what is said of a run."""
    models: list[type[BaseModel]] = [
        Car, Slip, Air, RunChanges, PassAsked, ColumnAnswers, BenchSheets, WhatIfBody, GivenSoFar, UploadDetails,
        SortDetails, PartGiven, GroupsGiven, UsualGiven, FactsGiven, SheetGiven, PutRightAsked,
    ]  # fmt: skip
    wanted = [(model, "validation") for model in models]
    _, extra = models_json_schema(wanted, ref_template=REF + "{model}")  # type: ignore[arg-type]
    schemas: dict[str, Schema] = extra["$defs"]
    for name in QUANTITIES:
        schemas[name]["properties"] = _with_units(schemas[name]["properties"])
    for name in ("UploadDetails", "RunChanges", "SaidOfMany"):
        for key, model in (("slip", "Slip"), ("air", "Air")):
            schemas[name]["properties"][key] = _as_model(schemas[name]["properties"][key], model)
    schemas["Limit"]["oneOf"] = [_only(rule, schemas["Limit"]) for rule in ("at_least", "at_most", "curve")]
    schemas["Condition"]["anyOf"] = [
        {"required": [bound], "properties": {bound: {"type": ["number", "string"]}}}
        for bound in ("at_least", "at_most")
    ]
    _allow_words(schemas)
    for key in ("id", "version", "made_at"):
        schemas["Car"]["properties"][key] = {
            "readOnly": True,
            "description": "Of the answer; passed over when sent back.",
        }
    return schemas


def _only(rule: str, limit: Schema) -> Schema:
    """That one rule of a limit is given and the others are not."""
    others = {other: {"type": "null"} for other in ("at_least", "at_most", "curve") if other != rule}
    given = {"type": "object"} if rule == "curve" else {"type": ["number", "string"]}
    return {"required": [rule], "properties": {rule: given, **others}}


def _with_units(node: Any) -> Any:
    """Numbers of a schema may also be texts that begin with one; whole numbers may not."""
    if isinstance(node, list):
        return [_with_units(item) for item in node]
    if not isinstance(node, dict):
        return node
    if node.get("type") == "number":
        bounds = {key: node[key] for key in ("type", "minimum", "maximum") if key in node}
        rest = {key: value for key, value in node.items() if key not in bounds}
        return {**rest, "anyOf": [bounds, QUANTITY_TEXT]}
    changed = {key: _with_units(value) for key, value in node.items()}
    if any("anyOf" in choice for choice in changed.get("anyOf", ())):
        inner = [choice.get("anyOf", [choice]) for choice in changed["anyOf"] if choice != {"type": "string"}]
        changed["anyOf"] = [choice for choices in inner for choice in choices]
    return changed


def _as_model(node: Any, model: str) -> Any:
    """Put a reference in the place of every object that may hold anything."""
    if isinstance(node, list):
        return [_as_model(item, model) for item in node]
    if not isinstance(node, dict):
        return node
    if node.get("type") == "object":
        return {"$ref": REF + model}
    return {key: _as_model(value, model) for key, value in node.items()}


def _allow_words(schemas: dict[str, Schema]) -> None:
    """A list of quantities and a condition may be written as one text."""
    text = {"type": "string", "pattern": r"\d", "description": "As people write it: 2.55, 1.8 or throttle > 90 %."}
    for key in ("gear_ratios", "rpm_band"):
        schemas["Car"]["properties"][key]["anyOf"].append(text)
    when = schemas["Limit"]["properties"]["when"]
    when["items"] = {"anyOf": [when["items"], text]}


def _upload_body(files: int, details: str) -> Schema:
    schema = {
        "type": "object",
        "required": ["log"],
        "additionalProperties": False,
        "properties": {
            "log": {"type": "array", "minItems": 1, "maxItems": files, "items": BYTES},
            "car": {"type": "string", "description": "Id of a car; empty for none."},
            "details": {"$ref": f"{REF}{details}"},
        },
    }
    encoding = {"details": {"contentType": JSON}}
    return {"required": True, "content": {"multipart/form-data": {"schema": schema, "encoding": encoding}}}
