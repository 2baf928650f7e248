"""
Load a configuration into Home Assistant, play a scene on it, print what came of every step.

Runs under the Python of Home Assistant, not under that of the tests. The scene is a list of steps,
`{"set": {entity: state}, "until": {entity: state}}` or `{"script": name, "data": {}}`; each comes
back as the states of all sensors, or as what the script returned::

    python home_assistant_run.py FOLDER < scene.json
"""

import asyncio
import json
import sys

from homeassistant import bootstrap, config, config_entries, core, loader
from homeassistant.const import __version__
from homeassistant.setup import async_setup_component

INTEGRATIONS = (
    "homeassistant",
    "persistent_notification",
    "rest_command",
    "script",
    "rest",
    "template",
)
PATIENCE_SECONDS = 30.0


async def started(folder, states):
    """Return a running Home Assistant with the configuration of a folder."""
    hass = core.HomeAssistant(folder)
    hass.config.skip_pip = True
    loader.async_setup(hass)
    hass.config_entries = config_entries.ConfigEntries(hass, {})
    await bootstrap.async_load_base_functionality(hass)
    written = await config.async_hass_config_yaml(hass)
    await config.async_process_ha_core_config(hass, written.get("homeassistant") or {})
    for entity, state in states.items():
        hass.states.async_set(entity, state)
    for name in INTEGRATIONS:
        if not await async_setup_component(hass, name, written):
            sys.exit(f"{name} was not set up")
    await hass.async_start()
    await hass.async_block_till_done()
    return hass


async def play(hass, step):
    """Return what came of one step."""
    if "script" in step:
        returned = await hass.services.async_call(
            "script", step["script"], step["data"], blocking=True, return_response=True
        )
        return {"returned": returned}
    for entity, state in step.get("set", {}).items():
        hass.states.async_set(entity, state)
    deadline = hass.loop.time() + PATIENCE_SECONDS
    for entity, state in step.get("until", {}).items():
        # Real time has to pass: the sensors are polled.
        while not hass.states.is_state(entity, state) and hass.loop.time() < deadline:
            await asyncio.sleep(0.1)
    return {
        "states": {
            state.entity_id: {"state": state.state, "attributes": dict(state.attributes)}
            for state in hass.states.async_all("sensor")
        }
    }


async def main(folder):
    """Print the version and what came of every step."""
    scene = json.load(sys.stdin)
    hass = await started(folder, scene[0].get("set", {}))
    played = [await play(hass, step) for step in scene]
    await hass.async_stop(force=True)
    json.dump({"version": __version__, "played": played}, sys.stdout, default=str)


if __name__ == "__main__":
    asyncio.run(main(sys.argv[1]))
