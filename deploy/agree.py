"""What no schema sees: whether the files here agree with each other and with the service."""

import json
import pathlib
import re
import subprocess
import sys

import yaml

HERE = pathlib.Path(__file__).resolve().parent
# A request's time limit and the grace after it: what the service takes to stop, at the most.
STOPPING_S = 12

faults = []


def same(what, got, wanted):
    if got != wanted:
        faults.append(f"{what}: {got!r}, but {wanted!r}")


def seconds(text):
    return int(re.fullmatch(r"(\d+)s", text)[1])


version = re.search(r'^version = "(.+)"', (HERE.parent / "Cargo.toml").read_text(), re.M)[1]
image = f"stopwright:{version}"

kinds = {document["kind"]: document for document in yaml.safe_load_all((HERE / "kubernetes.yaml").read_text())}
deployment = kinds["Deployment"]["spec"]
pod = deployment["template"]["spec"]
[container] = pod["containers"]
labels = deployment["template"]["metadata"]["labels"]
annotations = deployment["template"]["metadata"]["annotations"]
ports = {port["name"]: port["containerPort"] for port in container["ports"]}
variables = {entry["name"]: entry["value"] for entry in container["env"]}
for what, selector in [
    ("the Deployment's selector", deployment["selector"]["matchLabels"]),
    ("the Service's selector", kinds["Service"]["spec"]["selector"]),
    ("the disruption budget's selector", kinds["PodDisruptionBudget"]["spec"]["selector"]["matchLabels"]),
    ("the network policy's selector", kinds["NetworkPolicy"]["spec"]["podSelector"]["matchLabels"]),
    *(("a spread's selector", spread["labelSelector"]["matchLabels"]) for spread in pod["topologySpreadConstraints"]),
]:
    same(what, selector, labels)
target = kinds["HorizontalPodAutoscaler"]["spec"]["scaleTargetRef"]
same("what is scaled", (target["kind"], target["name"]), ("Deployment", kinds["Deployment"]["metadata"]["name"]))
same("ports of the Service", [port["targetPort"] for port in kinds["Service"]["spec"]["ports"]], ["http"])
same("listening", variables["STOPWRIGHT_LISTEN"], f"0.0.0.0:{ports['http']}")
same("metrics", variables["STOPWRIGHT_METRICS_LISTEN"], f"0.0.0.0:{ports['metrics']}")
same("scraping", annotations["prometheus.io/port"], str(ports["metrics"]))
for probe, path in [("startupProbe", "/healthz"), ("livenessProbe", "/healthz"), ("readinessProbe", "/readyz")]:
    same(probe, container[probe]["httpGet"], {"path": path, "port": "metrics"})
allowed = {port["port"] for rule in kinds["NetworkPolicy"]["spec"]["ingress"] for port in rule["ports"]}
same("ports of the network policy", allowed, set(ports))
needed = container["lifecycle"]["preStop"]["sleep"]["seconds"] + STOPPING_S
if pod["terminationGracePeriodSeconds"] <= needed:
    faults.append(f"terminationGracePeriodSeconds: stopping may take {needed} s")
[mount] = container["volumeMounts"]
if not container["args"][-1].startswith(mount["mountPath"] + "/"):
    faults.append(f"the keys' file {container['args'][-1]} is not in {mount['mountPath']}")
same("the image", container["image"], image)

# What the Dockerfile says of its last stage, and each that says it again.
dockerfile = dict(re.findall(r"^(\w+) (.+)$", (HERE.parent / "Dockerfile").read_text(), re.M))
security = pod["securityContext"]
user = f"{security['runAsUser']}:{security['runAsGroup']}"
same("the Dockerfile's user", dockerfile["USER"], user)
same("the Dockerfile's port", dockerfile["EXPOSE"], str(ports["http"]))
same("the Dockerfile's listening", dockerfile["ENV"], f"STOPWRIGHT_LISTEN={variables['STOPWRIGHT_LISTEN']}")
same("the Dockerfile's command", json.loads(dockerfile["CMD"])[0], container["args"][0])
probe = json.loads(dockerfile["HEALTHCHECK"].partition(" CMD ")[2])

compose = yaml.safe_load((HERE / "compose.yaml").read_text())
nginx = (HERE / "nginx.conf").read_text()
listening = re.search(r"listen (\d+);", nginx)[1]
servers = set(re.findall(r"^\s*server ([\d.]+:\d+) ", nginx, re.M))
proxy = compose["services"].pop("proxy")
address = lambda service: service["networks"]["inside"]["ipv4_address"]
expected = set()
for name, service in compose["services"].items():
    same(f"the image of {name}", service["image"], image)
    port = service["environment"]["STOPWRIGHT_LISTEN"].rpartition(":")[2]
    expected.add(f"{address(service)}:{port}")
    variables |= service["environment"]
    same(f"the health check of {name}", service["healthcheck"]["test"], ["CMD", *probe])
    same(f"whom {name} trusts", service["environment"]["STOPWRIGHT_TRUSTED_PROXIES"], f"{address(proxy)}/32")
    if seconds(service["stop_grace_period"]) <= STOPPING_S:
        faults.append(f"stop_grace_period of {name}: stopping may take {STOPPING_S} s")
same("the instances that nginx knows", servers, expected)
same("the proxy's published port", proxy["ports"][0].rpartition(":")[2], listening)

if len(sys.argv) > 1:
    # One that it does not know it would ignore.
    told = subprocess.run([sys.argv[1], "serve", "--help"], check=True, capture_output=True, text=True).stdout
    known = set(re.findall(r"\[env: (\w+)=", told))
    faults += [f"the service knows no setting {name}" for name in sorted(set(variables) - known)]

if faults:
    sys.exit("\n".join(["deploy: the files do not agree", *faults]))
