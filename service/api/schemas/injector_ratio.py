"""The ratio of an injector: a number, or a text such as `1:100`."""

import re
from dataclasses import dataclass
from typing import Any, Final

from pydantic import GetJsonSchemaHandler
from pydantic_core import core_schema

from service.api.received import repeatable
from service.api.schemas.fields import Quantity, fault
from service.units.convert import MAXIMUM_TEXT_LENGTH

_NUMBER: Final = r"[0-9]{1,6}(?:\.[0-9]{1,6})?"
RATIO_PATTERN: Final = rf"^ *({_NUMBER})(?: *: *| +(?:to|in) +)({_NUMBER}) *$"
_RATIO: Final = re.compile(RATIO_PATTERN)


@dataclass(frozen=True)
class InjectorRatio(Quantity):
    """Bounds of the second number of a ratio, the first being one."""

    def parse(self, name: str, received: object) -> float:
        """Return the second number of a ratio for one part of concentrate."""
        written = _RATIO.match(received) if isinstance(received, str) else None
        if written is None:
            return super().parse(name, received)
        parts, whole = float(written[1]), float(written[2])
        if parts <= 0.0:
            detail = f"`{name}` needs a part of concentrate, as in `1:100`."
            raise fault("out_of_range", detail, received=repeatable(received), allowed="1:100")
        return self.within(whole / parts, str(received), name)

    def _json_schema(
        self, name: str, schema: core_schema.CoreSchema, handler: GetJsonSchemaHandler
    ) -> dict[str, Any]:
        published = super()._json_schema(name, schema, handler)
        if "pattern" in published:
            ratio, number = RATIO_PATTERN, published["pattern"]
            published["pattern"] = f"(?:{ratio})|(?:{number})"
            published["maxLength"] = MAXIMUM_TEXT_LENGTH
        return published
