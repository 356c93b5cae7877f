"""Make coast_north.bin, coast_south.bin and ice_shelves_south.bin.

    make_coast.py LAND_TOPOJSON SHELVES_PN2 [--plot PNG]

LAND_TOPOJSON: land-10m.json of npm world-atlas 2.0.2 (Natural Earth 4.1.0, 1:10m land; public domain).
SHELVES_PN2: usr/share/marble/data/naturalearth/ne_50m_antarctic_ice_shelves_polys.pn2 of Debian marble-qt-data
4:22.12.3-1 (Natural Earth 1:50m Antarctic ice shelves; public domain).
Versions: see embedded_format.py. The result is the same bytes at every run of those versions.
"""

import argparse
import hashlib
import json
import struct

import numpy as np
import pyproj
import shapely
from embedded_format import write_polygons
from shapely import MultiPolygon, Polygon
from shapely.geometry.polygon import orient

LAND_SHA256 = "9b9f584709c119d63fbadf484ce425260497697b7166be7a2fe360e8c0b171a8"
SHELVES_SHA256 = "e94c0a22108e82214d632040615ac553cb16ebb36e9ad0291b18862e58022d0a"

EDGE_LATITUDE = 40.0
# On the projections' plane; their point scale is 0.97 at the pole, 1 at 70 (71) degrees and 1.18 at 40 degrees.
TOLERANCE_M = 500.0
UNIT_M = 50
SMALLEST_SHELF_M2 = 5e6
# Water narrower than twice this between a shelf and the land behind it is the two sets' disagreement, not sea.
GROUNDING_GAP_M = 5000.0
# Shelves reach this far under the land beside them, so that rounding leaves no water between the two.
OVERLAP_M = 200.0

HEMISPHERES = {"south": (0, "EPSG:3031", -1), "north": (1, "EPSG:3413", 1)}


def read(path, sha256):
    with open(path, "rb") as file:
        data = file.read()
    if hashlib.sha256(data).hexdigest() != sha256:
        raise SystemExit(f"{path} is not the file this script was written for")
    return data


def topojson_polygons(data):
    """Polygons of a quantised topology, each a list of rings of (longitude, latitude)."""
    topology = json.loads(data)
    scale, translate = topology["transform"]["scale"], topology["transform"]["translate"]
    arcs = [np.cumsum(np.array(arc), axis=0) * scale + translate for arc in topology["arcs"]]

    def ring(indices):
        parts = [arcs[i] if i >= 0 else arcs[~i][::-1] for i in indices]
        return np.concatenate([parts[0]] + [part[1:] for part in parts[1:]])

    for geometry in topology["objects"]["land"]["geometries"]:
        for polygon in geometry["arcs"]:
            yield [ring(indices) for indices in polygon]


def pn2_rings(data):
    """Rings (is_hole, longitudes and latitudes) of Marble's PN2 version 2: nodes in 1/120 degree, each followed by
    nodes given as byte offsets from it; a record of flag 4 opens a group of an outer (2) and inner (3) rings."""
    version, _, _ = struct.unpack_from(">BIB", data, 0)
    if version != 2:
        raise SystemExit("PN2 of another version")
    at = 6
    while at < len(data):
        flag, _ = struct.unpack_from(">BI", data, at)
        at += 5
        if flag == 4:
            at += 1
            continue
        (nodes,) = struct.unpack_from(">I", data, at)
        at += 4
        points = []
        for _ in range(nodes):
            latitude, longitude, children = struct.unpack_from(">hhH", data, at)
            at += 6
            points.append((longitude, latitude))
            for _ in range(children):
                north, east = struct.unpack_from(">bb", data, at)
                at += 2
                points.append((longitude + east, latitude + north))
        yield flag == 3, np.array(points) / 120.0


def polygons_of(geometry):
    return [part for part in shapely.get_parts(geometry) if part.geom_type == "Polygon" and not part.is_empty]


def repaired(polygon, counts):
    if polygon.is_valid:
        return polygon
    counts["repaired"] += 1
    # "structure" keeps what a ring encloses; the default, by even and odd windings, opens holes where rings overlap.
    return shapely.make_valid(polygon, method="structure", keep_collapsed=False)


def rounded(geometry):
    """On the whole units that the file stores, and valid there."""
    return shapely.set_precision(geometry, UNIT_M)


def projected_land(data, projection, sign, counts):
    edge = projection.transform(np.arange(0, 360, 0.25), np.full(1440, sign * EDGE_LATITUDE))
    disc = Polygon(np.column_stack(edge))
    parts = []
    for rings in topojson_polygons(data):
        if not any((ring[:, 1] * sign > EDGE_LATITUDE - 1).any() for ring in rings):
            continue
        # A TopoJSON ring across the antimeridian is stitched, and one about the pole goes round it: both are ordinary
        # rings once projected.
        plane = [np.column_stack(projection.transform(ring[:, 0], ring[:, 1])) for ring in rings]
        parts.append(repaired(Polygon(plane[0], plane[1:]), counts))
    return shapely.intersection(shapely.union_all(parts), disc)


def simplified(geometry, smallest_m2):
    parts = polygons_of(rounded(shapely.simplify(geometry, TOLERANCE_M)))
    return rounded(shapely.union_all([part for part in parts if part.area >= smallest_m2]))


def projected_shelves(data, land, projection, counts):
    outer, inner = [], []
    for is_hole, ring in pn2_rings(data):
        plane = Polygon(np.column_stack(projection.transform(ring[:, 0], ring[:, 1])))
        (inner if is_hole else outer).append(repaired(plane, counts))
    # The Ross shelf is cut along 180 degrees; the small growth joins its halves (nodes are rounded to 0.9 km).
    shelves = shelves_joined(shapely.difference(shapely.union_all(outer), shapely.union_all(inner)))
    near = shapely.intersection(shelves.buffer(2 * GROUNDING_GAP_M), land.buffer(2 * GROUNDING_GAP_M))
    both = shapely.union(shelves, shapely.intersection(land, shelves.buffer(10 * GROUNDING_GAP_M)))
    closed = both.buffer(GROUNDING_GAP_M).buffer(-GROUNDING_GAP_M)
    shelves = shapely.union(shelves, shapely.intersection(closed, near))
    # Holes between shelf and land are glaciers that neither set has, not sea that a ship could be on.
    whole = [Polygon(part.exterior) for part in polygons_of(shapely.union(land, shelves)) if part.intersects(shelves)]
    filled = shapely.difference(shapely.union_all(whole), land)
    return shapely.union_all([part for part in polygons_of(filled) if part.intersects(near)] + [shelves])


def shelves_joined(shelves):
    return shelves.buffer(500.0, join_style="mitre").buffer(-500.0, join_style="mitre")


def store(path, hemisphere, geometry):
    if not geometry.is_valid:
        raise SystemExit(f"{path} would be invalid")
    polygons, points = [], 0
    parts = sorted(polygons_of(geometry), key=lambda part: (-part.area, part.bounds))
    for part in parts:
        part = orient(part.normalize())
        rings = []
        for ring in [part.exterior, *part.interiors]:
            coordinates = [(round(x / UNIT_M), round(y / UNIT_M)) for x, y in ring.coords[:-1]]
            points += len(coordinates)
            rings.append(coordinates)
        polygons.append(rings)
    size = write_polygons(path, hemisphere, UNIT_M, polygons)
    print(f"{path}: {len(polygons)} polygons, {points} points, {size} bytes")


def true_area_km2(geometry, crs, sign):
    equal_area = "EPSG:6931" if sign > 0 else "EPSG:6932"
    to_equal_area = pyproj.Transformer.from_crs(crs, equal_area, always_xy=True)
    dense = shapely.segmentize(geometry, 20e3)
    moved = shapely.transform(dense, lambda xy: np.column_stack(to_equal_area.transform(xy[:, 0], xy[:, 1])))
    return shapely.make_valid(moved).area / 1e6


def farthest_m(original, simple):
    """How far points each kilometre of either boundary are from the other, on the plane: the greatest distance and the
    99th hundredth, from the original to the simple one and back."""
    out = []
    for a, b in ((original, simple), (simple, original)):
        points = shapely.points(shapely.get_coordinates(shapely.segmentize(a.boundary, 1000.0)))
        pieces = []
        for line in shapely.get_parts(shapely.get_rings(shapely.get_parts(b))):
            coordinates = line.coords[:]
            pieces += [coordinates[i : i + 50] for i in range(0, len(coordinates) - 1, 49)]
        tree = shapely.STRtree([shapely.LineString(piece) for piece in pieces])
        _, distance = tree.query_nearest(points, return_distance=True, all_matches=False)
        out.append((round(distance.max()), round(np.percentile(distance, 99))))
    return out


def plot(path, drawn):
    import matplotlib

    matplotlib.use("Agg")
    import matplotlib.pyplot as plt
    from matplotlib.patches import PathPatch
    from matplotlib.path import Path

    figure, axes = plt.subplots(1, len(drawn), figsize=(11 * len(drawn), 11))
    for axis, layers in zip(axes, drawn):
        for geometry, colour in layers:
            for part in polygons_of(geometry):
                rings = [part.exterior, *part.interiors]
                axis.add_patch(
                    PathPatch(Path.make_compound_path(*[Path(ring.coords) for ring in rings]), fc=colour, ec="k", lw=0.2)
                )
        axis.autoscale_view()
        axis.set_aspect("equal")
    figure.savefig(path, dpi=110, bbox_inches="tight")


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("land")
    parser.add_argument("shelves")
    parser.add_argument("--plot")
    arguments = parser.parse_args()
    drawn = []
    for name, (hemisphere, crs, sign) in HEMISPHERES.items():
        projection = pyproj.Transformer.from_crs("EPSG:4326", crs, always_xy=True)
        counts = {"repaired": 0}
        full = projected_land(read(arguments.land, LAND_SHA256), projection, sign, counts)
        land = simplified(full, 0.0)
        store(f"coast_{name}.bin", hemisphere, land)
        lost = len(polygons_of(full)) - len(polygons_of(land))
        print(f"  repaired {counts['repaired']}, lost {lost} rocks; strays {farthest_m(full, land)}")
        print(f"  area {true_area_km2(full, crs, sign):.0f} -> {true_area_km2(land, crs, sign):.0f} km2")
        layers = [(land, "0.8")]
        if name == "south":
            ring = projection.transform(np.arange(0, 360, 0.25), np.full(1440, -60.0))
            antarctica = shapely.intersection(land, Polygon(np.column_stack(ring)))
            shelf_data = read(arguments.shelves, SHELVES_SHA256)
            shelves = simplified(projected_shelves(shelf_data, land, projection, counts), SMALLEST_SHELF_M2)
            under = shapely.intersection(shelves.buffer(OVERLAP_M), land)
            stored = rounded(shapely.union(shelves, under))
            store("ice_shelves_south.bin", hemisphere, stored)
            print(f"  Antarctica without shelves {true_area_km2(antarctica, crs, sign):.0f} km2")
            print(f"  shelves {true_area_km2(shapely.difference(stored, land), crs, sign):.0f} km2")
            layers.append((stored, "tab:cyan"))
        drawn.append(layers)
    if arguments.plot:
        plot(arguments.plot, drawn)


if __name__ == "__main__":
    main()
