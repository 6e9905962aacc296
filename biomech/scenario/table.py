"""What every table of a scenario file has in common."""

from __future__ import annotations

from pydantic import BaseModel, ConfigDict


class Part(BaseModel):
    """A table of the file: frozen, unknown keys refused, values in N, mm, rad and MPa after reading."""

    model_config = ConfigDict(extra="forbid", frozen=True, validate_default=True, populate_by_name=True)
