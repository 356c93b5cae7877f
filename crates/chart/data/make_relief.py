"""Make elevation_*.bin, depth_doubt_*.bin and ice_surface_*.bin, for north and south.

    make_relief.py ETOPO1_GRD ETOPO5_CDF [--plot PNG]

ETOPO1_GRD: pybacktrack/bundle_data/topography/ETOPO1_0.1.grd of PyPI pybacktrack 1.5.0 (ETOPO1, bedrock, sampled each
0.1 degree; NOAA, public domain).
ETOPO5_CDF: usr/share/ferret-vis/data/etopo5.cdf of Debian ferret-datasets 7.6.0-5 (ETOPO5, ice surface, 5 minutes; NOAA,
public domain).
Versions: see embedded_format.py. The result is the same bytes at every run of those versions.
"""

import argparse
import hashlib

import netCDF4
import numpy as np
from embedded_format import Levels, row_halvings, write_row_grid

ETOPO1_SHA256 = "9e6d6db4e992d11415f08ba87f706052c753efa56e6c401b09cfd5f9b6cfe492"
ETOPO5_SHA256 = "1455d5e5feebd183d0bef5538a750ca8a44801e1503f964df900831c224459ce"

# Metres; fine where a keel could touch, coarse on dry land.
ELEVATION_LEVELS = Levels(-9600, [(860, 10), (350, 2), (320, 1), (299, 20)])
SURFACE_LEVELS = Levels(0, [(40, 5), (180, 20), (40, 50)])
# Sixteenths of the binary logarithm of the ratio; BOTH_DRY where neither set has water.
DOUBT_LEVELS = Levels(0, [(255, 1)])
BOTH_DRY = 255
# Depths shallower than this, and dry land, count as this deep in the ratio: 2 m against 5 m is no disagreement.
SHALLOWEST_M = 5.0

HEMISPHERES = {"south": (0, -1), "north": (1, 1)}


def read(path, sha256, name):
    with open(path, "rb") as file:
        if hashlib.sha256(file.read()).hexdigest() != sha256:
            raise SystemExit(f"{path} is not the file this script was written for")
    with netCDF4.Dataset(path) as dataset:
        return np.asarray(dataset[name][:], dtype=np.float64)


def bilinear(grid, per_degree, latitude, longitude):
    """Of a grid whose row 0 is the south pole and whose columns go once round from Greenwich."""
    row = (latitude + 90.0) * per_degree
    column = (longitude % 360.0) * per_degree
    south = np.minimum(np.floor(row).astype(int), grid.shape[0] - 2)
    west = np.floor(column).astype(int)
    v, u = row - south, column - west
    columns = grid.shape[1]
    west, east = west % columns, (west + 1) % columns
    return (1 - v) * ((1 - u) * grid[south, west] + u * grid[south, east]) + v * (
        (1 - u) * grid[south + 1, west] + u * grid[south + 1, east]
    )


def row_grid(path, hemisphere, sign, first_latitude, rows_per_degree, widest, levels, value):
    """Code and write `value(latitude, longitudes)` for each row; the decoded rows with their latitudes are returned."""
    latitudes = first_latitude + np.arange((90 - first_latitude) * rows_per_degree + 1) / rows_per_degree
    columns = 360 * rows_per_degree
    halvings = row_halvings(latitudes, columns, widest)
    rows = [
        levels.code(value(sign * latitude, np.arange(columns >> halving) * (360.0 / (columns >> halving))))
        for latitude, halving in zip(latitudes, halvings)
    ]
    size = write_row_grid(path, hemisphere, first_latitude, rows_per_degree, columns, rows, levels, halvings)
    print(f"{path}: {sum(map(len, rows))} nodes, {size} bytes")
    return [(sign * latitude, levels.values[row]) for latitude, row in zip(latitudes, rows)]


def window(grid, per_degree, latitude, longitude, half_deg, east_half_deg):
    low = max(int(np.ceil((latitude - half_deg + 90) * per_degree - 1e-9)), 0)
    high = min(int(np.floor((latitude + half_deg + 90) * per_degree + 1e-9)), grid.shape[0] - 1)
    west = int(np.ceil((longitude - east_half_deg) * per_degree - 1e-9))
    east = int(np.floor((longitude + east_half_deg) * per_degree + 1e-9))
    return grid[low : high + 1].take(range(west, east + 1), axis=1, mode="wrap")


def depth_ratio(bedrock, surface):
    """Of the two sets' depths at the bedrock grid's nodes: the greater over the lesser, at least 1; NaN where both are
    dry."""
    latitude = np.arange(bedrock.shape[0]) / 10.0 - 90.0
    longitude = np.arange(bedrock.shape[1]) / 10.0
    other = np.array([bilinear(surface, 12, np.full_like(longitude, y), longitude) for y in latitude])
    a, b = np.maximum(-bedrock, SHALLOWEST_M), np.maximum(-other, SHALLOWEST_M)
    ratio = np.maximum(a, b) / np.minimum(a, b)
    ratio[(bedrock >= 0) & (other >= 0)] = np.nan
    return ratio


def doubt_codes(ratio, latitude, longitudes):
    """The ratio that nine nodes in ten of the cell about each position do not exceed."""
    half = 360.0 / len(longitudes) / 2
    out = []
    for longitude in longitudes:
        cell = window(ratio, 10, latitude, longitude, 0.25, half)
        wet = cell[~np.isnan(cell)]
        if len(wet) == 0:
            out.append(BOTH_DRY)
        else:
            high = np.sort(wet)[len(wet) * 9 // 10]
            out.append(min(np.ceil(16 * np.log2(high)), BOTH_DRY - 1))
    return np.array(out)


def report_error(name, rows, truth, bands):
    """Error of the decoded grid, bilinear between nodes, against `truth` at random places, by depth."""
    random = np.random.default_rng(1)
    latitudes = np.array([abs(latitude) for latitude, _ in rows])
    sign = np.sign(rows[0][0])
    y = np.degrees(np.arcsin(random.uniform(np.sin(np.radians(latitudes[0])), 1, 200000)))
    x = random.uniform(0, 360, len(y))
    step = latitudes[1] - latitudes[0]
    at = np.minimum(((y - latitudes[0]) / step).astype(int), len(rows) - 2)

    def along(index):
        out = np.empty(len(x))
        for i in np.unique(index):
            here = index == i
            row = rows[i][1]
            column = x[here] / 360.0 * len(row)
            west = np.floor(column).astype(int)
            out[here] = row[west % len(row)] * (west + 1 - column) + row[(west + 1) % len(row)] * (column - west)
        return out

    v = (y - latitudes[at]) / step
    got = along(at) * (1 - v) + along(at + 1) * v
    want = truth(sign * y, x)
    for low, high in bands:
        error = np.abs(got - want)[(want >= low) & (want < high)]
        if len(error):
            print(f"  {name} {low}..{high} m: median {np.median(error):.1f}, 95% {np.percentile(error, 95):.1f} m")


def plot(path, pictures):
    import matplotlib

    matplotlib.use("Agg")
    import matplotlib.pyplot as plt

    figure, axes = plt.subplots(2, 3, figsize=(27, 18), subplot_kw={"projection": "polar"})
    for axis, (title, rows, low, high) in zip(axes.T.ravel(), pictures):
        x = np.concatenate([np.radians(np.arange(len(row)) * 360 / len(row)) for _, row in rows])
        r = np.concatenate([np.full(len(row), 90 - abs(latitude)) for latitude, row in rows])
        value = np.concatenate([row for _, row in rows])
        image = axis.scatter(x, r, c=value, s=0.5, vmin=low, vmax=high, cmap="terrain", linewidths=0)
        axis.set_title(title)
        figure.colorbar(image, ax=axis, shrink=0.6)
    figure.savefig(path, dpi=70, bbox_inches="tight")


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("etopo1")
    parser.add_argument("etopo5")
    parser.add_argument("--plot")
    arguments = parser.parse_args()
    bedrock = read(arguments.etopo1, ETOPO1_SHA256, "z")[:, :3600]
    surface = read(arguments.etopo5, ETOPO5_SHA256, "ROSE")
    dry_surface = np.maximum(surface, 0.0)
    ratio = depth_ratio(bedrock, surface)
    pictures = []
    for name, (hemisphere, sign) in HEMISPHERES.items():
        elevation = row_grid(
            f"elevation_{name}.bin", hemisphere, sign, 40, 10, 0.5, ELEVATION_LEVELS,
            lambda latitude, longitudes: bedrock[round((latitude + 90) * 10), np.round(longitudes * 10).astype(int)],
        )
        report_error(
            "elevation", elevation, lambda y, x: bilinear(bedrock, 10, y, x),
            [(-11000, -1000), (-1000, -300), (-300, -100), (-100, -30), (-30, 0), (0, 9000)],
        )
        doubt = row_grid(
            f"depth_doubt_{name}.bin", hemisphere, sign, 40, 2, 1.0, DOUBT_LEVELS,
            lambda latitude, longitudes: doubt_codes(ratio, latitude, longitudes),
        )
        wet = np.concatenate([row for _, row in doubt])
        wet = 2 ** (wet[wet != BOTH_DRY] / 16)
        print("  doubt of wet cells: quartiles, 90%, 99%", np.round(np.percentile(wet, [25, 50, 75, 90, 99]), 2))
        ice = row_grid(
            f"ice_surface_{name}.bin", hemisphere, sign, 60 if sign < 0 else 58, 12, 1.0, SURFACE_LEVELS,
            lambda latitude, longitudes: dry_surface[
                round((latitude + 90) * 12), np.round(longitudes * 12).astype(int)
            ],
        )
        report_error("ice surface", ice, lambda y, x: bilinear(dry_surface, 12, y, x), [(0, 1), (1, 200), (200, 1000), (1000, 2000), (2000, 5000)])
        pictures += [
            (f"elevation {name}", elevation, -5000, 1000),
            (f"doubt {name}", doubt, 0, 64),
        ]
        pictures.append((f"ice surface {name}", ice, 0, 4000))
    if arguments.plot:
        order = [0, 3, 1, 4, 2, 5]
        plot(arguments.plot, [pictures[i] for i in order])


if __name__ == "__main__":
    main()
