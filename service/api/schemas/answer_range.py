"""Between which bounds an answer lies."""

from pydantic import Field

from service.api.schemas.fields import Answer, Number3, Number4


class AnswerRange(Answer):
    """The least and the most of an answer, where the water or a label leaves it open."""

    product_mass_low_g: Number4 | None = Field(
        default=None, description="Least of the one product; null for a liquid or several."
    )
    product_mass_high_g: Number4 | None = Field(default=None, description="Most of it.")
    product_volume_low_ml: Number4 | None = Field(
        default=None, description="Least of the one product; null for a solid or several."
    )
    product_volume_high_ml: Number4 | None = Field(default=None, description="Most of it.")
    acid_volume_low_ml: Number4 | None = Field(
        default=None, description="Least acid from the bottle; null without acid."
    )
    acid_volume_high_ml: Number4 | None = Field(default=None, description="Most acid.")
    acid_mass_low_g: Number4 | None = Field(default=None, description="Least acid, in grams.")
    acid_mass_high_g: Number4 | None = Field(default=None, description="Most acid, in grams.")
    predicted_ec_low_ms_per_cm: Number3 | None = Field(
        default=None, description="Lowest conductivity of the can at 25 °C."
    )
    predicted_ec_high_ms_per_cm: Number3 | None = Field(
        default=None, description="Highest conductivity."
    )
    predicted_ph_low: Number3 | None = Field(default=None, description="Lowest pH as mixed.")
    predicted_ph_high: Number3 | None = Field(default=None, description="Highest pH as mixed.")
    reasons: list[str] = Field(description="Why it is a range, for people.")
