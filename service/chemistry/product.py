"""Every product as a composition vector: pure salts by formula, the others from their labels."""

import dataclasses
import functools
from collections.abc import Mapping
from pathlib import Path
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from service.chemistry.label import LabelComposition, label_composition
from service.reference.catalogue import Product, products
from service.reference.house_catalogue import house_products
from service.reference.labels import LABEL_EC, Label

Vector = NDArray[np.float64]


@functools.lru_cache(maxsize=8)
def product_catalogue(house_catalogue: Path | None = None) -> Mapping[str, Product]:
    """
    Return every product of the catalogue with its composition filled in.

    Parameters
    ----------
    house_catalogue : Path or None
        TOML file of further products; None for the packaged catalogue alone.

    Returns
    -------
    mapping of str to Product
        By key, packaged products first.

    Raises
    ------
    ReferenceDataError
        If the house catalogue is wrong; names the product and the field.

    Notes
    -----
    Read once per path and process.

    References
    ----------
    .. [1] T. Prohaska et al., *Standard atomic weights of the elements 2021*, Pure Appl. Chem. 94
       (2022) 573-600. Source key: ``prohaska-2022``.
    """
    entries = dict(products())
    if house_catalogue is not None:
        entries.update(house_products(house_catalogue))
    return MappingProxyType({key: completed_product(entry) for key, entry in entries.items()})


@functools.lru_cache(maxsize=8)
def product_compositions(house_catalogue: Path | None = None) -> Mapping[str, Vector]:
    """
    Return the composition of every product that can be weighed.

    Parameters
    ----------
    house_catalogue : Path or None
        TOML file of further products; None for the packaged catalogue alone.

    Returns
    -------
    mapping of str to ndarray
        By key, each of shape (n_components,) and read-only; a liquid known by volume without a
        density is left out [mmol/g].

    Raises
    ------
    ReferenceDataError
        If the house catalogue is wrong; names the product and the field.

    References
    ----------
    .. [1] T. Prohaska et al., *Standard atomic weights of the elements 2021*, Pure Appl. Chem. 94
       (2022) 573-600. Source key: ``prohaska-2022``.
    """
    return MappingProxyType(
        {
            key: product.composition_mmol_per_g
            for key, product in product_catalogue(house_catalogue).items()
            if product.composition_mmol_per_g is not None
        }
    )


def product_label_composition(product: Product) -> LabelComposition | None:
    """
    Return what the label of a product implies, with the other readings of its charge.

    Parameters
    ----------
    product : Product
        An entry of the catalogue.

    Returns
    -------
    LabelComposition or None
        None for a pure substance, whose formula leaves nothing open.

    References
    ----------
    .. [1] Fertiliser labelling convention. Source key: ``aapfco-label``.
    """
    if product.label is None:
        return None
    return label_composition(
        product.label, product.form, product.density_kg_per_l, product.closure_rule
    )


def completed_product(product: Product) -> Product:
    """
    Return a product with the composition and the closure that its label implies.

    Parameters
    ----------
    product : Product
        An entry of a catalogue.

    Returns
    -------
    Product
        The same product; a pure substance is returned as it is.

    References
    ----------
    .. [1] Fertiliser labelling convention. Source key: ``aapfco-label``.
    """
    implied = product_label_composition(product)
    if implied is None:
        return product
    return dataclasses.replace(
        product,
        composition_mmol_per_g=implied.composition_mmol_per_g,
        composition_mmol_per_ml=implied.composition_mmol_per_ml,
        closure=implied.closure,
    )


def labelled_product(
    name: str, form: str, label: Label, density: float | None = None, key: str = "label"
) -> Product:
    """
    Return a product known by the label that a caller sent.

    Parameters
    ----------
    name : str
        Name for people.
    form : str
        ``solid`` or ``liquid``.
    label : mapping
        As for `service.chemistry.label.label_composition`.
    density : float or None
        Density of a liquid [kg/L].
    key : str
        Key under which answers name it.

    Returns
    -------
    Product
        A feed with its composition filled in; per gram it is None for a label by volume without
        density.

    Raises
    ------
    LabelError
        If the label contradicts itself; carries a code, the field at fault and what is expected.

    References
    ----------
    .. [1] Fertiliser labelling convention. Source key: ``aapfco-label``.
    """
    implied = label_composition(label, form, density)
    stated_conductivity = label.get(LABEL_EC)
    return Product(
        key=key,
        name=name,
        kind="feed",
        formula=None,
        molar_mass_g_per_mol=None,
        form=form,
        density_kg_per_l=density,
        composition_mmol_per_g=implied.composition_mmol_per_g,
        composition_mmol_per_ml=implied.composition_mmol_per_ml,
        label=MappingProxyType(dict(label)),
        label_ec_ms_per_cm_at_100_mg_per_l_n=(
            None if stated_conductivity is None else float(stated_conductivity)
        ),
        oxidiser=False,
        closure_rule=None,
        closure=implied.closure,
        sources=("aapfco-label",),
        basis="published",
        note="",
    )
