"""
Say which kernels are compiled or loaded once the service is ready, and what first requests add.

Run in a process of its own, `python -m tests.contract.first_requests`: in that of other tests the
kernels are there already. Prints one JSON object.
"""

import asyncio
import json
import sys
from collections.abc import Iterator
from typing import Any

import httpx
from numba.core.registry import CPUDispatcher

from service.main import create_app
from service.settings import Settings
from tests.books import book

LINE = "id,product,water,volume_l,acid.kind,target_ph\na,feed_20_20_20,soft_tap,10,nitric,6\n"
XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
BLIND = {
    "product": {
        "name": "green bottle",
        "form": "liquid",
        "label": {"basis": "volume", "nitrate_n_percent": 4, "ammonium_n_percent": 3},
    },
    "plants": {"size": "large", "count": 20, "pot_diameter_cm": 12},
    "water": {"ph": 7.8, "alkalinity_mg_per_l_caco3": 110},
    "target_ph": 6,
    "acid": {"kind": "nitric"},
}
TWINS = {
    "/v1/doses.txt": {"field": "product_mass_g", "product": "feed_15_5_15_ca_mg", "volume_l": 10},
    "/v1/targets.svg": {"air.humidity_percent": 60},
    "/v1/dilutions.csv": {
        "product": "potassium_nitrate",
        "volume_l": 5,
        "strength.basis": "element",
        "strength.element": "nitrogen",
        "strength.mg_per_l": 80,
    },
    "/v1/readings": {"ppm": 500, "scale": "700", "temperature_celsius": 18},
    "/v1/ph-adjustments.svg": {"water": "hard_tap", "volume_l": 10, "target_ph": 6},
    "/v1/solubilities": {"product": "potassium_nitrate", "temperature_celsius": 10},
    "/v1/flushes": {"container.diameter_cm": 12},
}


def signatures() -> dict[str, int]:
    """Return how many signatures of each kernel are compiled or loaded."""
    return {
        f"{value.py_func.__module__}.{value.py_func.__qualname__}": len(value.signatures)
        for name, module in sorted(sys.modules.items())
        if name.startswith("service.")
        for value in vars(module).values()
        if isinstance(value, CPUDispatcher)
    }


def examples(document: dict[str, Any]) -> Iterator[tuple[str, str, bytes]]:
    """Give every example body of the contract: path, media type, text."""
    for path, operations in document["paths"].items():
        content = operations.get("post", {}).get("requestBody", {}).get("content", {})
        for kind, media in content.items():
            for example in media.get("examples", {}).values():
                value = example["value"]
                text = value if isinstance(value, str) else json.dumps(value)
                yield path, kind, text.encode()


async def ask() -> dict[str, Any]:
    """Ask whether the service is ready, then ask it everything."""
    app = create_app(Settings())
    transport = httpx.ASGITransport(app=app)
    refused: list[str] = []
    added: dict[str, list[str]] = {}
    asked = 0
    async with httpx.AsyncClient(transport=transport, base_url="http://velamen.test") as client:
        ready = (await client.get("/readyz")).status_code
        before = signatures()

        async def note(name: str, answer: httpx.Response) -> None:
            nonlocal before, asked
            asked += 1
            if answer.status_code != 200:
                refused.append(f"{name}: {answer.status_code} {answer.text[:200]}")
            after = signatures()
            if after != before:
                added[name] = [each for each in after if after[each] != before.get(each)]
                before = after

        await note("label", await client.post("/v1/doses", json=BLIND))
        for path, kind, text in examples(app.openapi()):
            answer = await client.post(path, content=text, headers={"Content-Type": kind})
            await note(f"POST {path} {kind}", answer)
        for path, query in TWINS.items():
            await note(f"GET {path}", await client.get(path, params=query))
        sheet = book([line.split(",") for line in LINE.splitlines()])
        for form, kind, body in (
            ("csv", "text/csv", LINE.encode()),
            ("xlsx", XLSX, sheet),
            ("ndjson", "application/x-ndjson", b'{"product": "urea", "volume_l": 3}\n'),
        ):
            batch = f"/v1/doses/batch.{form}"
            answer = await client.post(batch, content=body, headers={"Content-Type": kind})
            await note(f"POST {batch}", answer)
    return {"ready": ready, "asked": asked, "kernels": before, "added": added, "refused": refused}


if __name__ == "__main__":
    print(json.dumps(asyncio.run(ask())))
