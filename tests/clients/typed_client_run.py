"""
Mix for one bench with the generated client, typed from end to end, and print what came back.

Runs under the Python of the generator, in the folder that holds `velamen_client`::

    python typed_client_run.py ADDRESS
"""

import json
import sys

from velamen_client import Client
from velamen_client.api.mixing import get_doses, post_doses
from velamen_client.models import (
    Acid,
    AcidKind,
    Air,
    DoseAnswer,
    DoseAnswerStatus,
    GetDosesWater,
    Instruments,
    Plants,
    PlantsSizeType1,
    Problem,
    TodaysDoseRequest,
)


def main(address):
    with Client(base_url=address, timeout=10) as client:
        asked = TodaysDoseRequest(
            product="feed_13_3_15_ca_mg",
            water="soft_tap",
            volume_l=12,
            plants=Plants(profile="moth_orchid", size=PlantsSizeType1.LARGE, count=18),
            air=Air(humidity_percent=62, temperature_celsius=22),
            target_ph=6,
            acid=Acid(kind=AcidKind.NITRIC, percent=38),
            instruments=Instruments(balance_resolution_g=0.1, syringe_resolution_ml=0.1),
        )
        posted = post_doses.sync(client=client, body=asked)
        assert isinstance(posted, DoseAnswer), posted
        assert posted.status is DoseAnswerStatus.OK
        got = get_doses.sync(
            client=client, product="feed_13_3_15_ca_mg", water=GetDosesWater.RAIN, volume_l=5
        )
        assert isinstance(got, DoseAnswer), got
        refused = post_doses.sync(client=client, body=TodaysDoseRequest(volume_l=-1))
        assert isinstance(refused, Problem), refused
    json.dump(
        {
            "asked": asked.to_dict(),
            "posted": posted.to_dict(),
            "first_step": posted.steps[0].instruction,
            "got": got.to_dict(),
            "refused": refused.to_dict(),
        },
        sys.stdout,
    )


if __name__ == "__main__":
    main(*sys.argv[1:])
