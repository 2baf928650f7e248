"""
The container recipe, followed without a container engine.

The instructions of the Dockerfile are replayed in a temporary folder with an empty environment,
then the service is started from the result where nothing can be written.
"""

import json
import os
import re
import shlex
import shutil
import stat
import subprocess
import sys
import tempfile
import urllib.request
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

import pytest

from tests.read_only import read_only
from tests.running_service import get, post_json, running_service

ROOT = Path(__file__).resolve().parents[2]
HOME_OF_IMAGE = "/opt/velamen"
PREFIX_OF_BASE = "/usr/local"

# How this machine reaches a package registry is the network's business, not the recipe's.
NETWORK_VARIABLES = ("PIP_", "HTTP_PROXY", "HTTPS_PROXY", "NO_PROXY", "SSL_CERT_")

DOSE = {
    "plants": {"size": "medium", "setup": "wet_dry_pot", "count": 3},
    "air": {"humidity_percent": 62, "temperature_celsius": 23},
    "product": "calcium_nitrate_tetrahydrate",
    "water": "rain",
    "volume_l": 5,
}


def table_of(address: str, body: bytes) -> tuple[int, bytes]:
    """Return status and table that come back for a table."""
    request = urllib.request.Request(address, body, {"Content-Type": "text/csv"})
    with urllib.request.urlopen(request, timeout=30) as answer:
        return answer.status, answer.read()


def instructions() -> list[tuple[str, str]]:
    """Return the Dockerfile as pairs of instruction and argument."""
    text = (ROOT / "Dockerfile").read_text(encoding="utf-8")
    lines = [line for line in text.splitlines() if not line.lstrip().startswith("#")]
    joined = "\n".join(lines).replace("\\\n", " ")
    pairs = [line.split(None, 1) for line in joined.splitlines() if line.strip()]
    return [(name.upper(), argument.strip()) for name, argument in pairs]


def final_stage() -> dict[str, str]:
    """Return the last argument of each instruction after the last FROM."""
    found: dict[str, str] = {}
    for name, argument in instructions():
        found = {} if name == "FROM" else {**found, name: argument}
    return found


@dataclass
class Image:
    """The folder of the image, the stand-in for its base, and the variables of its last stage."""

    folder: Path
    base: Path
    environment: dict[str, str] = field(default_factory=dict)

    def mapped(self, text: str) -> str:
        return text.replace(HOME_OF_IMAGE, str(self.folder)).replace(PREFIX_OF_BASE, str(self.base))


def clean_environment(variables: dict[str, str]) -> dict[str, str]:
    network = {
        name: value for name, value in os.environ.items() if name.startswith(NETWORK_VARIABLES)
    }
    path = os.pathsep.join([str(Path(sys.executable).resolve().parent), "/usr/bin", "/bin"])
    return {**network, "HOME": "/nonexistent", "PATH": path, **variables}


def copy(sources: list[Path], target: Path, keep_name: bool) -> None:
    for source in sources:
        place = target / source.name if keep_name else target
        place.parent.mkdir(parents=True, exist_ok=True)
        if source.is_dir():
            unwanted = shutil.ignore_patterns("__pycache__", ".kernels")
            inside = source.is_relative_to(ROOT)
            shutil.copytree(source, place, symlinks=True, ignore=unwanted if inside else None)
        else:
            shutil.copy2(source, place)


def replay(image: Image) -> None:
    """Follow the instructions; one that is not understood fails the test."""
    earlier = image.folder.with_name("build-stage")
    for name, argument in instructions():
        match name:
            case "FROM":
                if image.folder.exists():
                    image.folder.rename(earlier)
                image.environment = {}
            case "ENV":
                pairs = (pair.partition("=") for pair in shlex.split(argument))
                image.environment |= {key: image.mapped(value) for key, _, value in pairs}
            case "WORKDIR":
                assert argument == HOME_OF_IMAGE
                image.folder.mkdir()
            case "COPY":
                *given, target = argument.split()
                if given[0].startswith("--from="):
                    origin = [earlier / Path(name).relative_to(HOME_OF_IMAGE) for name in given[1:]]
                else:
                    origin = [ROOT / name for name in given]
                copy(origin, image.folder / target, keep_name=target.endswith("/"))
            case "RUN":
                command = [image.mapped(word) for word in json.loads(argument)]
                assert command[:1] == ["sh"]
                assert command[1].startswith(".ci/")
                assert not [w for w in command[2:] if w[0] == "/" and w != str(image.base)]
                finished = subprocess.run(
                    command,
                    cwd=image.folder,
                    env=clean_environment(image.environment),
                    stdin=subprocess.DEVNULL,
                    capture_output=True,
                    text=True,
                    check=False,
                )
                assert finished.returncode == 0, finished.stdout + finished.stderr
            case "ARG" | "LABEL" | "USER" | "EXPOSE" | "HEALTHCHECK" | "CMD":
                pass
            case _:
                pytest.fail(f"the replay does not know {name}")


@pytest.fixture(scope="module")
def image() -> Iterator[Image]:
    with tempfile.TemporaryDirectory(prefix="velamen-image-") as scratch:
        made = Image(Path(scratch) / "velamen", Path(scratch) / "base")
        for name in ("bin/python3.11", "bin/pip", "lib/python3.11/site-packages/pip/main.py"):
            (made.base / name).parent.mkdir(parents=True, exist_ok=True)
            (made.base / name).touch()
        replay(made)
        yield made


def test_recipe_passes_its_linter() -> None:
    hadolint = Path(sys.executable).with_name("hadolint")
    finished = subprocess.run(
        [hadolint, "--no-color", ROOT / "Dockerfile"], capture_output=True, text=True, check=False
    )
    assert (finished.returncode, finished.stdout + finished.stderr) == (0, "")


def test_every_run_line_is_a_script_that_is_tested_here() -> None:
    runs = [json.loads(argument) for name, argument in instructions() if name == "RUN"]
    assert runs
    for shell, script, *_ in runs:
        assert shell == "sh"
        assert (ROOT / script).is_file()


def test_base_is_pinned_by_version_and_shared_by_all_stages() -> None:
    bases = [argument.split()[0] for name, argument in instructions() if name == "FROM"]
    assert set(bases) == {"${PYTHON_IMAGE}"}
    (default,) = [argument for name, argument in instructions() if name == "ARG"]
    version = default.partition("=")[2].partition(":")[2].partition("-")[0]
    assert [int(part) >= 0 for part in version.split(".")] == [True, True, True]


def test_service_runs_as_a_numbered_user_without_a_home_and_without_a_shell() -> None:
    last = final_stage()
    user, _, group = last["USER"].partition(":")
    assert int(user) > 0
    assert int(group) > 0
    assert json.loads(last["CMD"]) == ["python", "-m", "service"]
    assert "HOME=/nonexistent" in last["ENV"].split()


def test_kernels_are_built_for_the_processor_name_they_are_run_with() -> None:
    stages: list[dict[str, str]] = []
    for name, argument in instructions():
        if name == "FROM":
            stages.append({})
        elif name == "ENV":
            stages[-1] |= dict(pair.split("=", 1) for pair in shlex.split(argument))
    assert [stage["NUMBA_CPU_NAME"] for stage in stages] == ["generic", "generic"]
    assert len({stage["VELAMEN_KERNELS"] for stage in stages}) == 1


def test_nothing_that_installs_software_is_left(image: Image) -> None:
    left = [
        path
        for top in (image.folder / "runtime", image.base)
        for pattern in ("bin/pip*", "lib/python3*/site-packages/pip*", "lib/python3*/ensurepip")
        for path in top.glob(pattern)
    ]
    assert left == []
    assert (image.base / "bin/python3.11").exists()


def test_any_user_can_read_the_image_and_only_its_owner_could_change_it(image: Image) -> None:
    wrong = []
    for name in ("runtime", "service", "kernels"):
        for path in (image.folder / name).rglob("*"):
            mode = path.lstat().st_mode
            if stat.S_ISLNK(mode):
                continue
            if not mode & stat.S_IROTH or mode & (stat.S_IWGRP | stat.S_IWOTH):
                wrong.append(f"{path}: {stat.filemode(mode)}")
    assert wrong == []


def test_image_has_the_bill_of_what_is_in_it(image: Image) -> None:
    bill = json.loads((image.folder / "bill.cdx.json").read_text(encoding="utf-8"))
    lock = (ROOT / ".ci" / "requirements.txt").read_text(encoding="utf-8")
    pinned = re.findall(r"^([a-z0-9][a-z0-9._-]*)==(\S+)", lock, re.MULTILINE)
    assert [(each["name"], each["version"]) for each in bill["components"]] == sorted(pinned)


def test_image_answers_from_a_read_only_file_system(image: Image) -> None:
    assert list((image.folder / "kernels").rglob("*.nbc")), "no kernel was prepared"
    # The port is a free one and this machine's alone; all else is as the image says.
    environment = image.environment | {"VELAMEN_HOST": "127.0.0.1", "VELAMEN_PORT": "0"}
    command = read_only(image.folder, json.loads(final_stage()["CMD"]))
    with running_service(command, image.folder, environment) as address:
        assert get(f"{address}/readyz")[0] == 200
        status, answer = post_json(f"{address}/v1/doses", DOSE)
        assert status == 200, answer
        assert answer["status"] == "ok"
        assert answer["product_mass_g"] > 0
        status, lines = table_of(f"{address}/v1/doses/batch.csv", b"product,volume_l\nurea,5\n")
        assert (status, lines.count(b"\n")) == (200, 2), lines

        health = json.loads(final_stage()["HEALTHCHECK"].partition(" CMD ")[2])
        port = address.rpartition(":")[2]
        probe = subprocess.run(
            [str(image.folder / "runtime/bin" / health[0]), *health[1:]],
            env=environment | {"VELAMEN_PORT": port},
            capture_output=True,
            check=False,
        )
        assert probe.returncode == 0, probe.stderr
