"""A stream of questions for schemathesis: one line out, lines in."""

import json

import schemathesis

NDJSON = "application/x-ndjson"


@schemathesis.serializer(NDJSON)
def line(ctx, value):
    return json.dumps(value).encode() + b"\n"


@schemathesis.deserializer(NDJSON)
def first(ctx, response):
    return json.loads(response.content.splitlines()[0])
