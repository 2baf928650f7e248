"""
Ask a service whose forward checks allow nothing, and say what it answers and counts.

Run in a process of its own with `NUMBA_DISABLE_JIT=1`, `python -m tests.contract.unconfirmed`:
compiled kernels hold the tolerances that they were compiled with. The checks themselves are left as
they are. Prints one JSON object.
"""

import asyncio
import json
from typing import Any

import httpx

from service.main import create_app
from service.planning import forward_check, ph_adjustment, recipe, tank_check
from service.settings import Settings

DOSE = {"product": "feed_20_20_20", "water": "rain", "volume_l": 10}
RECIPE = {
    "target_mg_per_l": {"nitrogen": 70, "potassium": 100},
    "shelf": ["potassium_nitrate", "calcium_nitrate_tetrahydrate"],
    "water": "rain",
}
ASKED: dict[str, dict[str, Any]] = {
    "/v1/doses": DOSE,
    "/v1/dilutions": {
        "product": "potassium_nitrate",
        "strength": {"basis": "element", "element": "nitrogen", "mg_per_l": 90},
        "water": "rain",
        "volume_l": 10,
    },
    "/v1/ph-adjustments": {
        "water": "hard_tap",
        "volume_l": 10,
        "target_ph": 6.2,
        "acid": {"kind": "nitric", "percent": 38},
    },
    "/v1/recipes": RECIPE,
    "/v1/stock-plans": {
        "recipe": [{"product": "potassium_nitrate", "g_per_l": 0.5}],
        "concentration_factor": 100,
        "tank_volume_l": 10,
        "water": "rain",
    },
}
TOLERANCES = (
    (forward_check, "STRENGTH_TOLERANCE"),
    (ph_adjustment, "FORWARD_PH"),
    (recipe, "CHECK_TOLERANCE"),
    (tank_check, "TANK_TOLERANCE"),
)


async def ask() -> dict[str, Any]:
    """Ask everything with the tolerances as they are, then with none left."""
    said: dict[str, Any] = {}
    transport = httpx.ASGITransport(app=create_app(Settings()))
    async with httpx.AsyncClient(transport=transport, base_url="http://velamen.test") as client:
        for name in ("as they are", "none left"):
            said[name] = {
                path: [answer.status_code, answer.headers["content-type"], answer.json()]
                for path, body in ASKED.items()
                for answer in [await client.post(path, json=body)]
            }
            batch = {"rows": [{**DOSE, "id": "a"}, {"id": "b", "volume_l": "1,5"}]}
            answer = await client.post("/v1/doses/batch", json=batch)
            said[name]["batch"] = [answer.status_code, "", answer.json()]
            said[name]["metrics"] = (await client.get("/metrics")).text
            for module, tolerance in TOLERANCES:
                setattr(module, tolerance, -1.0)
    return said


if __name__ == "__main__":
    print(json.dumps(asyncio.run(ask())))
