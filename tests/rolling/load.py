"""Load through the proxy: wrk for the number, and callers that read every answer."""

import http.client
import json
import signal
import subprocess
import threading
import time

from stage import HERE, HOST, ask, check

CONVERT = "/v1/stops/convert"
JSON = {"content-type": "application/json"}


def kit():
    """A kit check of some tens of milliseconds."""
    unit = lambda k: {"unit": {"name": f"u{k}", "energy": 400, "guide_number": {"value": 30 + k * 7 % 41, "unit": "m"},
                               "scale": {"style": "dial", "full": 9, "least": 2}}}
    light = lambda shot, role: {"role": f"r{role}", "stops": -((shot + role) % 5) / 2,
                                "distance": 2 + (shot * 5 + role * 3) % 17 / 4}
    shot = lambda k: {"name": f"s{k}", "exposure": {"f_number": 8}, "lights": [light(k, role) for role in range(8)]}
    return {"kit": [unit(k) for k in range(64)], "shots": [shot(k) for k in range(64)]}


# README's set of two lights, with what it says of them.
BALANCE = {
    "exposure": {"f_number": "f/8"},
    "lights": [
        {"name": "key", "unit": {"energy": "600 J", "scale": {"style": "dial", "full": 9, "least": 2}}},
        {"name": "fill", "unit": {"energy": "300 J", "scale": {"style": "percent", "least": 5}}}],
    "ratio": {"value": "3:1", "key": "key", "fill": "fill"},
    "readings": [
        {"light": "key", "setting": "8", "f_number": "f/11"},
        {"light": "fill", "setting": "100 %", "f_number": "f/8"}]}

CALLS = {
    "balance": ("/v1/ratios/balance", BALANCE,
                lambda answer: [one["setting"]["label"] for one in answer["settings"]] == ["6.4", "33 %"]),
    "kit": ("/v1/kit/check", kit(), lambda answer: answer["feasible"]),
    "batch": ("/v1/batch",
              {"requests": [{"path": CONVERT, "body": {"from": "f/8", "to": k + 1, "kind": "f_number"}}
                            for k in range(200)]},
              lambda answer: [one["status"] for one in answer["answers"]] == [200] * 200),
}


class Caller(threading.Thread):
    """Asks one question again and again; every answer must be the one that an instance gave before, to the byte."""

    def __init__(self, port, instance, name):
        super().__init__(daemon=True)
        path, body, is_right = CALLS[name]
        body = json.dumps(body)
        status, _, self.right = ask(instance, "POST", path, body, JSON)
        check(status == 200 and is_right(json.loads(self.right)), f"{name}: {status} {self.right[:300]}")
        self.call = (path, body)
        self.port, self.title, self.count, self.faults, self.over = port, name, 0, [], threading.Event()

    def run(self):
        connection = http.client.HTTPConnection(HOST, self.port, timeout=20)
        while not self.over.is_set():
            try:
                connection.request("POST", *self.call, JSON)
                answer = connection.getresponse()
                body = answer.read()
                if answer.status != 200 or body != self.right:
                    self.faults.append(f"{answer.status} {body[:200]}")
            except (OSError, http.client.HTTPException) as error:
                self.faults.append(repr(error))
                connection.close()
            self.count += 1
            time.sleep(0.002)


class Streamer(threading.Thread):
    """Asks by streams, each question after the last one's answer, so that anything held back in a buffer would stop
    it. Where the service says that it stops, it asks on in a new stream; nothing else may cut one."""

    def __init__(self, port):
        super().__init__(daemon=True)
        self.port, self.title, self.count, self.streams, self.faults = port, "stream", 0, 0, []
        self.over = threading.Event()

    def run(self):
        while not self.over.is_set():
            try:
                self.stream()
            except (OSError, http.client.HTTPException, ValueError, AssertionError) as error:
                self.faults.append(repr(error))
                time.sleep(0.05)

    def stream(self):
        connection = http.client.HTTPConnection(HOST, self.port, timeout=20)
        connection.putrequest("POST", "/v1/batch")
        connection.putheader("content-type", "application/x-ndjson")
        connection.putheader("transfer-encoding", "chunked")
        connection.endheaders()
        self.streams += 1
        answers = None
        while not self.over.is_set():
            line = json.dumps({"id": str(self.count), "path": CONVERT, "body": {"from": "f/8", "to": "f/11"}}) + "\n"
            connection.send(b"%x\r\n%s\r\n" % (len(line), line.encode()))
            answers = answers or connection.getresponse()
            told = json.loads(answers.readline())
            check("id" in told, told)
            if told["status"] == 503 and told["id"] is None and "stopping" in told["body"]["detail"]:
                check(answers.read() == b"", "something after the last line")
                connection.close()
                return
            if [told["id"], told["status"], told["body"]["exposure_stops"]] != [str(self.count), 200, -1.0]:
                self.faults.append(repr(told))
            self.count += 1
            time.sleep(0.005)
        connection.send(b"0\r\n\r\n")
        check(answers.read() == b"", "something after the last answer")
        connection.close()


class Wrk:
    """wrk until it is told to end."""

    def __init__(self, stage, port, kind, connections):
        command = ["wrk", "--threads", "1", "--connections", str(connections), "--duration", "120s", "--timeout", "15s"]
        command += ["--script", HERE / "load.lua", f"http://{HOST}:{port}", "--", kind]
        self.process = stage.start(command, stdout=subprocess.PIPE, text=True)

    def end(self):
        check(self.process.poll() is None, "wrk ended early")
        self.process.send_signal(signal.SIGINT)
        out, _ = self.process.communicate(timeout=30)
        return json.loads(out.strip().rsplit("\n", 1)[-1])
