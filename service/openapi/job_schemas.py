"""The form of what is told of a job, for /openapi.json.

Public: `job_schema`.
"""

from __future__ import annotations

from passband.analysis.results.plain_values import JsonObject

Schema = JsonObject


def job_schema(ref: str) -> Schema:
    """A job as it is told.

    Parameters
    ----------
    ref : str
        What stands before a schema's name in a reference.

    Returns
    -------
    dict
        Schema.
    """
    id: Schema = {"type": "string", "pattern": "^[0-9a-f]{32}$"}
    text: Schema = {"type": "string"}
    whole: Schema = {"type": "integer", "minimum": 0}
    stage = _object({"stage": text, "what": text, "number": whole, "of": whole})
    findings = {"type": "array", "items": {"$ref": f"{ref}Finding"}}
    runs = {"type": "array", "items": {"$ref": f"{ref}Run"}}
    uploaded = _object({"new": {"type": "boolean"}, "runs": runs, "findings": findings})
    left = {"type": "array", "items": _object({"run": id, "why": text})}
    again = _object({"runs": whole, "reviewed": whole, "left": left, "stands": {"type": "boolean"}})
    when = {**text, "format": "date-time"}
    properties = {
        "id": id,
        "kind": {"enum": ["upload", "review-again"]},
        "state": {"enum": ["waiting", "working", "done", "failed"]},
        "stage": _or_null(stage),
        "put_at": when,
        "ended_at": _or_null(when),
        "problem": {**_or_null({"$ref": f"{ref}Problem"}), "description": "What a direct answer would have told."},
        "uploaded": {**_or_null(uploaded), "description": "What a direct answer would have told; runs still there."},
        "reviewed_again": {**_or_null(again), "description": "How many runs are meant and have their new review."},
    }
    return {**_object(properties), "description": "Work that goes on by itself."}


def _object(properties: dict[str, Schema]) -> Schema:
    return {"type": "object", "properties": properties, "required": list(properties)}


def _or_null(schema: Schema) -> Schema:
    return {"anyOf": [schema, {"type": "null"}]}
