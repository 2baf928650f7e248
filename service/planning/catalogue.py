"""Everything that a request can name: products, plant profiles and waters, ready for kernels."""

import functools
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from service.planning import rows
from service.planning.products import ProductRow, product_row
from service.planning.profiles import profile_row
from service.reference.catalogue import products
from service.reference.house_catalogue import house_products
from service.reference.plants import default_plant, plant_profile, plants, weakest_plant
from service.reference.waters import waters

FloatArray = NDArray[np.float64]


@dataclass(frozen=True)
class Catalogue:
    """
    Tables for kernels and the names that lead into them.

    Attributes
    ----------
    product_rows : tuple of ProductRow
        Products in the order of `product_table`.
    product_table : ndarray, shape (n_products, n_columns)
        Columns of `service.planning.products`.
    product_positions : mapping of str to int
        Position of a product by its key.
    profile_table : ndarray, shape (n_profiles, n_profile_columns)
        Columns of `service.planning.profiles`.
    profile_positions : mapping of str to int
        Position of a profile by its key.
    profile_names : tuple of str
        Key or name of each profile, in the order of the table.
    water_rows : mapping of str to ndarray
        Presets as columns of `rows.WATER_FIELDS`.
    default_profile, weakest_profile : int
        Profile of a caller who names no plant, and of a plant that is not known.
    """

    product_rows: tuple[ProductRow, ...]
    product_table: FloatArray
    product_positions: Mapping[str, int]
    profile_table: FloatArray
    profile_positions: Mapping[str, int]
    profile_names: tuple[str, ...]
    water_rows: Mapping[str, FloatArray]
    default_profile: int
    weakest_profile: int

    def product_position(self, key: str) -> int:
        """
        Return the position of a product.

        Parameters
        ----------
        key : str
            Key of the product.

        Returns
        -------
        int
            Row of `product_table`.

        Raises
        ------
        KeyError
            If no catalogue knows it.
        """
        return self.product_positions[key]

    def profile_position(self, name: str) -> int | None:
        """
        Return the position of a plant profile.

        Parameters
        ----------
        name : str
            Key of a profile, or a genus it stands for.

        Returns
        -------
        int or None
            Row of `profile_table`, None for a plant that is not known.
        """
        position = self.profile_positions.get(name)
        if position is not None:
            return position
        choice = plant_profile(name)
        return self.profile_positions[choice.profile.key] if choice.known else None

    def with_products(self, added: Sequence[ProductRow]) -> "Catalogue":
        """
        Return a catalogue that also knows products of one request.

        Parameters
        ----------
        added : sequence of ProductRow
            Products by label; their keys must be new.

        Returns
        -------
        Catalogue
            A new catalogue; this one is unchanged.
        """
        if not added:
            return self
        start = len(self.product_rows)
        positions = {row.key: start + place for place, row in enumerate(added)}
        return replace(
            self,
            product_rows=(*self.product_rows, *added),
            product_table=_frozen([*self.product_table, *(row.values for row in added)]),
            product_positions={**self.product_positions, **positions},
        )

    def with_profiles(self, added: Mapping[str, FloatArray]) -> "Catalogue":
        """
        Return a catalogue that also knows profiles of one request.

        Parameters
        ----------
        added : mapping of str to ndarray
            Rows of `service.planning.profiles` by name; the names must be new.

        Returns
        -------
        Catalogue
            A new catalogue; this one is unchanged.
        """
        if not added:
            return self
        start = len(self.profile_names)
        positions = {name: start + place for place, name in enumerate(added)}
        return replace(
            self,
            profile_table=_frozen([*self.profile_table, *added.values()]),
            profile_positions={**self.profile_positions, **positions},
            profile_names=(*self.profile_names, *added),
        )


def _frozen(table: Sequence[FloatArray]) -> FloatArray:
    result = np.ascontiguousarray(np.vstack(table))
    result.setflags(write=False)
    return result


@functools.cache
def catalogue(house_file: Path | None = None) -> Catalogue:
    """
    Return the packaged catalogue, with the products of the house when there are any.

    Parameters
    ----------
    house_file : Path or None
        TOML file of `service.reference.house_catalogue`.

    Returns
    -------
    Catalogue
        Built once per file and process.

    Raises
    ------
    service.reference.tables.ReferenceDataError
        If the house catalogue is wrong.
    """
    known = [product for product in products().values() if product.kind not in ("acid", "base")]
    house = [] if house_file is None else list(house_products(house_file).values())
    product_rows = (
        *(product_row(product) for product in known),
        *(product_row(product, own=True) for product in house),
    )
    profile_keys = tuple(plants())
    water_rows = {}
    for key, water in waters().items():
        analysis = water.analysis()
        columns = np.array([analysis.get(name, np.nan) for name in rows.WATER_FIELDS])
        columns.setflags(write=False)
        water_rows[key] = columns
    return Catalogue(
        product_rows=product_rows,
        product_table=_frozen([row.values for row in product_rows]),
        product_positions={row.key: place for place, row in enumerate(product_rows)},
        profile_table=_frozen([profile_row(plants()[key]) for key in profile_keys]),
        profile_positions={key: place for place, key in enumerate(profile_keys)},
        profile_names=profile_keys,
        water_rows=water_rows,
        default_profile=profile_keys.index(default_plant().key),
        weakest_profile=profile_keys.index(weakest_plant().key),
    )
