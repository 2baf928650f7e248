"""What a request for a programme says, in the terms of planning: shelf, site, group, dates."""

from collections.abc import Sequence
from datetime import timedelta
from typing import Any, Final

from service.api.naming import NamingError, OpenCatalogue
from service.api.problems import invalid_request
from service.api.schemas.programmes import ProgrammeRequest, ShelfProduct
from service.api.schemas.site import SeasonalClimate
from service.api.schemas.site import Site as SiteAsked
from service.api.validation import FieldError
from service.planning.cautions import Notice
from service.planning.feeding_calendar import Group, Period
from service.planning.programme import ROLES
from service.planning.programme_cans import Bench, role_of
from service.planning.seasons import (
    CLIMATES,
    DEFAULT_CLIMATE,
    EQUATOR_CLIMATE,
    MOTH_ORCHID,
    SEASONS,
    Phase,
    Site,
    SiteAir,
)

DEFAULT_INTERVAL_DAYS: Final = 7
WEEKDAYS: Final = (
    "monday",
    "tuesday",
    "wednesday",
    "thursday",
    "friday",
    "saturday",
    "sunday",
)
MEDIUM_OF_SETUP: Final = {
    "wet_dry_pot": "bark",
    "semi_hydroponic_pot": "clay_pebbles",
    "mount": "none",
}


def shelf_of(
    asked: ProgrammeRequest, names: OpenCatalogue
) -> tuple[list[Any], tuple[str, ...], list[Notice]]:
    """Return products and roles of the shelf, and the roles that their contents gave them."""
    products: list[Any] = []
    roles: list[str] = []
    notes: list[Notice] = []
    for place, item in enumerate(asked.shelf):
        stated = item.role if isinstance(item, ShelfProduct) else None
        product = item.product if isinstance(item, ShelfProduct) else item
        try:
            position = names.product_position(product)
        except NamingError as error:
            raise invalid_request(_on_shelf(error.fault, item, place)) from None
        row = names.closed().product_rows[position]
        role = stated or role_of(row)
        if role is None:
            detail = (
                f"`{row.key}` is neither a feed nor a calcium or magnesium supplement by what it"
                f" holds: send it as an object with its `role` ({', '.join(ROLES)})."
            )
            fault = FieldError(
                pointer=f"#/shelf/{place}",
                code="role_unclear",
                detail=detail,
                received=row.key[:100],
                allowed=list(ROLES),
            )
            raise invalid_request(fault)
        if stated is None:
            text = f"{row.name} counts as {role}, by what it holds."
            notes.append(Notice("role_from_contents", "info", f"shelf.{place}", text))
        products.append(product)
        roles.append(role)
    return products, tuple(roles), notes


def _on_shelf(fault: FieldError, item: object, place: int) -> FieldError:
    """Return the fault of a product with its place on the shelf."""
    inside = f"#/shelf/{place}/product" if isinstance(item, ShelfProduct) else f"#/shelf/{place}"
    pointer = (fault.pointer or "").replace("#/product", inside, 1)
    return fault.model_copy(update={"pointer": pointer})


def profile_key(asked: ProgrammeRequest, names: OpenCatalogue) -> str:
    """Return the key of the plants' profile, or of the one that their own is based on."""
    profile = None if asked.plants is None else asked.plants.profile
    if profile is not None and not isinstance(profile, str):
        profile = profile.based_on
    if profile is None:
        return MOTH_ORCHID
    position = names.base.profile_position(profile)
    return names.base.profile_names[names.weakest_profile if position is None else position]


def _usual_air(asked: ProgrammeRequest) -> SiteAir:
    """Return the air that the caller sent, averages first."""
    air = asked.air
    if air is None:
        return SiteAir()
    temperature, humidity = air.average_temperature_celsius, air.average_humidity_percent
    return SiteAir(
        air.temperature_celsius if temperature is None else temperature,
        None,
        air.humidity_percent if humidity is None else humidity,
    )


def site_of(asked: ProgrammeRequest, profile: str) -> tuple[Site, str | None]:
    """Return the site, and the word of its climate where none was given."""
    given: SiteAsked = asked.site
    phases = tuple(
        Phase(each.growth, each.first_date, each.last_date) for each in given.phases or ()
    )
    usual = _usual_air(asked)
    light = None
    if given.artificial is not None:
        room = given.artificial
        usual = SiteAir(
            room.temperature_celsius, room.night_temperature_celsius, room.humidity_percent
        )
        light = room.light_hours
    climate, assumed = None, None
    if isinstance(given.climate, SeasonalClimate):
        seasons = {name: getattr(given.climate, name) for name in SEASONS}
        climate = {
            name: SiteAir(
                each.day_temperature_celsius, each.night_temperature_celsius, each.humidity_percent
            )
            for name, each in seasons.items()
        }
    elif given.climate is not None:
        climate = dict(CLIMATES[given.climate])
    elif given.hemisphere is not None:
        assumed = EQUATOR_CLIMATE if given.hemisphere == "equator" else DEFAULT_CLIMATE
        climate = {name: usual.over(each) for name, each in CLIMATES[assumed].items()}
    site = Site(
        profile=profile,
        hemisphere=given.hemisphere,
        climate=climate,
        phases=phases,
        usual_air=usual,
        growth=None if asked.plants is None else asked.plants.growth,
        light_hours=light,
    )
    return site, assumed


def group_of(asked: ProgrammeRequest, roles: tuple[str, ...]) -> Group:
    """Return what the plants stand in; what is absent is taken as a dose takes it."""
    plants = asked.plants
    setup = (plants.setup if plants is not None else None) or "wet_dry_pot"
    medium = (plants.medium if plants is not None else None) or MEDIUM_OF_SETUP[setup]
    over_reservoir = setup == "semi_hydroponic_pot"
    refill = plants.refill if plants is not None and over_reservoir else None
    return Group(setup=setup, refill=refill, medium=medium, shelf=roles)


def period_of(asked: ProgrammeRequest) -> Period:
    """Return dates and rhythm; days since repotting and flushing become dates."""
    last: dict[str, Any] = {}
    if asked.last_applied is not None:
        last = {
            name: when
            for name in (*ROLES, "flush")
            if (when := getattr(asked.last_applied, name)) is not None
        }
    flushed = None if asked.plants is None else asked.plants.days_since_flush
    if flushed is not None and "flush" not in last:
        last["flush"] = asked.first_date - timedelta(days=int(flushed))
    repotted = asked.repotted_on
    if asked.days_since_repot is not None:
        repotted = asked.first_date - timedelta(days=asked.days_since_repot)
    return Period(
        first_date=asked.first_date,
        last_date=asked.last_date,
        interval_days=asked.interval_days or DEFAULT_INTERVAL_DAYS,
        weekdays=frozenset(WEEKDAYS.index(day) for day in asked.weekdays or ()),
        last_applied=last,
        repotted_on=repotted,
    )


def bench_of(asked: ProgrammeRequest, products: Sequence[Any]) -> Bench:
    """Return what all cans have in common."""
    return Bench(
        plants=asked.plants,
        water=asked.water,
        instruments=asked.instruments,
        volume_l=asked.volume_l,
        volume_per_plant_ml=asked.volume_per_plant_ml,
        products=products,
    )
