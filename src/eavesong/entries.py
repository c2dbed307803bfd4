"""What every table of a TOML file is, whichever file it stands in."""

from __future__ import annotations

from pydantic import BaseModel, ConfigDict


class Entry(BaseModel):
    """A table of a file: nothing unknown, nothing changed later, no text where a number belongs."""

    model_config = ConfigDict(frozen=True, extra="forbid", strict=True, use_attribute_docstrings=True)
