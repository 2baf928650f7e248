"""Which release of the service, and of its data, an answer comes from."""

import functools
import tomllib
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path
from typing import Final

from service.api.schemas.answer import Version
from service.reference.loader import data_version

DISTRIBUTION: Final = "velamen"


@functools.cache
def service_version() -> str:
    """
    Return the release of the service.

    It is that of the installed distribution; in a source tree that is not installed it is read
    from the project file beside the package.
    """
    project_file = Path(__file__).resolve().parents[2] / "pyproject.toml"
    if project_file.is_file():
        project = tomllib.loads(project_file.read_text(encoding="utf-8")).get("project", {})
        if project.get("name") == DISTRIBUTION:
            return str(project["version"])
    try:
        return version(DISTRIBUTION)
    except PackageNotFoundError:
        return "0.0.0"


@functools.cache
def versions() -> Version:
    """Return both releases, as every answer states them."""
    return Version(service=service_version(), data=data_version())
