#!/usr/bin/env python3
"""Draws work-precision.svg from work-precision.csv, both beside this file.

The numbers come from the program tests/benchmark/work_precision.cpp:

    build/release/tests/work_precision methods > docs/decisions/work-precision.csv
    docs/decisions/work-precision.py
"""

import csv
from pathlib import Path

import matplotlib

matplotlib.use("svg")
import matplotlib.pyplot as plt  # noqa: E402

HERE = Path(__file__).resolve().parent
CHOSEN = ("linearly implicit", 5e-4)
WINDOWS = {"dawn": "Three minutes before sunrise: steady production",
           "first minutes": "First three minutes of a run: everything moves"}

# Colours of Okabe and Ito (2008), distinguished by all common kinds of colour vision; markers say it again.
STYLES = {
    "linearly implicit": ("#0072B2", "o", "-", "linearly implicit, Jacobian kept 300 s (ours)"),
    "linearly implicit, Jacobian renewed each tick": ("#56B4E9", "o", "--", "the same, Jacobian renewed each tick"),
    "Rosenbrock 4, exact Jacobian": ("#009E73", "s", "-", "Rosenbrock 4(3), exact Jacobian"),
    "Dormand-Prince 5(4)": ("#E69F00", "^", "-", "Dormand-Prince 5(4), explicit"),
    "CVODE BDF, Jacobian by differences": ("#D55E00", "v", "-", "CVODE BDF, Jacobian by differences"),
    "CVODE BDF, exact Jacobian": ("#CC79A7", "D", "-", "CVODE BDF, exact Jacobian"),
    "CVODE BDF, fast states alone, Jacobian kept 300 s":
        ("#000000", "x", "--", "CVODE BDF, fast states alone, Jacobian kept 300 s"),
}


def read():
    with open(HERE / "work-precision.csv", newline="") as file:
        for row in csv.DictReader(file):
            yield (row["window"], row["method"], float(row["relative tolerance"]),
                   float(row["voltage error (mV)"]), float(row["time (us/tick)"]))


def main():
    plt.rcParams.update({"svg.hashsalt": "duskline", "svg.fonttype": "path", "font.size": 9,
                         "font.family": "DejaVu Sans", "axes.grid": True, "grid.color": "#dddddd"})
    rows = list(read())
    figure, axes = plt.subplots(1, 2, figsize=(10, 5.2), sharey=True)
    for axis, (window, title) in zip(axes, WINDOWS.items()):
        for method, (colour, marker, line, label) in STYLES.items():
            points = [(e, t) for w, m, _, e, t in rows if (w, m) == (window, method)]
            axis.plot(*zip(*points), line, color=colour, marker=marker, markersize=5, linewidth=1.2, label=label,
                      markerfacecolor="none" if line == "--" else colour)
        for w, m, tolerance, error, time in rows:
            if w == window and (m, tolerance) == CHOSEN:
                axis.plot(error, time, "o", markersize=13, color="#0072B2", markerfacecolor="none",
                          label="what runs use: relative tolerance 5e-4")
        axis.axvline(1, color="#666666", linestyle=":", linewidth=1.2, label="error that is allowed, 1 mV")
        axis.set(xscale="log", yscale="log", xlim=(2e-8, 50), ylim=(2, 5000), title=title,
                 xlabel="largest error of any cell voltage at any tick (mV)")
        axis.set_axisbelow(True)
    axes[0].set_ylabel("processor time per tick of 1 s (µs)")
    figure.legend(*axes[1].get_legend_handles_labels(), loc="lower center", ncols=3, frameon=False)
    figure.tight_layout(rect=(0, 0.15, 1, 1))
    figure.savefig(HERE / "work-precision.svg", metadata={"Date": None})


if __name__ == "__main__":
    main()
