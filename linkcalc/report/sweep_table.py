"""A sweep as text in 80 columns, as a file and as a picture."""

from __future__ import annotations

import io
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from linkcalc.errors import InputError, told
from linkcalc.report.layout import cut, heading, printable, signed, wrapped
from linkcalc.report.text import CAUTION
from linkcalc.saving import save_all

if TYPE_CHECKING:
    import xarray

__all__ = ["draw_swept", "swept_text", "write_swept"]

_MOST_ROWS = 60
_VALUE, _WHERE = 12, 34
_DRAWN = (".svg", ".png", ".pdf")


def swept_text(found: xarray.Dataset, *, bold: bool = False) -> str:
    """Return the least margin of every combination as text.

    Parameters
    ----------
    found : xarray.Dataset
        What `linkcalc.sweep` returns.
    bold : bool
        Whether headings are set in bold, for a terminal.

    Returns
    -------
    str
        A row for each, with the run, case and mode that have it; of many the worst and
        the best.
    """
    paths = _paths(found)
    title = str(found.attrs["title"]).removeprefix("sweep of ")
    lines = heading(f"SWEEP: {printable(title)}", bold=bold)
    for number, path in enumerate(paths, start=1):
        units = found[path].attrs.get("units", "")
        lines += wrapped(f"({number}) {printable(path)}" + (f" [{units}]" if units else ""), 0)
    lines.append("")
    margin = found["least margin"]
    worst = margin.min(("case", "run"), skipna=False)
    rows = list(np.ndindex(worst.shape))
    if len(rows) > _MOST_ROWS:
        order = sorted(rows, key=lambda at: float(np.nan_to_num(worst.values[at], nan=-np.inf)))
        half = _MOST_ROWS // 2
        lines += wrapped(f"{len(rows)} combinations: the {half} worst and the {half} best", 0)
        rows = [*order[:half], *order[-half:]]
    head = "".join(f"{f'({k})':>{_VALUE}}" for k in range(1, len(paths) + 1))
    lines.append(f"{head}{'margin':>10}  of")
    lines += [_row(found, paths, at) for at in rows]
    if not found.attrs["complete"]:
        lines += ["", *wrapped("Stopped before the end: what is missing was not computed.", 0)]
    lines += ["", *wrapped(CAUTION, 0)]
    return "\n".join(lines) + "\n"


def _paths(found: xarray.Dataset) -> list[str]:
    return [str(name) for name in found["least margin"].dims if name not in {"case", "run"}]


def _row(found: xarray.Dataset, paths: list[str], at: tuple[int, ...]) -> str:
    values = "".join(
        f"{cut(_told(found[path].values[index]), _VALUE - 2):>{_VALUE}}"
        for path, index in zip(paths, at, strict=True)
    )
    part = found["margin"].isel(dict(zip(paths, at, strict=True)))
    margins, applies = part.values, found["applies"].isel(dict(zip(paths, at, strict=True))).values
    lost = np.isnan(margins) & (applies != 0)
    ranked = np.where(lost, -np.inf, np.where(np.isnan(margins), np.inf, margins))
    mode, case, run = np.unravel_index(int(np.argmin(ranked)), ranked.shape)
    least = margins[mode, case, run]
    told = "none" if np.isnan(least) else signed(float(least))
    names = f"{part['mode'].values[mode]}, {part['run'].values[run]}"
    return f"{values}{told:>10}  {cut(printable(names), _WHERE)}"


def _told(value: Any) -> str:
    return f"{value:.6g}" if isinstance(value, float) else printable(str(value))


def write_swept(
    found: xarray.Dataset, *, out: str | None, picture: str | None, force: bool = False
) -> None:
    """Write a sweep to files, all of them or none.

    Parameters
    ----------
    found : xarray.Dataset
        What `linkcalc.sweep` returns.
    out : str or None
        A name with .nc for NetCDF, or with .csv for a table of the least margins and values.
    picture : str or None
        A name with .svg, .png or .pdf.
    force : bool
        Whether files of these names may be replaced.

    Raises
    ------
    InputError
        A name ends otherwise, or the picture would need more than two fields.
    InputFaults
        A file cannot be written.
    """
    contents: dict[str, bytes] = {}
    if out is not None:
        contents[out] = _stored(found, out)
    if picture is not None:
        contents[picture] = _drawn(found, picture)
    save_all(contents, force=force)


def _stored(found: xarray.Dataset, name: str) -> bytes:
    kind = Path(name).suffix
    if kind == ".nc":
        return bytes(found.to_netcdf())
    if kind == ".csv":
        flat = found.drop_dims("mode")
        for label, mode in ((str(mode), mode) for mode in found["mode"].values):
            flat[f"{label} margin"] = found["margin"].sel(mode=mode, drop=True)
        flat = flat.rename(
            {
                label: f"{label} [{values.attrs['units']}]"
                for label, values in flat.variables.items()
                if values.attrs.get("units", "1") != "1"
            }
        )
        table: str = flat.to_dataframe().to_csv()
        return table.encode()
    raise InputError("--out", kind, "a name that ends in .nc or .csv", "Choose one of the two.")


def _drawn(found: xarray.Dataset, name: str) -> bytes:
    kind = Path(name).suffix
    if kind not in _DRAWN:
        expected = f"a name with {', '.join(_DRAWN)}"
        raise InputError("--picture", repr(kind), expected, "Choose one of these.")
    figure: Any = draw_swept(found).get_figure(root=True)
    written = io.BytesIO()
    figure.savefig(written, format=kind[1:], bbox_inches="tight")
    return written.getvalue()


def draw_swept(found: xarray.Dataset, axes: Any = None) -> Any:
    """Draw the least margin of all runs and cases against one field or two.

    Parameters
    ----------
    found : xarray.Dataset
        What `linkcalc.sweep` returns.
    axes : matplotlib.axes.Axes, optional
        Where to draw; new ones when left out.

    Returns
    -------
    matplotlib.axes.Axes
        A line for one field, contours for two, that of zero thick.

    Raises
    ------
    InputError
        It has more than two fields, or one has words for values.
    """
    from matplotlib.figure import Figure  # noqa: PLC0415 - slow to import

    paths = _paths(found)
    if len(paths) > 2:
        expected = "one field or two"
        remedy = "Leave the picture out, or hold a field still."
        raise InputError("--picture", told(f"{len(paths)} fields"), expected, remedy)
    if axes is None:
        axes = Figure(figsize=(6.4, 4.4), layout="constrained").subplots()
    worst = found["least margin"].min(("case", "run"), skipna=False)
    across = [_across(found, path) for path in paths]
    if len(paths) == 1:
        axes.plot(across[0], worst.values, color="black", marker="o", markersize=3)
        axes.axhline(0.0, color="black", linewidth=0.8, linestyle=(0, (6, 3)))
        axes.set_ylabel("least margin [1]")
    elif min(worst.shape) < 2:
        raise InputError(
            "--picture", told("a field with one value"), "two or more", "Give more values."
        )
    else:
        made = axes.contour(across[0], across[1], worst.values.T, colors="black", linewidths=0.8)
        axes.clabel(made, fmt="%.2g", fontsize=8)
        axes.contour(
            across[0], across[1], worst.values.T, levels=[0.0], colors="black", linewidths=2.4
        )
        axes.set_ylabel(_label(found, paths[1]))
        axes.set_title("least margin [1]; thick: zero", fontsize=10)
    axes.set_xlabel(_label(found, paths[0]))
    return axes


def _across(found: xarray.Dataset, path: str) -> Any:
    values = found[path].values
    if values.dtype.kind == "f":
        return values
    expected = "numbers with one unit"
    raise InputError(path, "words for values", expected, "Leave the picture out.")


def _label(found: xarray.Dataset, path: str) -> str:
    units = found[path].attrs.get("units", "1")
    return f"{cut(printable(path), 60)} [{units}]"
