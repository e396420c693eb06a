"""The description as the documentation's page shows it."""

import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True, kw_only=True)
class Row:
    """A parameter or a field."""

    name: str
    kind: str
    is_required: bool
    words: str
    where: str = ""


@dataclass(frozen=True, kw_only=True)
class Shown:
    """An operation as the page shows it."""

    name: str
    method: str
    address: str
    summary: str
    description: str
    parameters: tuple[Row, ...]
    takes: tuple[Row, ...]
    gives: tuple[Row, ...]
    example: str
    answers: tuple[str, ...]
    is_deprecated: bool


def rooms_of(description: Mapping[str, Any]) -> dict[str, list[Shown]]:
    """Give the operations by their room, as they stand in the description."""
    rooms: dict[str, list[Shown]] = {}
    for address, methods in description["paths"].items():
        for method, operation in methods.items():
            shown = _shown(description, address, method, operation)
            rooms.setdefault(operation["tags"][0], []).append(shown)
    return rooms


def _shown(
    description: Mapping[str, Any],
    address: str,
    method: str,
    operation: Mapping[str, Any],
) -> Shown:
    content = operation.get("requestBody", {}).get("content", {})
    body: Mapping[str, Any] = next(iter(content.values()), {})
    examples = [one["value"] for one in body.get("examples", {}).values()]
    return Shown(
        name=operation["operationId"],
        method=method.upper(),
        address=address,
        summary=operation.get("summary", ""),
        description=operation.get("description", ""),
        parameters=tuple(
            Row(
                name=one["name"],
                kind=_kind(one["schema"]),
                is_required=one.get("required", False),
                words=one.get("description", ""),
                where=one["in"],
            )
            for one in operation.get("parameters", [])
        ),
        takes=tuple(_rows(description, body.get("schema", {}))),
        gives=tuple(_rows(description, _answered(operation))),
        example=json.dumps(examples[0], indent=2, ensure_ascii=False)
        if examples
        else "",
        answers=tuple(sorted(operation["responses"])),
        is_deprecated=operation.get("deprecated", False),
    )


def _answered(operation: Mapping[str, Any]) -> Mapping[str, Any]:
    for status in ("200", "201"):
        content = operation["responses"].get(status, {}).get("content", {})
        if "application/json" in content:
            schema: Mapping[str, Any] = content["application/json"]["schema"]
            return schema
    return {}


def _rows(description: Mapping[str, Any], schema: Mapping[str, Any]) -> Iterator[Row]:
    resolved = _resolved(description, schema)
    needed = set(resolved.get("required", ()))
    for name, one in resolved.get("properties", {}).items():
        inner = _resolved(description, one.get("items", {}))
        yield Row(
            name=name,
            kind=_kind(one),
            is_required=name in needed,
            words=one.get("description", ""),
        )
        if name == "items":
            yield from (
                Row(
                    name=f"items[].{row.name}",
                    kind=row.kind,
                    is_required=row.is_required,
                    words=row.words,
                )
                for row in _rows(description, inner)
            )


def _resolved(
    description: Mapping[str, Any], schema: Mapping[str, Any]
) -> Mapping[str, Any]:
    if "anyOf" in schema:
        return _resolved(description, schema["anyOf"][0])
    if "$ref" in schema:
        name = schema["$ref"].rpartition("/")[2]
        named: Mapping[str, Any] = description["components"]["schemas"][name]
        return named
    return schema


def _kind(schema: Mapping[str, Any]) -> str:
    if "enum" in schema:
        return " | ".join(str(word) for word in schema["enum"])
    if "$ref" in schema:
        return str(schema["$ref"].rpartition("/")[2])
    for way in ("anyOf", "allOf", "oneOf"):
        if way in schema:
            return " | ".join(dict.fromkeys(_kind(one) for one in schema[way]))
    kind = schema.get("type", "any")
    words = " | ".join(kind) if isinstance(kind, list) else str(kind)
    if words == "array":
        return f"list of {_kind(schema.get('items', {}))}"
    return f"{words} ({schema['format']})" if "format" in schema else words
