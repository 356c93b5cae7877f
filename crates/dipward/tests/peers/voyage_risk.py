#!/usr/bin/env python3
"""Integrates the risk of whole voyages anew, from the ice charts' own polygons.

For the first approaches of a plan it walks the track that `voyages/<id>.csv` tells (places and times) in
steps of a minute at most, looks up the polygon of the chart that is valid at each instant, reckons the
POLARIS risk index from the egg code, and adds up the hours below zero, by phase. Tonnes and hours are added
up from the fuel plan and the instants of ranking.json. Nothing of the library's grid, layers, risk table or
sums is used; only the track is the program's.

Run from the root of the repository, after the demonstrations:

    pip install shapely pyproj pyyaml
    python3 crates/dipward/tests/peers/voyage_risk.py scenarios/austral-summer.yaml out/austral-summer
    python3 crates/dipward/tests/peers/voyage_risk.py scenarios/arctic-late-summer.yaml out/arctic-late-summer
    python3 crates/dipward/tests/peers/voyage_risk.py scenarios/arctic-two-stages.yaml out/arctic-two-stages

It prints a line for each approach and ends with status 1 where one differs by more than TOLERANCE: cells
are open or closed by their centre, so a voyage along a polygon's edge may differ by a cell's width.

Risk index values: IMO MSC.1/Circ.1519 (2016), table 1.3, rows PC4 and PC5, winter; from memory. Stages by
the codes of SIGRID-3 (WMO/JCOMM TR 23).
"""
import csv
import datetime as dt
import json
import sys
from pathlib import Path

import yaml
from pyproj import Geod, Transformer
from shapely import STRtree, make_valid, transform
from shapely.geometry import Point, shape

# Open water, new, grey, grey-white, thin first-year 1 and 2, medium under 1 m, medium, thick, second-year,
# light multi-year, heavy multi-year.
VALUES = {
    "pc4": [3, 3, 3, 3, 2, 2, 2, 2, 1, 0, -1, -2],
    "pc5": [3, 3, 3, 3, 2, 2, 1, 1, 0, -1, -2, -2],
}
COLUMN = {81: 1, 82: 1, 83: 1, 84: 2, 85: 3, 87: 5, 88: 4, 89: 5, 91: 7, 93: 8, 95: 10, 96: 9, 97: 10}
TENTHS = {0: 0.0, 1: 0.0, 2: 0.0, 91: 1.0, 92: 1.0, 55: 0.0, 98: 0.0}
TOLERANCE_H, TOLERANCE_SHARE = 1.0, 0.08


def instant(text):
    return dt.datetime.fromisoformat(str(text).replace("Z", "+00:00"))


def fraction(code):
    """The highest share of a code or a range of tenths."""
    code = int(code)
    if code in TENTHS:
        return TENTHS[code]
    if code % 10 == 0:
        return code / 100
    return 1.0 if code % 10 == 1 and code > 90 else (code % 10) / 10


def index(properties, values):
    get = lambda key: None if properties.get(key) in (None, "", "-9") else int(properties[key])
    if properties.get("POLY_TYPE") in ("W",) or get("CT") in (0, 1, 2, 55, 98):
        return 10.0 * values[0]
    total = fraction(get("CT"))
    parts = [(get("C" + k), get("S" + k)) for k in "ABC"]
    parts = [(total if share is None else fraction(share), stage) for share, stage in parts if stage is not None]
    covered = sum(share for share, _ in parts)
    # Parts that come to less than the whole are taken for all of it.
    if 0 < covered < total:
        parts = [(share * total / covered, stage) for share, stage in parts]
        covered = total
    return 10 * ((1 - covered) * values[0] + sum(share * values[COLUMN[stage]] for share, stage in parts))


def charts(scenario, folder, to_map):
    layers = [layer for layer in scenario["chart"]["layers"] if layer["kind"] == "ice_chart"]
    found = []
    for layer in layers:
        for chart in layer["charts"]:
            features = json.loads((folder / chart["file"]).read_text())["features"]
            shapes = [make_valid(transform(shape(f["geometry"]), to_map, interleaved=False)) for f in features if f["geometry"]]
            found.append((instant(chart["valid"]), STRtree(shapes), [f["properties"] for f in features if f["geometry"]]))
    return sorted(found, key=lambda chart: chart[0])


def main(path, out):
    scenario = yaml.safe_load(Path(path).read_text())
    south = scenario["pole"]["hemisphere"] == "south"
    projection = Transformer.from_crs("EPSG:4326", "EPSG:3031" if south else "EPSG:3413", always_xy=True)
    all_charts = charts(scenario, Path(path).parent, projection.transform)
    values = VALUES[scenario["craft"]["ice_class"]]
    geod = Geod(ellps="WGS84")
    ranking = json.loads((Path(out) / "ranking.json").read_text())
    wrong = 0
    for approach in ranking["approaches"][:6]:
        rows = list(csv.DictReader(open(Path(out) / "voyages" / f"{approach['id']}.csv")))
        hours = {"under_way": 0.0, "waiting": 0.0, "on_station": 0.0, "berth": 0.0}
        elevated, lowest = dict.fromkeys(hours, 0.0), 99.0
        for row, after in zip(rows, rows[1:] + [None]):
            begin, end = instant(row["begin_utc"]), instant(row["end_utc"])
            whole_h = (end - begin).total_seconds() / 3600
            hours[row["phase"]] += whole_h
            here = (float(row["longitude_deg"]), float(row["latitude_deg"]))
            there = (float(after["longitude_deg"]), float(after["latitude_deg"])) if after else here
            moves = row["phase"] == "under_way"
            course, _, metres = geod.inv(*here, *there) if moves else (0.0, 0.0, 0.0)
            steps = max(1, int(whole_h * 60)) if moves else max(1, int(whole_h))
            for step in range(steps):
                share = (step + 0.5) / steps
                longitude, latitude, _ = geod.fwd(*here, course, share * metres)
                at = begin + (end - begin) * share
                valid = [chart for chart in all_charts if chart[0] <= at] or all_charts[:1]
                _, tree, properties = valid[-1]
                inside = tree.query(Point(projection.transform(longitude, latitude)), predicate="intersects")
                if len(inside) == 0:
                    continue
                # The first of a chart's polygons that lie over one another.
                rio = index(properties[min(inside)], values)
                lowest = min(lowest, rio)
                if rio < 0:
                    elevated[row["phase"]] += whole_h / steps
        told = approach["risk"]
        sums = (sum(elevated.values()), told["hours_elevated"])
        fuel = approach["fuel_t"]
        burnt = sum(float(row["fuel_t"]) for row in rows)
        at_sea = (instant(approach["back"]) - instant(approach["depart"])).total_seconds() / 3600
        bad = abs(sums[0] - sums[1]) > TOLERANCE_H + TOLERANCE_SHARE * sums[1]
        bad |= abs(burnt - fuel["out"] - fuel["station"] - fuel["home"]) > 0.1
        bad |= abs(sum(hours.values()) - at_sea) > 0.02
        wrong += bad
        print(
            f"{approach['id']}: elevated {sums[0]:.1f} h here, {sums[1]:.1f} told; lowest {lowest:.1f} here,"
            f" {told['minimum_rio']} told; {sum(hours.values()):.2f} h of {at_sea:.2f}; {burnt:.1f} t"
            f"{'  DIFFERS' if bad else ''}"
        )
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:3]))
