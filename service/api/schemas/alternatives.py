"""Fields that stand in place of each other: said in the schema, and checked."""

from typing import Any

from pydantic import BaseModel

from service.api.schemas.fields import fault


def either(*choices: dict[str, Any]) -> dict[str, Any]:
    """
    Return the JSON schema of "exactly one of these".

    Parameters
    ----------
    choices : dict
        Field name to JSON type of a value that counts as given, or to a whole schema; a type
        `null` means that the field must not be given in this case.
    """
    return {
        "oneOf": [
            {
                "required": [name for name, kind in choice.items() if kind != "null"],
                "properties": {
                    name: kind if isinstance(kind, dict) else {"type": kind}
                    for name, kind in choice.items()
                },
            }
            for choice in choices
        ]
    }


def check_one_given(model: BaseModel, *names: str) -> None:
    """Refuse a request that gives none, or more than one, of these fields."""
    given = [name for name in names if getattr(model, name) is not None]
    if len(given) == 1:
        return
    listed = " or ".join(f"`{name}`" for name in names)
    if not given:
        detail = f"Give {listed}."
        raise fault("missing", detail, field=names[0], received=None, allowed=list(names))
    both = " and ".join(f"`{name}`" for name in given)
    detail = f"{both} cannot stand together; give {listed}."
    raise fault("contradiction", detail, field=given[-1], received=both, allowed=list(names))


def check_not_both(model: BaseModel, name: str, other: str, why: str) -> None:
    """Refuse a request that gives a field beside another one that excludes it."""
    if getattr(model, name) is not None and getattr(model, other) is not None:
        detail = f"`{name}` cannot stand beside `{other}`: {why}"
        raise fault(
            "contradiction", detail, field=name, received=name, allowed=f"without `{other}`"
        )
