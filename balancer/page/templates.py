"""The templates, in which every name stays text."""

from __future__ import annotations

from typing import Any

from jinja2 import Environment, PackageLoader, StrictUndefined


class Templates:
    """The templates that ship with the package."""

    def __init__(self) -> None:
        self._made = Environment(
            loader=PackageLoader("balancer.page", "html"),
            autoescape=True,
            undefined=StrictUndefined,
            trim_blocks=True,
            lstrip_blocks=True,
        )

    def render(self, name: str, words: dict[str, Any]) -> str:
        """Fill a template."""
        return self._made.get_template(name).render(words)
