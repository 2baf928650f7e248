"""
Names of a request: what its products and profiles are, the catalogue's or the caller's own.

A product by label and a profile of one's own get a row of the kernels' tables for the duration of
one request; the same label in many rows of a batch gets one.
"""

from typing import Any

import numpy as np
from numpy.typing import NDArray

from service.api.schemas.plants import PlantProfile
from service.api.schemas.product import LabelledProduct
from service.api.suggestions import nearest
from service.api.validation import FieldError
from service.planning.catalogue import Catalogue
from service.planning.products import ProductRow, labelled_row
from service.planning.profiles import own_profile_row
from service.reference.labels import LabelError
from service.reference.loader import products


class NamingError(LookupError):
    """A product or a label that cannot be used; carries the fault for a problem document."""

    def __init__(self, fault: FieldError, product: object = None) -> None:
        super().__init__(fault.detail)
        self.fault = fault
        self.product = product

    def placed(self, request: object) -> FieldError:
        """Return the fault with its pointer into this request, which may list its products."""
        for name in ("products", "additions"):
            for position, each in enumerate(getattr(request, name, None) or ()):
                if each.product is self.product and self.fault.pointer is not None:
                    inside = self.fault.pointer.removeprefix("#/product")
                    place = f"#/{name}/{position}/product{inside}"
                    return self.fault.model_copy(update={"pointer": place})
        return self.fault


class OpenCatalogue:
    """
    A catalogue that takes in what a request brings along.

    Parameters
    ----------
    base : Catalogue
        The catalogue of the installation.
    """

    def __init__(self, base: Catalogue) -> None:
        self.base = base
        self.default_profile = base.default_profile
        self.weakest_profile = base.weakest_profile
        self.water_rows = base.water_rows
        self._products: list[ProductRow] = []
        self._product_positions: dict[str, int] = {}
        self._profiles: dict[str, NDArray[np.float64]] = {}

    def product_position(self, product: str | LabelledProduct) -> int:
        """
        Return the row of a product in the tables.

        Raises
        ------
        NamingError
            If no catalogue knows the key, or the label contradicts itself.
        """
        if isinstance(product, str):
            position = self.base.product_positions.get(product)
            if position is None:
                raise NamingError(_unknown_product(product, self.base), product)
            return position
        signature = product.model_dump_json()
        known = self._product_positions.get(signature)
        if known is None:
            known = len(self.base.product_rows) + len(self._products)
            self._products.append(self._labelled(product))
            self._product_positions[signature] = known
        return known

    def _labelled(self, product: LabelledProduct) -> ProductRow:
        label = product.label.model_dump(exclude_none=True)
        try:
            row = labelled_row(product.name, product.form, product.density_kg_per_l, label)
        except LabelError as error:
            in_label = error.field not in ("density_kg_per_l", "form")
            place = f"/label/{error.field}" if in_label else f"/{error.field}"
            place = "/label" if error.field == "label" else place
            fault = FieldError(
                pointer=f"#/product{place}",
                code=error.code,
                detail=f"{product.name}: `{error.field}` {error.detail}"[:1_000],
            )
            raise NamingError(fault, product) from None
        taken = {*self.base.product_positions, *(each.key for each in self._products)}
        return row if row.key not in taken else row.renamed(f"{row.key} (label)", len(taken))

    def profile_position(self, profile: str | PlantProfile) -> int | None:
        """Return the row of a plant profile; None for a plant that is not known."""
        if isinstance(profile, str):
            return self.base.profile_position(profile)
        based_on = profile.based_on
        base = self.base.default_profile
        if based_on is not None:
            found = self.base.profile_position(based_on)
            if found is None:
                raise NamingError(
                    FieldError.unknown_word(
                        "unknown_key",
                        "plant profile",
                        based_on,
                        list(self.base.profile_positions),
                        pointer="#/plants/profile/based_on",
                    )
                )
            base = found
        ceilings: dict[str, Any] = profile.model_dump(
            exclude_none=True, exclude={"name", "based_on", "micronutrient_ceilings_mg_per_l"}
        )
        for element, maximum in (profile.micronutrient_ceilings_mg_per_l or {}).items():
            ceilings[element] = maximum
        name = f"{profile.name or 'own profile'} ({len(self._profiles) + 1})"
        self._profiles[name] = own_profile_row(self.base.profile_table[base], ceilings)
        return len(self.base.profile_names) + len(self._profiles) - 1

    @property
    def size(self) -> tuple[int, int]:
        """How many products and profiles are known, those that were taken in included."""
        return (
            len(self.base.product_rows) + len(self._products),
            len(self.base.profile_names) + len(self._profiles),
        )

    def closed(self) -> Catalogue:
        """Return the catalogue with everything that was taken in."""
        return self.base.with_products(self._products).with_profiles(self._profiles)


def _unknown_product(key: str, catalogue: Catalogue) -> FieldError:
    """Return the fault of a key that no catalogue knows; a cell of a table may be of any length."""
    key = key[:100]
    listed = products().get(key)
    if listed is not None and listed.kind in ("acid", "base"):
        detail = f"`{key}` sets a pH and is no feed: name it in `acid`, with a `target_ph`."
        return FieldError(pointer="#/product", code="unknown_key", detail=detail, received=key)
    known = list(catalogue.product_positions)
    meant = nearest(key, known)
    hint = f" Did you mean `{meant}`?" if meant else " See /v1/products, or send its label."
    return FieldError(
        pointer="#/product",
        code="unknown_key",
        detail=f"There is no product `{key}`.{hint}",
        received=key,
        allowed=[meant] if meant else None,
    )
