"""The kind of a parameter, as click 8.1 and later have it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from click import ParamType as ParamType
else:

    class ParamType(click.ParamType):
        """A click.ParamType that says of what: click's own has taken that since 8.4."""

        def __class_getitem__(cls, of: object) -> type[ParamType]:
            """Give the kind itself: what it is of is for the type checker."""
            return cls
