"""Pages from templates, with everything that a file brought escaped."""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import jinja2

__all__ = ["page"]


def page(template: str, /, **values: Any) -> str:
    """Return a page made from a template.

    Parameters
    ----------
    template : str
        File in the folder of templates.
    **values : object
        What the template asks for; text is escaped.

    Returns
    -------
    str
        HTML.
    """
    return _environment().get_template(template).render(values)


@cache
def _environment() -> jinja2.Environment:
    import jinja2  # noqa: PLC0415 - for pages only

    return jinja2.Environment(
        loader=jinja2.FileSystemLoader(Path(__file__).parent / "templates"),
        autoescape=True,
        undefined=jinja2.StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
