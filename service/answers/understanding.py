"""What a car, slip or air would be understood as, told back before anything is kept.

Public: `understand`.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import asdict
from typing import Any

from passband.analysis.given.car import Air, Car, Condition, Curve, Limit, Slip, bound_in_si
from passband.analysis.given.ranges import FACTS, Range, range_of_bound
from passband.analysis.given.written import condition_written, listed
from passband.analysis.quantities import split_quantity
from passband.analysis.results.plain_values import JsonObject
from passband.service.answers.beside_understood import words_of_change, words_of_turbo
from passband.service.given.details import GivenSoFar
from passband.service.given.facts import Fault, GivenError, read_car, read_given
from passband.web.forms.understood import channel_choices, in_both
from passband.web.wording.units import UnitSystem

LISTS = ("gear_ratios", "rpm_band")
"""Facts that are several numbers."""


def understand(so_far: GivenSoFar, *, units: UnitSystem) -> JsonObject:
    """What was given, in words of both systems of units, and what of it cannot be used.

    Parameters
    ----------
    so_far : GivenSoFar
        ``car``, ``slip`` and ``air`` as they would be sent to be kept; ``whatif`` and ``turbo`` as they would be asked.
    units : {"us", "metric"}
        Whose units come first among those offered.

    Returns
    -------
    dict
        ``understood`` (path of the key to words), ``errors`` (``where``, ``text``), ``told`` (the same with lists and
        conditions parted), ``channels`` (of each channel named: what it was taken for, its units).
    """
    answer: JsonObject = {"understood": {}, "errors": [], "given": {}, "channels": {}}
    for name in ("car", "slip", "air"):
        part = getattr(so_far, name)
        if part is None:
            continue
        answer["given"][name] = part_given = _parted(part)
        for place, piece in _pieces(part_given) if name == "car" else [("", part_given)]:
            _understand_piece(name, place, piece, answer, beside=so_far.beside_units)
    for name, words_of in (("whatif", words_of_change), ("turbo", words_of_turbo)):
        words, faults = words_of(getattr(so_far, name) or {})
        answer["understood"].update({f"{name}.{key}": text for key, text in words.items()})
        answer["errors"] += [{"where": f"{name}.{key}", "text": text} for key, text in faults.items()]
    for name in _channels_named(so_far.car or {}):
        answer["channels"][name] = _channel(name, units)
    return answer


def _parted(part: JsonObject) -> JsonObject:
    """Lists and conditions in words as their parts; what cannot be parted stays, and is refused as it stands."""
    parted = dict(part)
    for key in LISTS:
        if isinstance(parted.get(key), str):
            parted[key] = _tried(lambda text: [_bare(one) for one in listed(text)], parted[key])
    if isinstance(parted.get("limits"), list):
        parted["limits"] = [_with_conditions(limit) if isinstance(limit, dict) else limit for limit in parted["limits"]]
    return parted


def _with_conditions(limit: JsonObject) -> JsonObject:
    when = limit.get("when")
    if not isinstance(when, list):
        return limit
    return {**limit, "when": [_tried(condition_written, one) if isinstance(one, str) else one for one in when]}


def _tried(read: Any, text: str) -> Any:
    try:
        return read(text)
    except ValueError:
        return text


def _bare(one: str) -> str | float:
    return one if split_quantity(one)[1] else float(one)


def _pieces(car: JsonObject) -> Iterator[tuple[str, JsonObject]]:
    """One fact or limit at a time, so that one that is wrong hides no other."""
    around = {"name": car.get("name") or "car", "channels": car.get("channels") or {}}
    for key, value in car.items():
        if key == "limits" and isinstance(value, list):
            for n, limit in enumerate(value):
                yield f"limits.{n}", {**around, "limits": [limit]}
        elif key not in around:
            yield key, {**around, key: value}


def _understand_piece(name: str, place: str, piece: JsonObject, answer: JsonObject, *, beside: bool) -> None:
    try:
        model = read_car(piece) if name == "car" else read_given(_MODELS[name], piece, what=name)
    except GivenError as error:
        faults = error.faults or (Fault("", str(error)),)
        answer["errors"] += [
            {"where": _where(name, place, fault.where), "text": _said(fault, piece)} for fault in faults
        ]
        answer["understood"].update(_words_of_each(name, piece) if name in _MODELS else {})
        return
    words = _limit_words(model.limits[0], place) if isinstance(model, Car) and model.limits else _fact_words(model)
    answer["understood"].update({f"{name}.{key}": text for key, text in words.items()})
    if beside and isinstance(model, Car) and model.limits:
        answer["errors"] += _conditions_without_unit(model.limits[0], place)


def _words_of_each(name: str, piece: JsonObject) -> dict[str, str]:
    """Of slip or air what can be understood alone, where one fact of it is wrong."""
    words = {}
    for key, value in piece.items():
        try:
            words.update(_fact_words(read_given(_MODELS[name], {key: value}, what=name)))
        except GivenError:
            continue  # said already, of the whole
    return {f"{name}.{key}": text for key, text in words.items()}


_MODELS: JsonObject = {"slip": Slip, "air": Air}


def _where(name: str, place: str, where: str) -> str:
    """The key's path in all that was given: a limit looked at alone has its own number again."""
    if place.startswith("limits."):
        return f"{name}.{place}{where.removeprefix('limits.0')}" if where.startswith("limits.0") else f"{name}.{place}"
    return f"{name}.{where or place}".rstrip(".")


def _said(fault: Fault, piece: JsonObject) -> str:
    """A fault's text without the words that say where it stands."""
    text = fault.text.removeprefix(f"{fault.where}: ")
    limit = piece["limits"][0] if fault.where.startswith("limits.") else None
    if isinstance(limit, dict):
        text = text.removeprefix(f"limit {limit.get('name')!r}, {fault.where.split('.', 2)[-1]}: ")
    return text


def _fact_words(model: Car | Slip | Air) -> dict[str, str]:
    words, own = {}, getattr(model, "plus_minus", {})
    for key, value in model.model_dump(exclude_none=True).items():
        if key in FACTS:
            several = value if isinstance(value, (list, tuple)) else [value]
            words[key] = ", ".join(in_both(one, FACTS[key], plus_minus=own.get(key)) for one in several)
    return words


def _limit_words(limit: Limit, place: str) -> dict[str, str]:
    words = {}
    for side in ("at_least", "at_most"):
        bound = getattr(limit, side)
        if bound is not None:
            words[f"{place}.{side}"] = _bound_words(bound, limit.channel)
    if limit.curve is not None:
        words[f"{place}.curve.points"] = _curve_words(limit.curve, limit.channel)
    if limit.when:
        words[f"{place}.when"] = "; ".join(_condition_words(one) for one in limit.when)
    if limit.longer_than:
        words[f"{place}.longer_than"] = in_both(limit.longer_than, FACTS["longer_than"])
    return words


def _curve_words(curve: Curve, channel: str) -> str:
    return "; ".join(f"{_bound_words(y, channel)} at {_bound_words(x, curve.against)}" for x, y in curve.points)


def _condition_words(condition: Condition) -> str:
    sides = (("at least", condition.at_least), ("at most", condition.at_most))
    words = [f"{side} {_bound_words(bound, condition.channel)}" for side, bound in sides if bound is not None]
    return f"{condition.channel} {' and '.join(words)}"


def _bound_words(bound: float | str, channel: str) -> str:
    name, can_be = _meant(channel)
    return in_both(bound_in_si(bound, channel=name), can_be) if can_be is not None else str(bound)


def _meant(channel: str) -> tuple[str, Range | None]:
    from passband.analysis.engine.channels_meant import name_meant

    name = name_meant(channel)
    return name, range_of_bound(name)


def _conditions_without_unit(limit: Limit, place: str) -> list[JsonObject]:
    """On a page a number in a sentence has no unit beside it, so it must carry its own where it could be in several."""
    errors = []
    for n, condition in enumerate(limit.when):
        _, can_be = _meant(condition.channel)
        units = [unit for unit in can_be.units if unit not in ("rpm", "krpm", "%", "V")] if can_be else []
        for bound in (condition.at_least, condition.at_most):
            if units and bound is not None and not (isinstance(bound, str) and split_quantity(bound)[1]):
                text = f'{condition.channel} {bound}: write its unit, as "{bound} {units[0]}" or "{bound} {units[1]}"'
                errors.append({"where": f"car.{place}.when.{n}", "text": text})
    return errors


def _channels_named(car: JsonObject) -> list[str]:
    given = car.get("limits")
    limits = [limit for limit in given if isinstance(limit, dict)] if isinstance(given, list) else []
    curves = [limit.get("curve") for limit in limits]
    names = [limit.get("channel") for limit in limits]
    names += [curve.get("against") for curve in curves if isinstance(curve, dict)]
    return list(dict.fromkeys(name for name in names if isinstance(name, str) and name))


def _channel(name: str, units: UnitSystem) -> JsonObject:
    meant, can_be = _meant(name)
    return {"channel": meant, "known": can_be is not None, **asdict(channel_choices(meant, units))}
