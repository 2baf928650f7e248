"""
Products that the people who run the service add themselves, in a TOML file.

::

    [products.shelf_feed]                # key: lower case letters, digits and underscores
    name = "Feed on the top shelf"       # required
    kind = "feed"                        # chelate, feed, supplement or stimulant
    form = "solid"                       # solid or liquid
    density_kg_per_l = 1.15              # liquids; required when the label is by mass
    oxidiser = false                     # optional
    closure = "sulfate"                  # optional: sulfate, chloride, sodium, unmeasured, none
    note = "bought in spring"            # optional

    [products.shelf_feed.label]
    basis = "mass"                       # mass (w/w) or volume (w/v)
    nitrate_n_percent = 12.0             # <form>_n_percent, <element>_percent or <oxide>_percent
    p2o5_percent = 5
    ec_ms_per_cm_at_100_mg_per_l_n = 0.7 # optional, as printed on the label
"""

import re
import tomllib
from collections.abc import Mapping
from pathlib import Path
from types import MappingProxyType
from typing import Any, Final

from service.reference.catalogue import CLOSURES, Product, products
from service.reference.labels import LABEL_EC, LabelError, check_label, nearest
from service.reference.tables import ReferenceDataError

HOUSE_SOURCE: Final = "house-catalogue"
HOUSE_KINDS: Final = ("chelate", "feed", "supplement", "stimulant")
MAXIMUM_FILE_BYTES: Final = 1_000_000
_KEY: Final = re.compile(r"[a-z][a-z0-9_]{0,63}")
_FIELDS: Final = (
    "name",
    "kind",
    "form",
    "density_kg_per_l",
    "oxidiser",
    "closure",
    "note",
    "label",
)


def house_products(path: Path) -> Mapping[str, Product]:
    """
    Return the products of a house catalogue.

    Parameters
    ----------
    path : Path
        The TOML file.

    Returns
    -------
    mapping of str to Product
        By key, in the order of the file; compositions are left to `service.chemistry.product`.

    Raises
    ------
    ReferenceDataError
        If the file cannot be read or an entry is wrong; the field is a dotted path such as
        ``products.shelf_feed.label.p2o5_percent``.
    """
    document = _document(path)
    for field in document:
        if field != "products":
            raise ReferenceDataError(field, f"is not known here{nearest(field, ['products'])}")
    entries = document.get("products", {})
    if not isinstance(entries, dict):
        raise ReferenceDataError("products", "must be a table of products")
    return MappingProxyType({key: _house_product(key, entry) for key, entry in entries.items()})


def _document(path: Path) -> dict[str, Any]:
    try:
        if path.stat().st_size > MAXIMUM_FILE_BYTES:
            raise ReferenceDataError(path.name, f"is larger than {MAXIMUM_FILE_BYTES} bytes")
        return tomllib.loads(path.read_text(encoding="utf-8"))
    except OSError as error:
        raise ReferenceDataError(path.name, f"cannot be read: {error.strerror}") from error
    except UnicodeDecodeError as error:
        raise ReferenceDataError(path.name, "must be UTF-8 text") from error
    except tomllib.TOMLDecodeError as error:
        raise ReferenceDataError(path.name, f"is not valid TOML: {error}") from error


def _house_product(key: str, entry: object) -> Product:
    where = f"products.{key}"
    if not _KEY.fullmatch(key):
        raise ReferenceDataError(
            where, "a key is a lower case letter, then letters, digits and underscores, 64 at most"
        )
    if key in products():
        raise ReferenceDataError(where, "is already in the packaged catalogue; choose another key")
    if not isinstance(entry, dict):
        raise ReferenceDataError(where, "must be a table")
    for field in entry:
        if field not in _FIELDS:
            raise ReferenceDataError(
                f"{where}.{field}", f"is not a field of a product{nearest(field, list(_FIELDS))}"
            )
    label = entry.get("label")
    if not isinstance(label, dict):
        raise ReferenceDataError(f"{where}.label", "is required, as a table")
    form = _choice(entry, where, "form", ("solid", "liquid"))
    density = entry.get("density_kg_per_l")
    try:
        check_label(label, form, density)
    except LabelError as error:
        inside = "" if error.field in _FIELDS else "label."
        raise ReferenceDataError(f"{where}.{inside}{error.field}", error.detail) from error
    label_ec = label.get(LABEL_EC)
    return Product(
        key=key,
        name=_text(entry, where, "name", required=True),
        kind=_choice(entry, where, "kind", HOUSE_KINDS),
        formula=None,
        molar_mass_g_per_mol=None,
        form=form,
        density_kg_per_l=None if density is None else float(density),
        composition_mmol_per_g=None,
        composition_mmol_per_ml=None,
        label=MappingProxyType({"basis": "mass", **label}),
        label_ec_ms_per_cm_at_100_mg_per_l_n=None if label_ec is None else float(label_ec),
        oxidiser=_flag(entry, where, "oxidiser"),
        closure_rule=_choice(entry, where, "closure", CLOSURES) if "closure" in entry else None,
        closure=None,
        sources=(HOUSE_SOURCE,),
        basis="informal",
        note=_text(entry, where, "note", required=False),
    )


def _choice(entry: Mapping[str, Any], where: str, field: str, allowed: tuple[str, ...]) -> str:
    value = entry.get(field)
    if value not in allowed:
        got = "is missing" if value is None else f"got {value!r}"
        raise ReferenceDataError(f"{where}.{field}", f"must be one of {', '.join(allowed)}; {got}")
    return str(value)


def _text(entry: Mapping[str, Any], where: str, field: str, *, required: bool) -> str:
    value = entry.get(field, "")
    if not isinstance(value, str) or len(value) > 200 or (required and not value.strip()):
        raise ReferenceDataError(f"{where}.{field}", "must be a text of 1 to 200 characters")
    return value


def _flag(entry: Mapping[str, Any], where: str, field: str) -> bool:
    value = entry.get(field, False)
    if not isinstance(value, bool):
        raise ReferenceDataError(f"{where}.{field}", f"must be true or false, got {value!r}")
    return value
