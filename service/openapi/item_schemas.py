"""Schemas of answers about parts, groups of runs, and what was put right of many.

Public: `item_schemas`.
"""

from __future__ import annotations

from passband.analysis.results.plain_values import JsonObject

Schema = JsonObject
TEXT: Schema = {"type": "string"}
OR_NULL: Schema = {"type": ["string", "null"]}


def item_schemas(ref: str) -> dict[str, Schema]:
    """All of them by name.

    Parameters
    ----------
    ref : str
        What a reference to a schema begins with.

    Returns
    -------
    dict
        ``Part``, ``Parts``, ``Usual``, ``Usuals``, ``Groups``, ``AllGroups``, ``NamedChange``, ``CarFacts``,
        ``KeptSheet``, ``Sheets``, ``PutRight``, ``AllPutRight``.
    """
    ids: Schema = {"type": "array", "items": TEXT}
    kept: Schema = {"id": TEXT, "made_at": {**TEXT, "format": "date-time"}, "gone": {"type": "boolean"}}
    part: Schema = {
        **kept, "car": OR_NULL, "name": TEXT, "kind": TEXT, "fitted_from": TEXT, "fitted_to": TEXT, "first_run": TEXT,
        "last_run": TEXT, "above_rpm": {"type": "array", "items": {"type": "number"}}, "notes": TEXT,
    }  # fmt: skip
    groups: Schema = {**kept, "name": TEXT, "before": ids, "after": ids, "notes": TEXT}
    usual: Schema = {**kept, "car": OR_NULL, "run": TEXT, "notes": TEXT}
    del usual["gone"]
    fact: Schema = {
        "version": {"type": "integer"}, "fact": TEXT, "was": {}, "now": {},
        "said": {"enum": ["changed", "corrected", None]},
    }  # fmt: skip
    sheet: Schema = {
        "id": TEXT, "car": OR_NULL, "made_at": {**TEXT, "format": "date-time"},
        "what": TEXT, "name": TEXT, "text": TEXT,
        "compressors": {"type": "integer"}, "volumetric_efficiency": TEXT, "inlet_loss": TEXT, "charge_loss": TEXT,
    }  # fmt: skip
    stood: Schema = {"run": TEXT, "was": {"type": "object"}}
    turned: Schema = {"run": TEXT, "changed": {"type": "boolean"}, "why": TEXT}
    put_right: Schema = {
        "id": TEXT, "made_at": {**TEXT, "format": "date-time"}, "change": {"type": "object"},
        "runs": {"type": "array", "items": _object(stood)}, "turned": {"type": "array", "items": _object(turned)},
    }  # fmt: skip
    counted = {**part, "used_up": {"$ref": f"{ref}UsedUp"}}
    return {
        "Part": _object(part),
        "Parts": _object({"car": TEXT, "parts": {"type": "array", "items": _object(counted)}}),
        "Usual": _object(usual),
        "Usuals": _object({"car": TEXT, "usuals": {"type": "array", "items": _object(usual)}}),
        "Groups": _object(groups),
        "AllGroups": _object({"groups": {"type": "array", "items": _object(groups)}}),
        "CarFacts": _object({"car": TEXT, "facts": {"type": "array", "items": _object(fact)}}),
        "KeptSheet": _object(sheet),
        "Sheets": _object({"car": TEXT, "sheets": {"type": "array", "items": _object(sheet)}}),
        "PutRight": _object(put_right),
        "AllPutRight": _object({"put_right": {"type": "array", "items": _object(put_right)}}),
        "NamedChange": _object({**groups, "change": {"$ref": f"{ref}GroupChange"}}),
    }


def _object(properties: Schema) -> Schema:
    return {"type": "object", "properties": properties, "required": list(properties)}
