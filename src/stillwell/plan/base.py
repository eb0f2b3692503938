"""What all tables of a plan share: names, titles, numbers, and that nothing unknown is let in."""

from typing import Annotated

from pydantic import BaseModel, ConfigDict, Field, Strict, StringConstraints

Name = Annotated[str, StringConstraints(pattern=r"^[a-z][a-z0-9_]*$", max_length=60)]
"""How a thing is called in rules: small letters, digits and underscores."""

Title = Annotated[str, StringConstraints(pattern=r"^\S(.*\S)?$", max_length=120)]
"""One line for people to read, no space at either end."""

Whole = Annotated[int, Strict()]
Number = Annotated[float, Strict()]
Metres = Annotated[float, Strict(), Field(ge=-1000, le=1000)]
Yes = Annotated[bool, Strict()]

Point = Annotated[tuple[Metres, ...], Field(min_length=2, max_length=3)]
"""Metres: east, north and, where it matters, height above the floor."""


class Model(BaseModel):
    """Unknown keys are refused; nothing changes after reading."""

    model_config = ConfigDict(
        frozen=True,
        extra="forbid",
        arbitrary_types_allowed=True,
        allow_inf_nan=False,
    )
