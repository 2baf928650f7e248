"""A plain FastAPI and pydantic service that only hands rows back: what the others are held to."""

from typing import Literal

from fastapi import FastAPI
from pydantic import BaseModel


class Plants(BaseModel):
    """Plants of a row."""

    profile: str | None = None
    size: Literal["large", "medium", "mini"] | None = None
    setup: str | None = None
    growth: str | None = None
    count: int | None = None


class Air(BaseModel):
    """Air of a row."""

    humidity_percent: float
    temperature_celsius: float | None = None


class Water(BaseModel):
    """Analysis of a row's water."""

    ph: float | None = None
    alkalinity_mg_per_l_caco3: float | None = None
    calcium_mg_per_l: float | None = None
    magnesium_mg_per_l: float | None = None
    sodium_mg_per_l: float | None = None
    chloride_mg_per_l: float | None = None
    sulfate_mg_per_l: float | None = None


class Row(BaseModel):
    """One dose."""

    id: str
    plants: Plants
    air: Air
    product: str
    water: Water | str
    volume_l: float


class Batch(BaseModel):
    """Many doses."""

    rows: list[Row]


app = FastAPI()


@app.post("/batch")
async def echo_batch(batch: Batch) -> Batch:
    """Hand a batch back."""
    return batch


@app.post("/row")
async def echo_row(row: Row) -> Row:
    """Hand a row back."""
    return row
