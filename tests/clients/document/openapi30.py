#!/usr/bin/env python3
"""The OpenAPI 3.1 document as 3.0.3, for generators that take no 3.1: openapi30.py <openapi.json >openapi-3.0.json

What 3.0 cannot say is said as nearly as it can; what such generators cannot do is left out, and told on standard
error: query parameters in the style deepObject (with their operation), and media types beside JSON. A problem is
said to be plain JSON, which it is: progenitor reads no other.
"""

import json
import sys

# What holds for a value wherever it stands, so that it may not be looked for in examples.
LITERAL = {"example", "examples", "default", "enum"}


JSON = "application/json"


def is_json(media):
    return media == JSON or media.endswith("+json")


def schema(old):
    """One schema of JSON Schema 2020-12 in the dialect of OpenAPI 3.0."""
    if not isinstance(old, dict):
        return old
    new = {}
    for name, value in old.items():
        if name in ("properties", "patternProperties"):
            value = {field: schema(inner) for field, inner in value.items()}
        elif name in ("oneOf", "anyOf", "allOf"):
            value = [schema(inner) for inner in value]
        elif name in ("items", "not", "additionalProperties"):
            value = schema(value)
        new[name] = value
    if "examples" in new:
        new["example"] = new.pop("examples")[0]
    if "const" in new:
        new["enum"] = [new.pop("const")]
    for end in ("Minimum", "Maximum"):
        if "exclusive" + end in new:
            new[end.lower()] = new["exclusive" + end]
            new["exclusive" + end] = True
    if isinstance(new.get("type"), list):
        kinds = [kind for kind in new["type"] if kind != "null"]
        if len(kinds) != 1:
            raise SystemExit(f"several types: {old}")
        new["nullable"] = "null" in new["type"]
        new["type"] = kinds[0]
    for name in ("oneOf", "anyOf"):
        if {"type": "null"} in new.get(name, []):
            new[name] = [inner for inner in new[name] if inner != {"type": "null"}]
            new["nullable"] = True
            if len(new[name]) == 1:
                new["allOf"] = new.pop(name)
    if "$ref" in new and len(new) > 1:
        # Beside a $ref 3.0 reads nothing.
        new["allOf"] = [{"$ref": new.pop("$ref")}]
    return new


def convert(value, left_out):
    """Anything else: schemas are looked for, and what stands beside JSON is dropped."""
    if isinstance(value, list):
        return [convert(inner, left_out) for inner in value]
    if not isinstance(value, dict):
        return value
    new = {}
    for name, inner in value.items():
        if name == "schema":
            new[name] = schema(inner)
        elif name == "schemas":
            new[name] = {name: schema(inner) for name, inner in inner.items()}
        elif name == "content" and any(map(is_json, inner)):
            left_out.update(media for media in inner if not is_json(media))
            new[name] = {JSON: convert(part, left_out) for media, part in inner.items() if is_json(media)}
        elif name in LITERAL:
            new[name] = inner
        else:
            new[name] = convert(inner, left_out)
    return new


def main():
    document = json.load(sys.stdin)
    left_out = set()
    for path, operations in document["paths"].items():
        for method, operation in list(operations.items()):
            if any(parameter.get("style") == "deepObject" for parameter in operation.get("parameters", [])):
                left_out.add(f"{method.upper()} {path} (deepObject)")
                del operations[method]
    document = convert(document, left_out)
    document["openapi"] = "3.0.3"
    document["info"].get("license", {}).pop("identifier", None)
    json.dump(document, sys.stdout, indent=2, ensure_ascii=False)
    for what in sorted(left_out):
        print(f"left out: {what}", file=sys.stderr)


if __name__ == "__main__":
    main()
