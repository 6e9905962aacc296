"""Where results go, as named on the command line."""

from __future__ import annotations

from pathlib import Path

import click


def folder(_: click.Context, option: click.Parameter, value: str | None) -> Path | None:
    """Return the folder named; an empty name is refused, since it would mean the current folder."""
    if value is not None and not value.strip():
        raise click.BadParameter("name a folder for the results", param=option)
    return None if value is None else Path(value)


def png(_: click.Context, option: click.Parameter, value: str | None) -> Path | None:
    """Return the picture's file named; any ending but .png is refused, since a PNG is what will be in it."""
    if value is not None and Path(value).suffix.lower() != ".png":
        raise click.BadParameter(f'"{value}": name a file that ends in .png', param=option)
    return None if value is None else Path(value)
