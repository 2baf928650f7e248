"""The examples of deployment agree with the service and with each other."""

import configparser
import json
import re
import shutil
import subprocess
import sys
from pathlib import Path
from typing import Any

import kubernetes_validate
import pytest
import yaml  # type: ignore[import-untyped]

from service.api.limits import Limits
from service.api.problems import PROBLEM_TYPES, Problem
from service.main import create_app
from service.settings import PREFIX, Settings

ROOT = Path(__file__).resolve().parents[2]
DEPLOYMENT = ROOT / "examples" / "deployment"
FILES = sorted(path for path in DEPLOYMENT.iterdir() if path.is_file())
PAUSE_SECONDS = 5


class RepeatedKeys(dict[str, str]):
    """Keys of a unit may stand more than once; the values are joined."""

    def __setitem__(self, key: str, value: Any) -> None:
        if isinstance(value, list) and isinstance(self.get(key), list):
            self[key].extend(value)  # type: ignore[attr-defined]
        else:
            super().__setitem__(key, value)


def unit() -> configparser.RawConfigParser:
    parser = configparser.RawConfigParser(
        strict=False, dict_type=RepeatedKeys, interpolation=None, comment_prefixes=("#",)
    )
    parser.optionxform = str  # type: ignore[assignment, method-assign]
    parser.read_string((DEPLOYMENT / "velamen.service").read_text(encoding="utf-8"))
    return parser


def documents(name: str) -> list[Any]:
    return list(yaml.safe_load_all((DEPLOYMENT / name).read_text(encoding="utf-8")))


def container() -> tuple[dict[str, Any], dict[str, Any]]:
    """Return the pod and its container of the Kubernetes example."""
    (deployment,) = [each for each in documents("kubernetes.yaml") if each["kind"] == "Deployment"]
    pod = deployment["spec"]["template"]["spec"]
    (only,) = pod["containers"]
    return pod, only


def image_user() -> int:
    dockerfile = (ROOT / "Dockerfile").read_text(encoding="utf-8")
    return int(re.findall(r"^USER (\d+):", dockerfile, re.MULTILINE)[-1])


def seconds(text: str) -> int:
    number, letter = re.fullmatch(r"(\d+)(s|m)", text).groups()  # type: ignore[union-attr]
    return int(number) * (60 if letter == "m" else 1)


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.name)
def test_every_variable_is_one_that_the_service_reads(path: Path) -> None:
    read = (ROOT / "service" / "settings.py").read_text(encoding="utf-8")
    known = {PREFIX + name for name in re.findall(r'(?:text|whole|seconds)\(\s*"([A-Z_]+)"', read)}
    named = set(re.findall(rf"\b{PREFIX}[A-Z_]+\b", path.read_text(encoding="utf-8")))
    assert named <= known
    assert f"{PREFIX}OPEN" not in named


def test_unit_serves_with_keys_and_is_given_time_to_end() -> None:
    service = unit()["Service"]
    assert service["ExecStart"].endswith("/.venv/bin/python -m service")
    variables = dict(part.split("=", 1) for part in service["Environment"].split())
    assert variables["VELAMEN_KEYS_FILE"]
    assert int(service["TimeoutStopSec"]) > Settings().shutdown_seconds
    assert service["DynamicUser"] == "yes"
    assert "MemoryDenyWriteExecute" not in service, "compiled kernels could not be loaded"


def test_unit_lets_the_service_hold_as_many_connections_as_it_serves() -> None:
    limits = Limits(batch_rows=1, batch_bytes=1, body_seconds=1.0, connections=256)
    assert int(unit()["Service"]["LimitNOFILE"]) > limits.open_connections


def test_compose_keeps_the_container_read_only_and_gives_it_time_to_end() -> None:
    (composed,) = documents("compose.yaml")
    service = composed["services"]["velamen"]
    assert service["read_only"] is True
    assert service["cap_drop"] == ["ALL"]
    assert service["tmpfs"][0].startswith("/tmp:")
    assert seconds(service["stop_grace_period"]) > Settings().shutdown_seconds
    assert "ports" not in service, "callers come through the proxy"
    keys = service["environment"]["VELAMEN_KEYS_FILE"]
    mounted = [volume.split(":")[1] for volume in service["volumes"]]
    assert str(Path(keys).parent) in mounted, "the folder, so that a replaced file is followed"
    assert set(composed["networks"]) == {*service["networks"], "outside"}


def test_pods_run_as_the_user_of_the_image_and_write_nowhere_but_in_tmp() -> None:
    pod, only = container()
    assert pod["securityContext"]["runAsUser"] == image_user()
    assert pod["securityContext"]["runAsNonRoot"] is True
    assert only["securityContext"]["readOnlyRootFilesystem"] is True
    assert only["securityContext"]["capabilities"] == {"drop": ["ALL"]}
    writable = [each["mountPath"] for each in only["volumeMounts"] if not each.get("readOnly")]
    assert writable == ["/tmp"]
    assert {each["name"] for each in only["volumeMounts"]} == {
        each["name"] for each in pod["volumes"]
    }


def test_pods_are_asked_at_addresses_that_need_no_key_and_end_after_their_requests() -> None:
    pod, only = container()
    routes = {getattr(route, "path", "") for route in create_app(Settings()).routes}
    probes = {
        name: only[f"{name}Probe"]["httpGet"] for name in ("startup", "readiness", "liveness")
    }
    assert {name: probe["path"] for name, probe in probes.items()} == {
        "startup": "/readyz",
        "readiness": "/readyz",
        "liveness": "/livez",
    }
    assert {probe["path"] for probe in probes.values()} <= routes
    pause = only["lifecycle"]["preStop"]["exec"]["command"][-1]
    assert f"sleep({PAUSE_SECONDS})" in pause
    assert pod["terminationGracePeriodSeconds"] > Settings().shutdown_seconds + PAUSE_SECONDS


def test_every_object_of_kubernetes_selects_the_same_pods() -> None:
    deployment, service, budget, scaler, policy = documents("kubernetes.yaml")
    labels = deployment["spec"]["template"]["metadata"]["labels"]
    assert deployment["spec"]["selector"]["matchLabels"] == labels
    assert service["spec"]["selector"] == labels
    assert budget["spec"]["selector"]["matchLabels"] == labels
    assert budget["spec"]["minAvailable"] < deployment["spec"]["replicas"]
    scaled = scaler["spec"]["scaleTargetRef"]
    assert (scaled["kind"], scaled["name"]) == ("Deployment", deployment["metadata"]["name"])
    assert scaler["spec"]["minReplicas"] == deployment["spec"]["replicas"]
    requests = deployment["spec"]["template"]["spec"]["containers"][0]["resources"]["requests"]
    assert "cpu" in requests, "a share of nothing cannot be measured"
    assert policy["spec"]["podSelector"]["matchLabels"] == labels
    assert policy["spec"]["egress"] == [], "the service calls nobody"


@pytest.mark.parametrize("release", ["1.29", "1.32", "1.35"])
def test_every_object_of_kubernetes_keeps_the_schema_of_its_kind(release: str) -> None:
    for each in documents("kubernetes.yaml"):
        kubernetes_validate.validate(each, release, strict=True)


def test_schema_of_kubernetes_refuses_what_it_does_not_know() -> None:
    (deployment,) = [each for each in documents("kubernetes.yaml") if each["kind"] == "Deployment"]
    deployment["spec"]["replica"] = 2
    with pytest.raises(kubernetes_validate.ValidationError):
        kubernetes_validate.validate(deployment, "1.35", strict=True)


def test_unit_is_understood_by_systemd_where_there_is_one(tmp_path: Path) -> None:
    analyse = shutil.which("systemd-analyze")
    if analyse is None:
        assert unit()["Install"]["WantedBy"] == "multi-user.target"
        return
    # The program of the unit stands where it will be installed, which is not here.
    text = (DEPLOYMENT / "velamen.service").read_text(encoding="utf-8")
    here = text.replace("/opt/velamen/.venv/bin/python", sys.executable)
    path = tmp_path / "velamen.service"
    path.write_text(here.replace("/opt/velamen", str(ROOT)), encoding="utf-8")
    done = subprocess.run(
        [analyse, "verify", "--man=no", path], capture_output=True, text=True, check=False
    )
    own = [line for line in done.stderr.splitlines() if "velamen" in line]
    assert own == []


def test_proxy_answers_problems_as_the_service_does() -> None:
    text = (DEPLOYMENT / "haproxy.cfg").read_text(encoding="utf-8")
    returned = re.findall(r"return status (\d+) .*? string '(\{.*?\})' if", text)
    assert [int(status) for status, _ in returned] == [404, 429]
    for status, body in returned:
        problem = Problem.model_validate(json.loads(body))
        kind = PROBLEM_TYPES[problem.type.rpartition("/")[2]]
        assert (problem.status, problem.title) == (int(status), kind.title)
        assert kind.status == int(status)
    assert re.search(r'status 429 .* hdr "Retry-After" "\d+" ', text)


def test_proxy_waits_as_long_as_the_service_works() -> None:
    text = (DEPLOYMENT / "haproxy.cfg").read_text(encoding="utf-8")
    waits = {name: seconds(value) for name, value in re.findall(r"timeout (\S+) (\S+)", text)}
    limits = Limits(batch_rows=1, batch_bytes=1, body_seconds=30.0, connections=1)
    assert waits["server"] > limits.batch_seconds + limits.batch_wait_seconds
    assert waits["http-request"] == limits.header_seconds
    assert waits["client"] > limits.body_seconds
    assert "uri /readyz" in text
