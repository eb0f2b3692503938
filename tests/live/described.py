"""What the watch and the keeper serve, as OpenAPI 3.0: the contract that a foreign fuzzer holds them to."""


def _operation(*statuses, body=None, media="application/json", **parameters):
    operation = {"responses": {str(status): {"description": "as documented"} for status in statuses}}
    if parameters:
        operation["parameters"] = [
            {"name": name, "in": place, "required": place == "path", "schema": schema}
            for name, (place, schema) in parameters.items()
        ]
    if body is not None:
        operation["requestBody"] = {"required": True, "content": {media: {"schema": body}}}
    return operation


def _table(*needed, **fields):
    return {"type": "object", "properties": fields, "required": list(needed), "additionalProperties": False}


def _description(paths):
    return {"openapi": "3.0.3", "info": {"title": "stillwell", "version": "1"}, "paths": paths}


TEXT, NUMBER = {"type": "string"}, {"type": "integer", "minimum": 0, "maximum": 2**53}
ALARM = {"type": "string", "enum": ["Water", "No sign of life", "drill: Water", "", "nothing"]}
SIGNAL = {"anyOf": [{"type": "boolean"}, {"type": "number"}, TEXT, {"type": "array", "items": {}}, {"nullable": True}]}
PART = {"type": "string", "enum": ["tap", "lamp", "nobody", "%2e%2e"]}
ANSWER = _table(answer={"type": "string", "enum": ["looking", "well", "cannot", ""]})

WATCH = _description(
    {
        "/report/{part}": {
            "post": _operation(
                202,
                400,
                401,
                413,
                422,
                429,
                body={"type": "object", "additionalProperties": SIGNAL},
                part=("path", PART),
            )
        },
        "/answer/{token}": {
            "get": _operation(200, 404, 410, 429, token=("path", TEXT)),
            "post": _operation(
                200,
                303,
                400,
                404,
                410,
                429,
                body=ANSWER,
                media="application/x-www-form-urlencoded",
                token=("path", TEXT),
            ),
        },
        "/alive": {"get": _operation(200)},
    }
)

CONTROL = _description(
    {
        "/control/status": {
            "get": _operation(200, 401, 422, after=("query", NUMBER), wait=("query", {"type": "number", "maximum": 0}))
        },
        **{
            f"/control/{name}": {"post": _operation(200, 401, 413, 422, body=body)}
            for name, body in {
                "alarm": _table(
                    "name", "do", "by",
                    name=ALARM, do=TEXT | {"enum": ["acknowledge", "cannot", "shelve", "clear", "out", "back", "x"]},
                    by=TEXT, why=TEXT, until_ms=NUMBER,
                ),
                "pause": _table("until_ms", "by", "why", until_ms=NUMBER, by=TEXT, why=TEXT),
                "resume": _table("by", by=TEXT),
                "drill": _table("alarm", "by", alarm=ALARM, by=TEXT),
                "state": _table("name", "value", "by", name=TEXT | {"enum": ["holiday", "x"]}, value=TEXT, by=TEXT),
                "erase": _table("from_ms", "until_ms", "by", "why", from_ms=NUMBER, until_ms=NUMBER, by=TEXT, why=TEXT),
                "plan": _table("text", "by", text=TEXT, by=TEXT, accept_worse={"type": "boolean"}),
            }.items()
        },
        "/metrics": {"get": _operation(200, 401)},
    }
)  # fmt: skip

KEEPER = _description(
    {
        "/beat": {
            "post": _operation(
                200, 400, 403, 409, 413,
                body=_table(
                    "home", "hmac", "seq",
                    home={"type": "string", "enum": ["mill", "nobody"]}, hmac=TEXT, seq=NUMBER, boot=NUMBER,
                    at_ms=NUMBER, keeper_ms=NUMBER, plan=TEXT, what={"type": "string", "enum": ["beat 1", "answer 1"]},
                    alarms={"type": "array", "items": TEXT}, remarks={"type": "array", "items": TEXT},
                ),
            )
        },
        "/status": {"get": _operation(200, 401, 403, 429, Authorization=("header", TEXT))},
        "/answer/{token}": {
            "get": _operation(200, 404, 429, token=("path", TEXT)),
            "post": _operation(
                200, 400, 404, 429, body=_table(word={"type": "string", "enum": ["looking", "cannot", ""]}),
                media="application/x-www-form-urlencoded", token=("path", TEXT),
            ),
        },
        "/alive": {"get": _operation(200)},
    }
)  # fmt: skip
