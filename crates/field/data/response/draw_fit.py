#!/usr/bin/env python3
"""Draws docs/disturbance-fit.svg: how the learnt response stands against recorded hours.

Reads `cross_validation.csv` beside this file, and verifications as `dipward verify --format json` prints them,
one or two a station: with `--knowing kp`, and with `--knowing climate`. Only their statistics are read. The
first three letters of the station's name are its code in `cross_validation.csv`.

Needs matplotlib. Run: python3 draw_fit.py drv_kp.json drv_climate.json res_kp.json res_climate.json
"""
import csv
import json
import sys
from pathlib import Path

import matplotlib

matplotlib.use("svg")
matplotlib.rcParams.update(
    {
        "svg.fonttype": "none",  # text as text
        "svg.hashsalt": "dipward",  # the same bytes at each run
        "font.family": "sans-serif",
        "font.sans-serif": ["Arial", "Helvetica", "DejaVu Sans"],
        "font.size": 10,
        "axes.titlesize": 11,
        "axes.titleweight": "bold",
        "axes.titlelocation": "left",
        "axes.spines.top": False,
        "axes.spines.right": False,
        "axes.grid": True,
        "grid.color": "#e2e2e2",
        "grid.linewidth": 0.6,
        "legend.frameon": False,
        "legend.fontsize": 9,
    }
)
import matplotlib.pyplot as plt

HERE = Path(__file__).resolve().parent
FIGURE = HERE.parents[3] / "docs" / "disturbance-fit.svg"
PLACES = {
    "drv": "Dumont d'Urville",
    "sba": "Scott Base",
    "vos": "Vostok",
    "res": "Resolute Bay",
    "ale": "Alert",
}
COLOURS = {"drv": "#0b5fa5", "sba": "#3d8f6e", "vos": "#6f6f6f", "res": "#c2570c", "ale": "#8a4fa0"}
LEAST_HOURS = 50  # a class of Kp with fewer is not drawn


def code(verification):
    """The station's code in `cross_validation.csv`."""
    found = verification["station"]["name"][:3].lower()
    if found not in PLACES:
        sys.exit(f"the station {verification['station']['name']!r} is none of {', '.join(PLACES)}")
    return found


def event_text(event):
    return f"{event['within_km']:g} km for {event['for_h']:g} h"


def draw_chances(axes, verifications):
    """Chances told against what happened, of each verification's first event."""
    axes.plot([0, 100], [0, 100], color="#999999", linewidth=0.8)
    for one in verifications:
        event = one["events"][0]
        bins = [b for b in event["bins"] if b["starts"] >= LEAST_HOURS]
        known = one["knowing"] == "kp"
        axes.plot(
            [100 * b["forecast"] for b in bins],
            [100 * b["observed"] for b in bins],
            color=COLOURS[code(one)],
            marker="o" if known else "s",
            markerfacecolor=COLOURS[code(one)] if known else "white",
            linestyle="-" if known else "--",
            linewidth=1.2,
            markersize=5,
            label=f"{PLACES[code(one)]}, {event_text(event)}, "
            + ("Kp as observed" if known else "Kp of past years"),
        )
    axes.set(xlim=(-2, 102), ylim=(-2, 102), xlabel="chance told, %", ylabel="how often it came true, %")
    axes.set_title("Chances of the pole near its mean")
    axes.legend(loc="upper left", fontsize=8)


def draw_lengths(axes, verifications):
    """Mean length of the field by Kp, recorded and told."""
    for one in verifications:
        if one["knowing"] != "kp":
            continue
        classes = [c for c in one["by_kp"] if c["hours"] >= LEAST_HOURS]
        kp = [c["kp"] for c in classes]
        colour, name = COLOURS[code(one)], PLACES[code(one)]
        axes.plot(kp, [c["forecast_mean_nt"] for c in classes], color=colour, linewidth=1.4, label=f"{name}, told")
        axes.plot(
            kp, [c["mean_nt"] for c in classes], color=colour, linestyle="none", marker="o", markersize=5,
            label=f"{name}, recorded",
        )
    axes.set(xlim=(-0.3, 9.3), ylim=(0, None), xlabel="Kp", ylabel="mean length, nT")
    axes.set_xticks(range(10))
    axes.set_title("Length of the disturbance")
    axes.legend(loc="upper left")


def draw_coverage(axes, rows):
    """How many of the recorded hours lie in the regions for 95 and for 50 %, by station."""
    kinds = {"other years": ("o", True), "station left out": ("D", False)}
    for share, column in ((95, "coverage_95"), (50, "coverage_50")):
        axes.axhline(share, color="#999999", linewidth=0.8)
        for judged, (marker, filled) in kinds.items():
            for index, station in enumerate(PLACES):
                value = next(
                    float(r[column]) for r in rows
                    if r["judged"] == judged and r["station"] == station and r["kp"] == "all"
                )
                axes.plot(
                    index + (-0.12 if filled else 0.12), 100 * value, marker=marker, linestyle="none", markersize=6,
                    color=COLOURS[station], markerfacecolor=COLOURS[station] if filled else "white",
                )
    for judged, (marker, filled) in kinds.items():
        text = "fitted to other years" if filled else "fitted to other years of the other stations"
        axes.plot([], [], marker=marker, linestyle="none", color="#333333",
                  markerfacecolor="#333333" if filled else "white", label=text)
    axes.set_xticks(range(len(PLACES)), [name.replace(" ", "\n", 1) for name in PLACES.values()], fontsize=9)
    axes.set(xlim=(-0.5, len(PLACES) - 0.5), ylim=(0, 102), ylabel="hours inside, %")
    axes.set_title("Regions for 95 and for 50 %")
    axes.legend(loc="lower left")


def draw_memory(axes, verifications):
    """Autocorrelation of the two components, their mean, about the month's and hour's mean."""
    for one in verifications:
        if one["knowing"] != "kp":
            continue
        lags = [a["lag_h"] for a in one["autocorrelation"]]
        mean = lambda what: [(a[f"{what}_north"] + a[f"{what}_east"]) / 2 for a in one["autocorrelation"]]
        colour, name = COLOURS[code(one)], PLACES[code(one)]
        axes.plot(lags, mean("model"), color=colour, linewidth=1.4, label=f"{name}, told")
        axes.plot(lags, mean("record"), color=colour, linestyle="none", marker="o", markersize=5,
                  label=f"{name}, recorded")
    axes.axhline(0, color="#999999", linewidth=0.8)
    axes.set(xlim=(0, 25), xlabel="hours apart", ylabel="correlation")
    axes.set_xticks([1, 3, 6, 9, 12, 18, 24])
    axes.set_title("Memory")
    axes.legend(loc="upper right")


def main(paths):
    verifications = [json.loads(Path(path).read_text()) for path in paths]
    if not any(one["knowing"] == "kp" for one in verifications):
        sys.exit(__doc__)
    with open(HERE / "cross_validation.csv", newline="") as file:
        rows = list(csv.DictReader(file))
    figure, axes = plt.subplots(2, 2, figsize=(10, 8.2), layout="constrained")
    draw_chances(axes[0, 0], verifications)
    draw_lengths(axes[0, 1], verifications)
    draw_coverage(axes[1, 0], rows)
    draw_memory(axes[1, 1], verifications)
    figure.savefig(FIGURE, metadata={"Date": None})
    # The writer of SVG leaves spaces at the ends of lines.
    FIGURE.write_text("\n".join(line.rstrip() for line in FIGURE.read_text().splitlines()) + "\n")


if __name__ == "__main__":
    main(sys.argv[1:])
