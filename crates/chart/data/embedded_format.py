"""Binary forms shared by the scripts that make the embedded data.

Written for Python 3.11 with numpy 2.4.6, shapely 2.2.0 (GEOS 3.14.1), pyproj 3.7.2, netCDF4 1.7.5.1.post1.
The readers are src/embedded/polygon_file.rs and src/embedded/row_grid_file.rs; README.md describes the bytes.
"""

import struct
import zlib

import numpy as np

POLYGON_MAGIC = b"DWPOLY1\n"
ROW_GRID_MAGIC = b"DWROWS1\n"


def varint(value):
    """Little-endian base-128 integer, as in Protocol Buffers."""
    out = bytearray()
    while value >= 0x80:
        out.append(value & 0x7F | 0x80)
        value >>= 7
    out.append(value)
    return bytes(out)


def zigzag(value):
    return value * 2 if value >= 0 else -value * 2 - 1


def write_polygons(path, hemisphere, unit_m, polygons):
    """`polygons`: list of lists of rings, each ring an open list of integer (x, y) in units of `unit_m`."""
    body = bytearray(struct.pack("<BHI", hemisphere, unit_m, len(polygons)))
    for rings in polygons:
        body += varint(len(rings))
        for ring in rings:
            body += varint(len(ring))
            last_x = last_y = 0
            for x, y in ring:
                body += varint(zigzag(x - last_x)) + varint(zigzag(y - last_y))
                last_x, last_y = x, y
    data = POLYGON_MAGIC + zlib.compress(bytes(body), 9)
    with open(path, "wb") as file:
        file.write(data)
    return len(data)


class Levels:
    """A monotone table of integer values: `base`, then `count` steps of `step` for each run."""

    def __init__(self, base, runs):
        self.base, self.runs = base, runs
        values = [base]
        for count, step in runs:
            for _ in range(count):
                values.append(values[-1] + step)
        self.values = np.array(values)

    def code(self, value):
        """The nearest level; a tie goes to the lower (deeper) one."""
        middle = (self.values[1:] + self.values[:-1]) / 2
        return np.searchsorted(middle, value, side="left")

    def header(self):
        out = struct.pack("<hB", self.base, len(self.runs))
        for count, step in self.runs:
            out += struct.pack("<Hh", count, step)
        return out


def row_halvings(latitudes, columns, widest):
    """How often each row's columns are halved: as often as leaves them no wider apart, in kilometres, than `widest`
    times their spacing at the equator. So the rows about the pole are not stored hundreds of times over."""
    halvings = []
    for latitude in latitudes:
        count = 0
        while (
            columns % 2 ** (count + 1) == 0
            and np.cos(np.radians(abs(latitude))) * 2 ** (count + 1) <= widest + 1e-9
        ):
            count += 1
        halvings.append(count)
    return halvings


def write_row_grid(path, hemisphere, first_latitude, rows_per_degree, columns, rows, levels, halvings):
    """`rows`: one array of codes a row, from `first_latitude` (whole degrees, unsigned) to the pole.

    Each code is predicted from its neighbours west, north (the row before) and north-west: w + n - nw, clamped
    between w and n (the median edge predictor of LOCO-I, Weinberger, Seroussi and Sapiro 2000).
    """
    residuals = []
    above = None
    for row in rows:
        row = row.astype(np.int64)
        west = np.concatenate([[0], row[:-1]])
        if above is None:
            guess = west
        else:
            north = above[:: len(above) // len(row)]
            north_west = np.concatenate([[0], north[:-1]])
            west[0] = north_west[0] = north[0]
            guess = np.clip(west + north - north_west, np.minimum(west, north), np.maximum(west, north))
        residual = row - guess
        residuals.append(np.where(residual >= 0, residual * 2, -residual * 2 - 1))
        above = row
    residual = np.concatenate(residuals)
    body = struct.pack("<BBBH", hemisphere, first_latitude, rows_per_degree, columns)
    body += levels.header()
    body += bytes(halvings)
    body += (residual & 0xFF).astype(np.uint8).tobytes() + (residual >> 8).astype(np.uint8).tobytes()
    data = ROW_GRID_MAGIC + zlib.compress(body, 9)
    with open(path, "wb") as file:
        file.write(data)
    return len(data)
