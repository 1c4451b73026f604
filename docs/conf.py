"""How the documentation is built."""

from __future__ import annotations

import re
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

from docutils.utils.math import MathError
from docutils.utils.math.latex2mathml import tex2mathml
from sphinx.util import logging

sys.path.insert(0, str(Path(__file__).resolve().parent))

import page_parts

import linkcalc
from linkcalc.model.value_classes import ValueClass
from linkcalc.report import write_html

if TYPE_CHECKING:
    from docutils.nodes import math, math_block
    from sphinx.application import Sphinx
    from sphinx.writers.html5 import HTML5Translator

project = "linkcalc"
author = "The linkcalc contributors"
project_copyright = "the linkcalc contributors"
version = release = linkcalc.__version__

extensions = [
    "myst_parser",
    "numpydoc",
    "sphinx.ext.autodoc",
    "sphinx.ext.autosummary",  # for its role, which links what is documented and no more
]
exclude_patterns = ["_build", "changes"]
nitpicky = True
default_role = "autolink"
nitpick_ignore_regex = [("py:obj", ".*")]  # in a docstring `this` may be an argument
suppress_warnings = ["ref.citation"]  # a source belongs to the whole formula above it
autodoc_typehints = "none"  # numpydoc's sections say it in words
autodoc_member_order = "bysource"
autosummary_generate = False
numpydoc_show_class_members = False
myst_enable_extensions = ["dollarmath", "colon_fence"]
myst_heading_anchors = 3

html_theme = "alabaster"
html_theme_options = {
    "description": "Servo and linkage sizing for builders of models and light unmanned aircraft.",
    "page_width": "68rem",
    "show_powered_by": False,
}
html_static_path = ["_static"]
html_css_files = ["narrow.css"]  # a telephone at the field is 360 dots wide
html_math_renderer = "mathml"  # browsers draw it by themselves, without a script from elsewhere
html_copy_source = False
html_show_sphinx = False

_SHORT_FRACTION = re.compile(
    r"(\\[dt]?frac)(\d)(\d)"
)  # docutils takes the 12 of \frac12 for one number
_log = logging.getLogger(__name__)


def _mathml(source: str, node: math | math_block, *, block: bool) -> str:
    source = _SHORT_FRACTION.sub(r"\1{\2}{\3}", source)
    try:
        return str(tex2mathml(source, as_block=block))
    except (MathError, SyntaxError) as error:
        _log.warning("cannot set this formula: %s", error, location=node)
        return ""


def _inline(translator: HTML5Translator, node: math) -> None:
    translator.body.append(_mathml(node.astext(), node, block=False))
    _skip()


def _displayed(translator: HTML5Translator, node: math_block) -> None:
    formula = _mathml(node.astext(), node, block=True)
    translator.body.append(f'<div class="math">{formula}</div>')
    _skip()


def _skip() -> None:
    from docutils.nodes import SkipNode  # noqa: PLC0415 - raised to say that a node is done

    raise SkipNode


def _fill(_: Sphinx, __: str, source: list[str]) -> None:
    source[0] = page_parts.filled(source[0])


def _write_example(app: Sphinx, error: Exception | None) -> None:
    """Put the page of the example beside the pages."""
    if error is None and app.builder.format == "html":
        example = Path(app.srcdir).parent / "examples/sandpiper.toml"
        write_html(Path(app.outdir) / "sandpiper.html", example, force=True)


def _describe(_: Sphinx, what: str, __: str, described: Any, ___: Any, lines: list[str]) -> None:
    """Give value classes the description of their fields, and modules no headings of their own."""
    if what == "class" and issubclass(described, ValueClass):
        lines += page_parts.attribute_lines(described)
    if what == "module" and "References" in lines:  # headings of the same name would clash
        at = lines.index("References")
        lines[at : at + 2] = [".. rubric:: References", ""]


def setup(app: Sphinx) -> None:
    """Put the parts of pages in, and set formulas as MathML."""
    app.connect("source-read", _fill)
    app.connect("build-finished", _write_example)
    app.connect("autodoc-process-docstring", _describe, priority=400)  # before numpydoc's 500
    app.add_html_math_renderer(
        "mathml", inline_renderers=(_inline, None), block_renderers=(_displayed, None)
    )
