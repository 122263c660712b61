"""Plots as SVG for a page, drawn by matplotlib if it is installed.

No text from the data is drawn: names stand in the captions, where they are escaped. The same
numbers give the same bytes.
"""

import io
import re

import numpy as np

from ..language import localised, number, tr
from ..parallel.imports import load

INK, SECOND, ACCENT, PALE = "#1d3557", "#6b7a89", "#c8553d", "#d5dae0"
ROOM = 36  # letters in the legend above a plot of half the page's width
_SETTINGS = {
    "svg.hashsalt": "curbwright",
    "svg.fonttype": "none",
    "font.family": "sans-serif",
    "font.sans-serif": ["DejaVu Sans", "Arial", "sans-serif"],
    "font.size": 8.0,
    "axes.edgecolor": SECOND,
    "axes.linewidth": 0.6,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "axes.labelcolor": "#1b242c",
    "xtick.color": "#1b242c",
    "ytick.color": "#1b242c",
    "xtick.major.width": 0.6,
    "ytick.major.width": 0.6,
    "axes.axisbelow": True,
    "axes.grid": True,
    "grid.color": PALE,
    "grid.linewidth": 0.5,
    "legend.frameon": False,
    "legend.fontsize": 7.5,
    "path.simplify": False,
    "hatch.linewidth": 0.5,
}


def available():
    """True if matplotlib can be used.

    Returns
    -------
    bool
    """
    load("matplotlib.figure", "matplotlib.backends.backend_svg")
    try:
        import matplotlib.figure  # noqa: F401
    except ImportError:  # also if a library that it needs cannot be loaded
        return False
    return True


def _drawn(draw, width, height):
    """SVG of what `draw(axes)` draws; sizes in millimetres."""
    import matplotlib
    from matplotlib.backends.backend_svg import FigureCanvasSVG
    from matplotlib.figure import Figure

    buffer = io.StringIO()
    with matplotlib.rc_context():
        matplotlib.rcdefaults()  # ignore what the user has set for other plots
        matplotlib.rcParams.update(_SETTINGS)
        made = Figure(figsize=(width / 25.4, height / 25.4))
        FigureCanvasSVG(made)
        draw(made.add_subplot())
        made.tight_layout(pad=0.4)
        made.savefig(
            buffer,
            format="svg",
            transparent=True,
            metadata=dict.fromkeys(("Date", "Creator", "Format", "Type")),
        )
    return _inside_a_page(buffer.getvalue())


def _inside_a_page(svg):
    """SVG without XML head and namespaces, which HTML does not need, and without ids that recur
    from plot to plot."""
    svg = svg[svg.index("<svg") :].rstrip()
    svg = re.sub(r'\sxmlns(:\w+)?="[^"]*"', "", svg)
    svg = re.sub(r"\s*<metadata>.*?</metadata>", "", svg, flags=re.DOTALL)
    svg = re.sub(r'<g id="[^"]*"', "<g", svg)
    # numbers at the axes with the decimal mark of the language
    svg = re.sub(
        r"(<text[^>]*>)([−\d.]+)(</text>)",
        lambda found: found[1] + localised(found[2]) + found[3],
        svg,
    )
    return svg.replace("xlink:href", "href").replace("<svg ", '<svg role="img" ', 1)


def _columns(axes):
    """Number of columns of the legend above a plot of half the page's width."""
    return 3 if sum(map(len, axes.get_legend_handles_labels()[1])) <= ROOM else 2


def histogram_bins(values, weights, limit=None):
    """Edges of the bins of a histogram.

    Bins have a round width and reach a little beyond the 5th and 95th percentile by weight, so that
    a few lines far off do not squeeze all the others into one bar.

    Parameters
    ----------
    values, weights : ndarray of float, shape (n,)
    limit : float, optional
        The bins include it, with either sign.

    Returns
    -------
    ndarray of float, shape (bins + 1,)
    """
    order = np.argsort(values, kind="stable")
    share = np.cumsum(weights[order]) / weights.sum()
    low, high = (
        float(values[order][min(np.searchsorted(share, at), len(order) - 1)]) for at in (0.05, 0.95)
    )
    low, high = min(1.2 * low, 0.0), max(1.2 * high, 0.0)
    if limit is not None and np.isfinite(limit):
        low, high = min(low, -1.2 * limit), max(high, 1.2 * limit)
    width = round_step((high - low) / 45)
    return width * np.arange(np.floor(low / width + 1e-9), np.ceil(high / width - 1e-9) + 1)


def round_step(least):
    """The smallest 1, 2 or 5 times a power of ten that is not less; at least 0.001.

    Parameters
    ----------
    least : float

    Returns
    -------
    float
    """
    least = max(least, 0.001)
    power = 10.0 ** np.floor(np.log10(least) + 1e-9)
    return next(
        float(power * factor) for factor in (1, 2, 5, 10) if power * factor >= least * (1 - 1e-9)
    )


def histogram(
    after,
    weights,
    before=None,
    limit=None,
    weighed="",
    measured="",
    limit_label="",
):
    """Histogram of offsets by length or number.

    Parameters
    ----------
    after, weights : ndarray of float, shape (n,)
        Offsets in metres, and the length or number that each counts for.
    before : ndarray of float, shape (n,), optional
        Offsets drawn as an outline, metres.
    limit : float, optional
        Drawn as a pair of lines, metres.
    weighed, measured, limit_label : str
        Labels of the axes and of the limit; by default those of a comparison.

    Returns
    -------
    str
        SVG.
    """
    weighed = weighed or tr("length of existing line (m)")
    measured = measured or tr("offset (m), + to the right of the existing line")
    limit_label = limit_label or tr("typical limit")
    both = after if before is None else np.concatenate([after, before])
    bins = histogram_bins(
        both, weights if before is None else np.concatenate([weights, weights]), limit
    )

    def draw(axes):
        _draw_bars(axes, bins, after, weights, before)
        if limit is not None and np.isfinite(limit):
            for place, at in enumerate((-limit, limit)):
                axes.axvline(
                    at,
                    color="#000000",
                    linewidth=0.9,
                    linestyle=":",
                    label=None if place else limit_label,
                )
        axes.set_xlabel(measured)
        axes.set_ylabel(weighed)
        axes.set_xlim(bins[0], bins[-1])
        # above the plot: inside, it would cover a bar or a limit
        axes.legend(
            loc="lower center",
            bbox_to_anchor=(0.5, 1.0),
            ncol=_columns(axes),
            columnspacing=1.2,
            handletextpad=0.5,
            borderpad=0.1,
        )

    return _drawn(draw, 88, 62)


def _draw_bars(axes, bins, after, weights, before):
    """Bars of a histogram, and where there is a `before`, that as an outline."""
    axes.hist(
        np.clip(after, bins[0], bins[-1]),
        bins,
        weights=weights,
        color=ACCENT if before is None else "#e4a594",
        edgecolor=INK,
        linewidth=0.4,
        label=tr("offsets") if before is None else tr("shift removed"),
    )
    if before is not None:
        # newer versions of matplotlib accept no dash pattern in `hist`
        axes.stairs(
            np.histogram(np.clip(before, bins[0], bins[-1]), bins, weights=weights)[0],
            bins,
            color=INK,
            linewidth=1.3,
            linestyle=(0, (4, 1.6)),
            label=tr("as given"),
        )


def cumulative_points(offsets, weights, most=400):
    """Absolute offsets, rising, and the share of the length within each.

    Parameters
    ----------
    offsets, weights : ndarray of float, shape (n,)
        Metres.
    most : int
        Maximum number of points.

    Returns
    -------
    x, share : ndarray of float, shape (k,)
        Metres; 0 to 1.
    """
    order = np.argsort(np.abs(offsets), kind="stable")
    x, share = np.abs(offsets)[order], np.cumsum(weights[order]) / weights.sum()
    if len(x) > most:
        some = np.unique(np.searchsorted(share, np.linspace(0, 1, most)).clip(0, len(x) - 1))
        x, share = x[some], share[some]
    return np.append(0.0, x), np.append(0.0, share)


def cumulative(after, weights, before=None):
    """Share of the length within an offset, with the line of 95 %.

    Parameters
    ----------
    after, weights : ndarray of float, shape (n,)
        Metres.
    before : ndarray of float, shape (n,), optional
        Metres.

    Returns
    -------
    str
        SVG.
    """

    def draw(axes):
        curves = [
            (after, tr("as judged") if before is None else tr("shift removed"), ACCENT, "-", 1.8)
        ]
        if before is not None:
            curves.append((before, tr("as given"), INK, (0, (4, 1.6)), 1.3))
        steps = [cumulative_points(values, weights) for values, *_ in curves]
        within = [float(x[min(np.searchsorted(share, 0.95), len(x) - 1)]) for x, share in steps]
        right = max(1.6 * max(within), 0.01)
        for (x, share), at, (_, label, colour, dash, width) in zip(steps, within, curves):
            # cut here: not every program that prints the page clips curves at the axis
            seen = np.append(x <= right, True)
            x, share = np.append(x, right)[seen], np.append(share, share[x <= right][-1])[seen]
            axes.plot(
                x,
                100 * share,
                color=colour,
                linestyle=dash,
                linewidth=width,
                label=tr("{}: 95 % within {} m").format(label, number(at, 2)),
                drawstyle="steps-post",
            )
            axes.plot([at, at], [0, 95], color=colour, linewidth=0.8, linestyle=":")
        axes.axhline(95, color="#000000", linewidth=0.9, linestyle="--")
        axes.text(
            1.01,
            95,
            "95 %",
            fontsize=7.5,
            ha="left",
            va="center",
            transform=axes.get_yaxis_transform(),
        )
        axes.set_xlim(0, right)
        axes.set_ylim(0, 104)
        axes.set_xlabel(tr("offset without sign (m)"))
        axes.set_ylabel(tr("matched length within it (%)"))
        axes.legend(loc="lower left", bbox_to_anchor=(0.0, 1.0), borderpad=0.1)

    return _drawn(draw, 88, 62)


def along(chainage, offset, limit, break_over):
    """Offsets along one edge, with the band of the limit.

    Parameters
    ----------
    chainage, offset, limit : ndarray of float, shape (n,)
        Metres.
    break_over : float
        The curve is broken where stations are farther apart, metres.

    Returns
    -------
    str
        SVG.
    """
    if len(chainage) > 1500:
        some = np.unique(np.linspace(0, len(chainage) - 1, 1500).astype(int))
        chainage, offset, limit = chainage[some], offset[some], limit[some]
        break_over = max(break_over, 2.5 * float(np.median(np.diff(chainage))))
    cut = np.flatnonzero(np.diff(chainage) > break_over) + 1
    x, y, band = (
        np.insert(values.astype(float), cut, np.nan) for values in (chainage, offset, limit)
    )

    def draw(axes):
        axes.fill_between(
            x, -band, band, facecolor="#eef0f3", edgecolor="#aab4be", hatch="////", linewidth=0.0
        )
        axes.axhline(0, color=SECOND, linewidth=0.7)
        axes.plot(
            x,
            y,
            color=ACCENT,
            linewidth=1.5,
            marker="o" if len(chainage) < 60 else "",
            markersize=2.2,
            markerfacecolor=INK,
            markeredgewidth=0,
        )
        axes.set_xlabel(tr("along the edge (m)"))
        axes.set_ylabel(tr("offset (m)"))
        low, high = (
            min(float(np.nanmin(y)), -float(np.nanmax(band))),
            max(float(np.nanmax(y)), float(np.nanmax(band))),
        )
        axes.set_ylim(low - 0.1 * (high - low), high + 0.1 * (high - low))
        axes.margins(x=0.02)

    return _drawn(draw, 88, 44)


def runs(numbers, curves):
    """Curves of quality figures from run to run, in millimetres.

    Parameters
    ----------
    numbers : ndarray of int, shape (n,)
        Numbers of the runs.
    curves : sequence of (str, ndarray of float, shape (n,))
        Label, and value of each run in metres, NaN for none. At most three.

    Returns
    -------
    str
        SVG.
    """
    looks = ((ACCENT, "-", "o"), (INK, (0, (4, 1.6)), "s"), (SECOND, ":", "^"))

    def draw(axes):
        for (label, values), (colour, dash, mark) in zip(curves, looks):
            axes.plot(
                numbers,
                1000 * values,
                color=colour,
                linestyle=dash,
                linewidth=1.4,
                marker=mark,
                markersize=3.2,
                label=label,
            )
        axes.xaxis.get_major_locator().set_params(integer=True)
        axes.margins(y=0.1)
        axes.set_ylim(bottom=0)
        axes.set_xlabel(tr("run"))
        axes.set_ylabel("mm")
        axes.legend(loc="lower center", bbox_to_anchor=(0.5, 1.0), ncol=3, borderpad=0.1)

    return _drawn(draw, 150, 50)


def scatter(east, north, outlier, radius, radius_label):
    """Horizontal errors, with the circle of 95 %.

    Parameters
    ----------
    east, north : ndarray of float, shape (n,)
        Metres.
    outlier : ndarray of bool, shape (n,)
    radius : float
        Of the circle, metres; NaN for none.
    radius_label : str

    Returns
    -------
    str
        SVG.
    """

    def draw(axes):
        axes.axhline(0, color=SECOND, linewidth=0.6)
        axes.axvline(0, color=SECOND, linewidth=0.6)
        _draw_points(axes, east, north, outlier)
        reach = 1.1 * float(np.max(np.abs([east, north])))
        if np.isfinite(radius):
            turn = np.linspace(0, 2 * np.pi, 181)
            axes.plot(
                radius * np.cos(turn),
                radius * np.sin(turn),
                color=INK,
                linewidth=1.0,
                linestyle="--",
                label=radius_label,
            )
            reach = max(reach, 1.1 * radius)
        reach = max(reach, 0.001)
        axes.set_xlim(-reach, reach)
        axes.set_ylim(-reach, reach)
        axes.set_aspect("equal")
        axes.set_xlabel(tr("east (m), tested minus check"))
        axes.set_ylabel(tr("north (m)"))
        axes.legend(
            loc="upper center",
            bbox_to_anchor=(0.5, 1.13),
            ncol=_columns(axes),
            columnspacing=1.2,
            handletextpad=0.5,
        )

    return _drawn(draw, 92, 92)


def _draw_points(axes, east, north, outlier):
    """Check points, outliers as crosses."""
    axes.plot(
        east[~outlier], north[~outlier], "o", color=INK, markersize=3.2, label=tr("check point")
    )
    if outlier.any():
        axes.plot(
            east[outlier],
            north[outlier],
            "x",
            color=ACCENT,
            markersize=6,
            markeredgewidth=1.6,
            label=tr("outlier"),
        )
