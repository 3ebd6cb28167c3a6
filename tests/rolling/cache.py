"""The proxy as a cache, and what it says by itself."""

import hashlib
import json
import socket
import time

from stage import HOST, Instance, StandIn, answers, ask, check, eventually, ports

CONVERT = "/v1/stops/convert?from=f/8&to=f/11"
POST = ("POST", "/v1/stops/convert", '{"from": "f/8", "to": "f/11"}', {"content-type": "application/json"})


def same(what, got, wanted):
    check(got == wanted, f"{what}: {got!r}, not {wanted!r}")


def state(headers):
    return headers.get("x-cache-status")


def getter(port):
    return lambda path, **headers: ask(
        port, "GET", path, None, {name.replace("_", "-"): value for name, value in headers.items()})


def until(wanted, call, seconds=3):
    """Asks until the answer comes so: nginx keeps an answer a moment after it has passed it on."""
    end = time.monotonic() + seconds
    while True:
        answer = call()
        if state(answer[1]) == wanted or time.monotonic() > end:
            return answer
        time.sleep(0.02)


def without_restarts(port):
    """What needs nothing but two instances that run."""
    get = getter(port)
    status, first, body = get(CONVERT, x_request_id="first.1")
    same("first", (status, state(first), first["x-request-id"]), (200, "MISS", "first.1"))
    same("its answer", json.loads(body)["exposure_stops"], -1.0)
    status, second, again = until("HIT", lambda: get(CONVERT, x_request_id="second.2"))
    # Kept, and yet with this call's id.
    same("second", (status, state(second), second["x-request-id"]), (200, "HIT", "second.2"))
    same("what was kept", (again, second["etag"]), (body, first["etag"]))
    status, headers, body = get(CONVERT, if_none_match=first["etag"])
    same("known", (status, state(headers), headers["etag"], body), (304, "HIT", first["etag"], b""))
    status, headers, body = get(CONVERT, if_none_match='"another"')
    same("not known", (status, state(headers), body), (200, "HIT", again))
    same("HEAD", ask(port, "HEAD", CONVERT)[0::2], (200, b""))
    made = get(CONVERT, x_request_id="{odd}")[1]["x-request-id"]
    check(made.isalnum() and len(made) == 32, f"an id that the service would not take came back as {made!r}")

    # A type that was not asked for does not come out of the cache.
    page, document = {"accept": "text/html"}, {"accept": "application/json"}
    same("kinds", [get("/", **asked)[1]["content-type"].split(";")[0] for asked in (document, page) * 2],
         ["application/json", "text/html"] * 2)
    same("a kept document", state(until("HIT", lambda: get("/", **document))[1]), "HIT")
    kept = until("HIT", lambda: get("/", **page))[1]
    same("a page kept beside it", (kept["content-type"][:9], state(kept)), ("text/html", "HIT"))
    # What a caller had left is nobody else's.
    limited = [name for name in get(CONVERT)[1] if name.lower().startswith("ratelimit")]
    same("no allowance out of the cache", limited, [])
    same("no page of a conversion", get(CONVERT, **page)[0], 406)

    for pause in (0.3, 0):
        status, headers, _ = ask(port, *POST)
        same("POST", (status, state(headers)), (200, None))
        status, headers, _ = get("/v1/stops/convert?from=f/0&to=f/8")
        same("nonsense", (status, state(headers), headers["cache-control"]), (422, "MISS", "no-store"))
        status, headers, _ = get(CONVERT, authorization="Bearer abc")
        same("with a key", (status, state(headers)), (200, "BYPASS"))
        time.sleep(pause)

    pad = lambda size: POST[2][:-1] + " " * (size - len(POST[2])) + "}"
    same("as large as may be", ask(port, *POST[:2], pad(262144), POST[3])[0], 200)
    status, headers, body = ask(port, *POST[:2], pad(262145), {**POST[3], "x-request-id": "big"})
    same("too large", (status, headers["content-type"], headers["cache-control"]),
         (413, "application/problem+json", "no-store"))
    same("too large, told", [json.loads(body)[name] for name in ("type", "status", "request_id")],
         ["/problems/body-too-large", 413, "big"])
    line = json.dumps({"path": POST[1], "body": json.loads(POST[2])}) + "\n"
    lines = ask(port, "POST", "/v1/batch", line * 6000, {"content-type": "application/x-ndjson; charset=utf-8"})
    same("a long stream", (lines[0], lines[2].count(b'"exposure_stops":-1.0')), (200, 6000))
    print("cache: passed")
    by_itself(port)


def said(port, head):
    """What is answered to bytes that no client would send: status, headers, body."""
    with socket.create_connection((HOST, port), timeout=20) as stream:
        stream.sendall(head)
        answer = bytearray()
        while b"\r\n\r\n" not in answer or not answer.endswith(b"}"):
            some = stream.recv(65536)
            check(some, f"{head[:40]}: only {bytes(answer)!r}")
            answer += some
    lines, body = bytes(answer).split(b"\r\n\r\n", 1)
    status, *fields = lines.decode().split("\r\n")
    fields = (field.split(": ", 1) for field in fields)
    return int(status.split()[1]), {name.lower(): value for name, value in fields}, json.loads(body)


def by_itself(port):
    """What the proxy answers without asking an instance is a problem of the service's form, whatever the status."""
    end = b"\r\nHost: x\r\nX-Request-Id: odd.1\r\n"
    long = b"a" * 9000
    # Whether the id was read before nginx gave up.
    for what, status, kind, has_id, head in [
        ("no HTTP", 400, "malformed-request", False, b"NONSENSE\r\n\r\n"),
        ("no host", 400, "malformed-request", True, b"GET / HTTP/1.1\r\nX-Request-Id: odd.1\r\n\r\n"),
        ("a long line in the head", 400, "malformed-request", True, b"GET / HTTP/1.1" + end + b"X-Long: " + long + b"\r\n\r\n"),
        ("two lengths", 400, "malformed-request", True,
         b"POST / HTTP/1.1" + end + b"Content-Length: 1\r\nTransfer-Encoding: chunked\r\n\r\n0\r\n\r\n"),
        ("out of the root", 400, "malformed-request", False, b"GET /../v1 HTTP/1.1" + end + b"\r\n"),
        ("an inner path", 404, "not-found", True, b"GET /stream HTTP/1.1" + end + b"\r\n"),
        ("another", 404, "not-found", True, b"GET /said-by-the-proxy HTTP/1.1" + end + b"\r\n"),
        ("TRACE", 405, "method-not-allowed", True, b"TRACE / HTTP/1.1" + end + b"\r\n"),
        ("a long body", 413, "body-too-large", True, b"POST / HTTP/1.1" + end + b"Content-Length: 300000\r\n\r\n"),
        ("a long address", 414, "malformed-request", False, b"GET /" + long + b" HTTP/1.1" + end + b"\r\n"),
        ("an unknown coding", 501, "malformed-request", True,
         b"POST / HTTP/1.1" + end + b"Transfer-Encoding: gzip\r\n\r\n"),
        ("another HTTP", 505, "malformed-request", False, b"GET / HTTP/3.0" + end + b"\r\n"),
    ]:
        got, headers, problem = said(port, head)
        same(what, (got, problem["status"], problem["type"]), (status, status, f"/problems/{kind}"))
        same(f"{what}: its form", (headers["content-type"], headers["cache-control"], headers["x-content-type-options"]),
             ("application/problem+json", "no-store", "nosniff"))
        same(f"{what}: its id", problem["request_id"], headers["x-request-id"])
        if has_id:
            same(f"{what}: the caller's id", headers["x-request-id"], "odd.1")
        for field in ("title", "detail"):
            check(problem[field], f"{what}: no {field}")
        same(f"{what}: located", "errors" in problem, status == 400)
    # A range is of no use to JSON; what is kept is then sent whole, or refused in the same form.
    until("HIT", lambda: ask(port, "GET", CONVERT))
    status, headers, body = ask(port, "GET", CONVERT, None, {"range": "bytes=999999-"})
    check(status == 200 or (status, headers["content-type"]) == (416, "application/problem+json"), f"a range: {status} {body}")
    print("the proxy by itself: passed")


def with_nobody(port):
    """What the proxy says when no instance is there."""
    status, headers, body = ask(port, *POST)
    same("nobody", (status, headers["content-type"], headers["retry-after"], headers["cache-control"]),
         (503, "application/problem+json", "1", "no-store"))
    same("nobody, told", json.loads(body)["request_id"], headers["x-request-id"])


def with_stand_ins(stage):
    """One instance that wants keys, behind a stand-in that lets answers grow old in a second; beside it one that is
    always busy. What is asked is answered by the first."""
    port, old, busy, behind = ports(4)
    (stage.directory / "keys.txt").write_text(f"booking {hashlib.sha256(b'open').hexdigest()}\n")
    Instance(stage, behind, ["--keys-file", stage.directory / "keys.txt"])
    passing, refusing = StandIn(old, behind), StandIn(busy)
    stage.nginx("cache", port, [old, busy])
    path = "/problems/timeout"
    get = getter(port)

    status, first, body = get(path, x_forwarded_for="192.0.2.1", x_request_id="first.1")
    same("first", (status, state(first)), (200, "MISS"))
    _, seen, _ = passing.seen[-1]
    seen = {name.lower(): value for name, value in seen.items()}
    # What the client claims is gone.
    same("what the instance hears", (seen["x-forwarded-for"], seen["x-request-id"]), ("127.0.0.1", "first.1"))
    status, headers, again = until("REVALIDATED", lambda: get(path))
    same("old", (status, state(headers), headers["etag"], again), (200, "REVALIDATED", first["etag"], body))
    seen_path, seen, answered = passing.seen[-1]
    seen = {name.lower(): value for name, value in seen.items()}
    same("asked whether it holds", (seen_path, seen["if-none-match"], answered), (path, first["etag"], 304))
    status, headers, again = until("REVALIDATED", lambda: get(path, if_none_match=first["etag"]))
    same("old and known", (status, state(headers), again), (304, "REVALIDATED", b""))

    # An answer to a key is not for those without one.
    for _ in range(2):
        same("with a key", get(CONVERT, authorization="Bearer open")[0], 200)
        same("without", get(CONVERT)[0], 401)
    # Half of these meet the busy one first.
    asked = len(refusing.seen)
    for _ in range(10):
        same("beside a busy one", ask(port, *POST[:3], {**POST[3], "authorization": "Bearer open"})[0], 200)
    check(len(refusing.seen) > asked, "the busy one was never asked")

    time.sleep(2.1)
    passing.end()
    refusing.end()
    eventually("the stand-ins are gone", lambda: not answers(old) and not answers(busy))
    status, headers, again = get(path)
    same("nobody there, but an old answer", (status, state(headers), again), (200, "STALE", body))
    print("cache with stand-ins: passed")
