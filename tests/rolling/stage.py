"""What a trial runs: instances of the service, nginx by the committed configuration, and stand-ins for instances."""

import http.client
import http.server
import os
import pathlib
import random
import shutil
import signal
import socket
import subprocess
import tempfile
import threading
import time

HERE = pathlib.Path(__file__).resolve().parent
ROOT = HERE.parent.parent
HOST = "127.0.0.1"
# As in the containers: nobody in particular, where this runs as root (CI).
NOBODY = {"user": 65534, "group": 65534, "extra_groups": []} if os.geteuid() == 0 else {}


def check(holds, what):
    """Ends the trial where something does not hold."""
    if not holds:
        raise AssertionError(what)


def ports(count):
    """Free ports, where possible of those that the system gives to no call that goes out: an instance finds its own still
    free when it begins again. All are held until the last is known, so that they differ."""
    given_out = int(pathlib.Path("/proc/sys/net/ipv4/ip_local_port_range").read_text().split()[0])
    held = []
    kept = range(10_000, given_out)
    for port in [*random.sample(kept, min(1_000, len(kept))), *[0] * count]:
        if len(held) == count:
            break
        try:
            held.append(socket.create_server((HOST, port)))
        except OSError:
            continue
    check(len(held) == count, "no free ports")
    numbers = [one.getsockname()[1] for one in held]
    for one in held:
        one.close()
    return numbers


def eventually(what, holds, seconds=10):
    """Waits until something holds."""
    end = time.monotonic() + seconds
    while not holds():
        check(time.monotonic() < end, f"not within {seconds} s: {what}")
        time.sleep(0.01)


def ask(port, method, path, body=None, headers=None):
    """One call on a connection of its own: status, headers (names in lower case), body."""
    connection = http.client.HTTPConnection(HOST, port, timeout=20)
    try:
        connection.request(method, path, body, headers or {})
        answer = connection.getresponse()
        return answer.status, {name.lower(): value for name, value in answer.getheaders()}, answer.read()
    finally:
        connection.close()


def answers(port, path="/readyz"):
    """Whether the path answers 200."""
    try:
        return ask(port, "GET", path)[0] == 200
    except OSError:
        return False


class Stage:
    """A directory, and all that runs in it; nothing is left of either."""

    def __init__(self, binary):
        self.directory = pathlib.Path(tempfile.mkdtemp(prefix="rolling-"))
        self.binary = self.directory / "stopwright"
        shutil.copy(binary, self.binary)
        self.running = []
        if NOBODY:
            os.chown(self.directory, NOBODY["user"], NOBODY["group"])
        self.directory.chmod(0o755)

    def __enter__(self):
        return self

    def __exit__(self, *_):
        for process in self.running:
            if process.poll() is None:
                # Not by SIGKILL: nginx would leave its workers behind.
                process.terminate()
        for process in self.running:
            process.wait(timeout=30)
        shutil.rmtree(self.directory)

    def start(self, command, **more):
        process = subprocess.Popen(command, cwd=self.directory, **NOBODY, **more)
        self.running.append(process)
        return process

    def nginx(self, name, port, instances, changed=()):
        """nginx by the committed file, in which only addresses and paths are others."""
        mine = self.directory / name
        mine.mkdir(mode=0o755)
        text = (ROOT / "deploy/nginx.conf").read_text()
        others = [("listen 8080;", f"listen {HOST}:{port};"), ("error_log stderr", f"error_log {mine}/error.log")]
        others += [("/dev/stdout", f"{mine}/calls.log"), ("pid /tmp/", f"pid {mine}/")]
        others += [("proxy_cache_path /var/cache/nginx ", f"proxy_cache_path {mine}/cache ")]
        others += [(f"{kind}_temp_path /tmp/", f"{kind}_temp_path {mine}/")
                   for kind in ("client_body", "proxy", "fastcgi", "uwsgi", "scgi")]
        others += [(f"server 10.87.0.1{number}:8080 ", f"server {HOST}:{instance} ")
                   for number, instance in enumerate(instances, start=1)]
        for old, new in [*others, *changed]:
            check(text.count(old) == 1, f"nginx.conf has {old!r} {text.count(old)} times, not once")
            text = text.replace(old, new)
        (mine / "nginx.conf").write_text(text)
        if NOBODY:
            os.chown(mine, NOBODY["user"], NOBODY["group"])
        path = shutil.which("nginx", path=os.environ["PATH"] + ":/usr/sbin")
        check(path, "nginx is not here (Debian: apt-get install nginx-light)")
        self.start([path, "-p", mine, "-c", mine / "nginx.conf", "-e", mine / "error.log", "-g", "daemon off;"])
        eventually("nginx answers", lambda: answers(port))
        return mine


class Instance:
    """The service on a port of its own, which can be stopped and started again."""

    def __init__(self, stage, port, flags=()):
        self.stage, self.port, self.flags = stage, port, flags
        self.begin()

    def begin(self):
        command = [self.stage.binary, "serve", "--listen", f"{HOST}:{self.port}", *self.flags]
        self.process = self.stage.start(command, stdout=subprocess.DEVNULL)
        eventually("the service is ready", lambda: answers(self.port))

    def end(self, by=signal.SIGTERM):
        self.process.send_signal(by)
        code = self.process.wait(timeout=15)
        check(code == (0 if by == signal.SIGTERM else -by), f"the service ended with {code}")


class StandIn:
    """Stands where an instance is expected. Passes calls on with a short max-age, or is always busy."""

    def __init__(self, port, to=None):
        self.seen, self.gone = [], threading.Event()
        seen, gone = self.seen, self.gone

        class Handler(http.server.BaseHTTPRequestHandler):
            protocol_version = "HTTP/1.1"

            def log_message(self, *_):
                pass

            def do_GET(self):
                body = self.rfile.read(int(self.headers.get("content-length", 0)))
                if gone.is_set():
                    # A connection from before the end.
                    self.close_connection = True
                    return
                status, headers, answer = 503, {"retry-after": "1"}, b"busy"
                if to:
                    status, headers, answer = ask(to, self.command, self.path, body, dict(self.headers))
                seen.append((self.path, dict(self.headers), status))
                self.send_response_only(status)
                for name, value in headers.items():
                    if name not in ("connection", "content-length"):
                        self.send_header(name, value.replace("max-age=86400", "max-age=1"))
                if status != 304:
                    self.send_header("content-length", str(len(answer)))
                self.end_headers()
                self.wfile.write(answer)

            do_POST = do_GET

        class Server(http.server.ThreadingHTTPServer):
            def handle_error(self, *_):
                """nginx may hang up at its end; that is its own affair."""

        self.server = Server((HOST, port), Handler)
        self.server.daemon_threads = True
        threading.Thread(target=self.server.serve_forever, daemon=True).start()

    def end(self):
        self.gone.set()
        self.server.shutdown()
        self.server.server_close()
