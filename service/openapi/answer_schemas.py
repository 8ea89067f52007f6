"""The form of every answer that is no problem, for /openapi.json: made from the dataclasses that answers are made of.

Public: `schema_of`, `answer_schemas`.
"""

from __future__ import annotations

import ast
import dataclasses
import inspect
import sys
from enum import Enum
from textwrap import dedent
from types import NoneType
from typing import Any, Literal, get_args, get_origin, get_type_hints

import numpy as np

from passband.analysis.results.estimate import left_out_unless_said
from passband.analysis.results.plain_values import JsonObject
from passband.analysis.results.unknown import Unknown
from passband.service.openapi.item_schemas import item_schemas
from passband.service.openapi.job_schemas import job_schema

Schema = JsonObject
REF = "#/components/schemas/"
NUMBER: Schema = {"type": ["number", "null"]}
"""What is not finite is told as null."""
TEXT: Schema = {"type": "string"}
WHOLE: Schema = {"type": "integer"}
ID: Schema = {"type": "string", "pattern": "^[0-9a-f]{32}$"}


def schema_of(kind: type[Any], known: dict[str, Schema]) -> Schema:
    """A reference to the schema of a result dataclass, which is made with all that it holds.

    Parameters
    ----------
    kind : type
        A dataclass as `analysis.results.codec.plain` tells it.
    known : dict
        Schemas by name; grows.

    Returns
    -------
    dict
        ``{"$ref": ...}``.
    """
    if kind.__name__ not in known:
        known[kind.__name__] = {}
        hints = get_type_hints(kind, vars(sys.modules[kind.__module__]))
        texts = _texts_under_fields(kind)
        fields = [field.name for field in dataclasses.fields(kind) if field.compare]
        properties = {name: _described(_schema(hints[name], known), texts.get(name)) for name in fields}
        optional = tuple(field.name for field in dataclasses.fields(kind) if left_out_unless_said(field))
        known[kind.__name__] = _object(properties, optional=optional, description=inspect.getdoc(kind))
    return {"$ref": REF + kind.__name__}


def _schema(hint: Any, known: dict[str, Schema]) -> Schema:
    origin, of = get_origin(hint), get_args(hint)
    plain: dict[Any, Schema] = {float: NUMBER, int: WHOLE, str: TEXT, bool: {"type": "boolean"}}
    if hint in plain:
        return plain[hint]
    if dataclasses.is_dataclass(hint) and isinstance(hint, type):
        return schema_of(hint, known)
    if isinstance(hint, type) and issubclass(hint, Enum):
        return {"enum": [one.value for one in hint]}
    if origin is np.ndarray:
        return _list(NUMBER)
    if origin is Literal:
        return {"enum": list(of)}
    if origin is tuple and of[-1] is not Ellipsis:
        return {**_list(NUMBER), "minItems": len(of), "maxItems": len(of)}
    if origin in (tuple, list):
        return _list(_schema(of[0], known))
    if NoneType in of or Unknown in of:
        return _or_null(_schema(next(one for one in of if one not in (NoneType, Unknown)), known))
    raise TypeError(f"no schema is known for {hint!r}; give `_schema` one")


def _texts_under_fields(kind: type[Any]) -> dict[str, str]:
    """The docstring that stands under each field of a dataclass."""
    body = ast.parse(dedent(inspect.getsource(kind))).body[0]
    assigned = zip(body.body, body.body[1:], strict=False) if isinstance(body, ast.ClassDef) else ()
    return {
        field.target.id: inspect.cleandoc(text.value.value)
        for field, text in assigned
        if isinstance(field, ast.AnnAssign)
        and isinstance(field.target, ast.Name)
        and isinstance(text, ast.Expr)
        and isinstance(text.value, ast.Constant)
        and isinstance(text.value.value, str)
    }


def _described(schema: Schema, text: str | None) -> Schema:
    return {**schema, "description": text} if text else schema


def _object(properties: dict[str, Schema], *, optional: tuple[str, ...] = (), description: str | None = None) -> Schema:
    required = [name for name in properties if name not in optional]
    return _described({"type": "object", "properties": properties, "required": required}, description)


def _list(items: Schema) -> Schema:
    return {"type": "array", "items": items}


def _or_null(schema: Schema) -> Schema:
    if isinstance(schema.get("type"), str):
        return {**schema, "type": [schema["type"], "null"]}
    return schema if schema is NUMBER else {"anyOf": [schema, {"type": "null"}]}


def _ref(name: str) -> Schema:
    return {"$ref": REF + name}


def answer_schemas(car: Schema) -> dict[str, Schema]:
    """All schemas of answers by name.

    Parameters
    ----------
    car : dict
        Schema of a car as it is told.

    Returns
    -------
    dict
        To stand under ``components/schemas``.
    """
    from passband.analysis.report import TableColumn
    from passband.analysis.results.review import Review
    from passband.analysis.runs.change import GroupChange
    from passband.analysis.runs.compare import Comparison
    from passband.analysis.runs.cost import PairCosts
    from passband.analysis.runs.same_engine_found import SameEngine
    from passband.analysis.runs.season_sheet import SheetColumn
    from passband.analysis.runs.used_up import UsedUp
    from passband.analysis.runs.weekend import Sheet
    from passband.analysis.whatif.foretell import Foretold
    from passband.service.reviewing.sorting import SortedFile

    known: dict[str, Schema] = {}
    for kind in (
        Review, Comparison, PairCosts, GroupChange, Foretold, SameEngine, Sheet, SheetColumn, TableColumn, UsedUp,
        SortedFile,
    ):  # fmt: skip
        schema_of(kind, known)
    _call_it_with(known["CostPart"])
    review = known["Review"]
    of = {"name": TEXT, "id": _or_null(ID), "version": _or_null(WHOLE)}
    review["properties"]["car"] = _object(of, description="The car it was made with; null where none was given.")
    review["properties"]["unknown"] = _described(
        {"type": "object", "additionalProperties": _ref("Finding")}, "Why what is null is not known, by its place."
    )
    review["required"].append("unknown")
    run = _run()
    return {
        **known,
        "KeptCar": _kept_car(car),
        "Cars": _object({"cars": _list(_ref("KeptCar"))}),
        "Run": run,
        "Events": _object({"events": _list(_object({"name": TEXT})), "next": _or_null(TEXT)}),
        "Runs": _object({"runs": _list(_ref("Run")), "next": _or_null(ID)}),
        "TakenIn": _object({"runs": {**_list(_ref("Run")), "minItems": 1}, "findings": _list(_ref("Finding"))}),
        "Answered": _object(
            {"run": _ref("Run"), "car": _object({"id": ID, "version": WHOLE}), "others": _list(_ref("Run"))}
        ),
        "Sorted": _object({"files": {**_list(_ref("SortedFile")), "minItems": 1}}),
        "WholeRun": _whole_run(run),
        "Traces": _traces(),
        "Compared": _compared(),
        "EventSheet": _event_sheet(),
        "Overlay": {"type": "object", "description": "A Vega-Lite specification.", "required": ["$schema"]},
        "Health": _object({"status": {"enum": ["ok"]}, "version": TEXT, "library": _library()}),
        "Ready": _object({"status": {"enum": ["ready"]}, "version": TEXT}),
        "Understood": _understood(),
        "BenchBeside": _bench_beside(),
        "WhatIf": _what_if(known["Foretold"]),
        "BackTests": _back_tests(),
        "TrashEntries": _object({"entries": _list(_trash_entry())}),
        **item_schemas(REF),
        "Job": job_schema(REF),
        "Restored": _object({"runs": {**_list(_ref("Run")), "minItems": 1}}),
    }


def _what_if(foretold: Schema) -> Schema:
    """The figures with the run's name, what was asked, torque's worth by engine speed, a page to print."""
    properties = {
        "run": TEXT, "change": {"type": "object"}, **foretold["properties"],
        "worth": _list({"type": "object"}), "searched": _list({"type": "object"}), "print": TEXT,
        "sentences": _sentences(),
    }  # fmt: skip
    return _object(properties)


def _back_tests() -> Schema:
    """Pairs of a car's runs, each foretold and measured, and how often it held."""
    estimate = _or_null(_ref("Estimate"))
    pair = {
        "run": ID, "from": ID, "changed": _list(TEXT), "corrected": _list(TEXT), "logs_show": _list(TEXT),
        "foretold_s": estimate,
        "measured_s": estimate,
        "error_s": _or_null(NUMBER), "held": _or_null({"type": "boolean"}), "why": TEXT,
    }  # fmt: skip
    count, size = dict.fromkeys(("asked", "answered", "held", "near"), WHOLE), _or_null(NUMBER)
    total = _object({**count, "median_s": size, "worst_s": size})
    return _object({"car": _object({"id": ID, "name": TEXT}), "pairs": _list(_object(pair)), "total": total})


def _bench_beside() -> Schema:
    """Each sheet that was given: its figures, a page to print, a picture; null where it was not."""
    figures = {"type": "object", "description": "Figures, SI."}
    head = _or_null(_object({"figures": figures, "print": TEXT}))
    drawn = _or_null(_object({"figures": figures, "print": TEXT, "picture": _described(TEXT, "An SVG element.")}))
    return _object(
        {
            "head": head, "head_change": head, "dynamometer": drawn, "dynamometer_change": head,
            "compressor_map": drawn, "sentences": _sentences(),
        }
    )  # fmt: skip


def _sentences() -> Schema:
    words = "Each finding's text in the reader's units, by the text."
    return _described({"type": "object", "additionalProperties": TEXT}, words)


def _library() -> Schema:
    properties = {
        "complete": {"type": "boolean"},
        "uploads_without_row": WHOLE,
        "logs_without_row": WHOLE,
        "text": TEXT,
    }
    return _object(properties, description="Whether all that is kept is shown.")


def _understood() -> Schema:
    words = {"type": "object", "additionalProperties": TEXT}
    faults = _list(_object({"where": TEXT, "text": TEXT}))
    properties = {"understood": words, "errors": faults, "given": {"type": "object"}, "channels": {"type": "object"}}
    return _object(properties, description="What was given, in words of both systems of units.")


def _trash_entry() -> Schema:
    run = _object({"id": ID, "label": TEXT, "event": TEXT, "round": TEXT})
    log = _object({"name": TEXT, "bytes": WHOLE, "sha256": {**TEXT, "pattern": "^[0-9a-f]{64}$"}})
    properties = {
        "id": TEXT, "at": TEXT, "reason": TEXT, "why": TEXT, "runs": _list(run), "logs": _list(log), "files": WHOLE,
        "restorable": {"type": "boolean"},
    }  # fmt: skip
    return _object(properties, description="What was deleted, or left by a crash, at one time.")


def _kept_car(car: Schema) -> Schema:
    kept = {"id": ID, "version": {**WHOLE, "minimum": 1}, "made_at": {**TEXT, "format": "date-time"}}
    text = "A car as it was given, and which version it is."
    return {**car, "properties": {**car["properties"], **kept}, "required": [*kept, "name"], "description": text}


def _run() -> Schema:
    figure = _or_null(_ref("Estimate"))
    car = _object({"id": ID, "version": WHOLE, "name": TEXT})
    counts = {name: WHOLE for name in ("inside", "outside", "no_data")}
    properties = {
        "id": ID, "label": TEXT, "event": TEXT, "round": TEXT, "car": _or_null(car), "finish_ft": WHOLE,
        "at": _or_null(TEXT),
        "added_at": {**TEXT, "format": "date-time"}, "reviewed_at": {**TEXT, "format": "date-time"},
        "log_names": _list(TEXT), "outcome": TEXT, "at_ft": _or_null(WHOLE),
        "elapsed_time_s": figure, "trap_speed_mps": figure, "sixty_ft_s": figure, "average_w": figure,
        "average_wheel_w": figure,
        "share_in_band": NUMBER, "share_on_boost": NUMBER, "shifts": WHOLE, "limits": _object(counts),
        "findings": _object({name: WHOLE for name in ("stop", "caution", "note")}),
    }  # fmt: skip
    return _object(properties, description="A run in one line.")


def _whole_run(run: Schema) -> Schema:
    log = _object({"n": WHOLE, "name": TEXT, "bytes": WHOLE, "sha256": {**TEXT, "pattern": "^[0-9a-f]{64}$"}})
    more = {
        "notes": TEXT,
        "slip": _or_null(_ref("Slip")),
        "air": _or_null(_ref("Air")),
        "logs": {**_list(log), "minItems": 1},
        "channels": _list(_ref("TableColumn")),
    }
    return _object({**run["properties"], **more}, description="A run with all that was said of it.")


def _traces() -> Schema:
    properties = {
        "name": TEXT, "title": TEXT, "unit": TEXT, "shown_unit": TEXT, "log": _or_null(WHOLE),
        "thinned": {"type": "boolean"}, "samples": WHOLE, "x": _list(NUMBER), "y": _list(NUMBER),
    }  # fmt: skip
    by = {"enum": ["distance", "time"]}
    channels = _list(_object(properties))
    return _object({"run": ID, "by": by, "points": WHOLE, "channels": channels, "missing": _list(TEXT)})


def _call_it_with(part: Schema) -> None:
    """What stands beside a part is ``with`` in JSON, a word that Python keeps for itself."""
    part["properties"]["with"] = part["properties"].pop("beside")
    part["required"] = ["with" if name == "beside" else name for name in part["required"]]


def _compared() -> Schema:
    costs = {
        "difference_s": _or_null(_ref("Estimate")), "at_m": _or_null(NUMBER), "parts": _list(_ref("CostPart")),
        "findings": _list(_ref("Finding")),
    }  # fmt: skip
    other = _object({"run": ID, "label": TEXT, "against_first": _ref("Comparison"), **costs})
    return _object({"by": {"enum": ["distance"]}, "first": ID, "others": _list(other)})


def _event_sheet() -> Schema:
    mine = _object({"car": _or_null(ID), "run_ids": _list(ID), "sheet": _ref("Sheet")})
    row = {"type": "object", "additionalProperties": {"type": ["number", "string", "null"]}}
    of_car = _object({"car": TEXT, "best": _or_null(ID), "spreads": _list(_ref("Spread")), "usual_faults": _list(TEXT)})
    return _object(
        {
            "event": TEXT,
            "runs": _list(_ref("Run")),
            "columns": _list(_ref("SheetColumn")),
            "rows": _described(_list(row), "Of the runs in the same order, by the columns' names."),
            "best": _described(_or_null(ID), "The quickest run without a fault found; null for several cars."),
            "spreads": _described(_list(_ref("Spread")), "Over the clean runs; none where there are several cars."),
            "by_car": _described(_list(of_car), "The same of each car, by its name."),
            "air_rules": _described(_list(TEXT), "How times were brought into one air, a sentence a car."),
            "same_engine": _list(_or_null(_ref("SameEngine"))),
            "new_usual": _described(
                _list(_or_null(TEXT)), "What was changed for good before a run; null where the usual went on."
            ),
            "cars": _list(mine),
        }
    )
