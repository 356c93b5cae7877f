"""Draws the invented ice of the demonstration scenarios.

    python -m venv venv && venv/bin/pip install shapely==2.2.0 pyproj==3.7.2 numpy==2.4.6 rasterio==1.4.4
    venv/bin/python make_ice.py

NOTHING HERE WAS EVER OBSERVED. The charts look like those of an ice service: GeoJSON (RFC 7946, cut at
the antimeridian) of polygons with SIGRID-3 attributes. Each chart is a partition of the sea: open
water, bands of pack by their distance from the edge, areas of older ice, tongues and polynyas, drawn
as smooth curves on the polar stereographic plane. Running the script twice gives the same bytes.
"""

import json
import math
from datetime import datetime, timedelta
from pathlib import Path

import numpy as np
import pyproj
import rasterio
import shapely
from rasterio.transform import from_origin
from shapely.geometry import LineString, MultiPolygon, Polygon, box
from shapely.ops import unary_union

HERE = Path(__file__).parent
NOTE = "invented for demonstration"
STEP_DEG = 0.75


class Plane:
    """A polar stereographic plane and what is drawn on it."""

    def __init__(self, epsg, sign):
        self.sign = sign
        self.to_plane = pyproj.Transformer.from_crs(4326, epsg, always_xy=True)
        self.to_lon_lat = pyproj.Transformer.from_crs(epsg, 4326, always_xy=True)

    def points(self, longitudes, latitudes):
        x, y = self.to_plane.transform(np.asarray(longitudes), np.asarray(latitudes))
        return np.column_stack([x, y])

    def poleward(self, latitude, west=-180.0, east=180.0):
        """What lies poleward of a curve latitude(longitude)."""
        longitudes = np.arange(west, east + STEP_DEG / 2, STEP_DEG)
        ring = self.points(longitudes, [latitude(lon) for lon in longitudes])
        if east - west < 360:
            back = np.arange(east, west - STEP_DEG / 2, -4 * STEP_DEG)
            ring = np.vstack([ring, self.points(back, np.full(len(back), self.sign * 86.0))])
        return Polygon(ring).buffer(0)

    def blob(self, longitude, latitude, along_km, across_km, turn_deg, phase, ragged=0.12):
        """An ellipse with a ragged outline; `turn_deg` turns it from east to north."""
        centre = self.points([longitude], [latitude])[0]
        east = self.points([longitude + 0.01], [latitude])[0] - centre
        base = math.atan2(east[1], east[0])
        angle = np.linspace(0, 2 * math.pi, 72, endpoint=False)
        ripple = 1 + ragged * (
            np.sin(3 * angle + phase) + 0.6 * np.sin(5 * angle + 2.1 * phase) + 0.4 * np.sin(8 * angle + phase)
        )
        x = 1000 * along_km * ripple * np.cos(angle)
        y = 1000 * across_km * ripple * np.sin(angle)
        turn = base + math.radians(turn_deg)
        ring = np.column_stack(
            [x * math.cos(turn) - y * math.sin(turn), x * math.sin(turn) + y * math.cos(turn)]
        )
        return Polygon(ring + centre).buffer(0)

    def halves(self, area):
        """The parts of an area on either side of the meridians 0 and 180."""
        far = 2e7
        # East longitudes of the half whose middle is the meridian 90.
        towards = self.points([90.0], [self.sign * 60.0])[0]
        towards = towards / np.hypot(*towards)
        along = np.array([-towards[1], towards[0]])
        for side in (1, -1):
            across = side * towards * far
            # The pole is a corner of the half, so that it is one of what is cut there.
            corners = [along * far, (0.0, 0.0), -along * far, -along * far + across, along * far + across]
            yield side, shapely.intersection(area, Polygon(corners))

    def geojson_polygons(self, area):
        """Rings in longitude and latitude, cut at the antimeridian and at the pole."""
        out = []
        for side, part in self.halves(area):
            for polygon in getattr(part, "geoms", [part]):
                if not isinstance(polygon, Polygon) or polygon.area < 1e6:
                    continue
                polygon = shapely.geometry.polygon.orient(polygon, 1.0)
                out.append([self.ring(ring, side) for ring in [polygon.exterior, *polygon.interiors]])
        return out

    def ring(self, ring, side):
        points = []
        for x, y in ring.coords:
            if math.hypot(x, y) < 1.0:
                points.append((None, self.sign * 90.0))
                continue
            lon, lat = self.to_lon_lat.transform(x, y)
            # Both 180 and -180 are right; the ring's own side is meant.
            if abs(abs(lon) - 180) < 1e-6:
                lon = 180.0 * side
            points.append((round(lon, 3), round(lat, 3)))
        if points[0][0] is None:
            # Begin elsewhere than at the pole, so that it has a neighbour on either hand.
            points = points[1:]
            points.append(points[0])
            points.insert(-1, (None, self.sign * 90.0))
        out = []
        for index, (lon, lat) in enumerate(points):
            if lon is None:
                # The pole is a line in longitude and latitude.
                out.append((points[index - 1][0], lat))
                out.append((points[index + 1][0], lat))
            elif not out or out[-1] != (lon, lat):
                out.append((lon, lat))
        if out[0] != out[-1]:
            out.append(out[0])
        return out


def curve(anchors, ripple, phase, period=None):
    """A smooth latitude(longitude) through anchors, with ripples as eddies make them."""
    longitudes = np.array(sorted(anchors))
    latitudes = np.array([anchors[lon] for lon in longitudes], float)

    def latitude(lon):
        if period:
            wrapped = (lon - longitudes[0]) % period + longitudes[0]
            xs = np.append(longitudes, longitudes[0] + period)
            ys = np.append(latitudes, latitudes[0])
        else:
            wrapped, xs, ys = lon, longitudes, latitudes
        index = int(np.clip(np.searchsorted(xs, wrapped, side="right") - 1, 0, len(xs) - 2))
        share = (wrapped - xs[index]) / (xs[index + 1] - xs[index])
        share = share * share * (3 - 2 * share)
        smooth = ys[index] * (1 - share) + ys[index + 1] * share
        # Whole waves in a turn, so that the curve closes.
        waves = (
            np.sin(math.radians(11 * lon) + phase)
            + 0.7 * np.sin(math.radians(23 * lon) + 1.7 * phase)
            + 0.5 * np.sin(math.radians(47 * lon) + 2.9 * phase)
            + 0.3 * np.sin(math.radians(83 * lon) + 0.6 * phase)
        )
        return smooth + ripple * waves

    return latitude


def egg(total, *parts, rest=None, kind="I"):
    """SIGRID-3 attributes: total, then (concentration, stage, form), oldest first."""
    properties = {"CT": total, "CA": None, "SA": None, "FA": None, "CB": None, "SB": None, "FB": None}
    properties |= {"CC": None, "SC": None, "FC": None, "CN": None, "CD": rest, "CF": None}
    for letter, (concentration, stage, form) in zip("ABC", parts):
        properties |= {f"C{letter}": concentration, f"S{letter}": stage, f"F{letter}": form}
    return properties | {"POLY_TYPE": kind}


WATER = egg("00", kind="W")


def partition(everything, painted):
    """Takes areas in the order of precedence, and leaves each what those before have left."""
    taken = Polygon()
    out = []
    for name, properties, area in painted:
        own = shapely.difference(shapely.intersection(area, everything), taken)
        # Scraps go to the area below them.
        own = unary_union([part for part in getattr(own, "geoms", [own]) if part.area > 1e9])
        if not own.is_empty:
            taken = unary_union([taken, own])
            out.append((name, properties, own))
    out.append(("open water", WATER, shapely.difference(everything, taken)))
    return out


def write(path, plane, areas):
    features = []
    for name, properties, area in areas:
        polygons = plane.geojson_polygons(area)
        if not polygons:
            continue
        geometry = (
            {"type": "Polygon", "coordinates": polygons[0]}
            if len(polygons) == 1
            else {"type": "MultiPolygon", "coordinates": polygons}
        )
        features.append(
            {"type": "Feature", "properties": {"name": name, **properties, "note": NOTE}, "geometry": geometry}
        )
    document = {"type": "FeatureCollection", "note": NOTE, "features": features}
    # A feature a line, so that a change shows in a comparison.
    text = json.dumps({**document, "features": []}, separators=(",", ":"))[:-2]
    lines = ",\n".join(json.dumps(feature, separators=(",", ":")) for feature in features)
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(f"{text}\n{lines}\n]}}\n")
    print(path.relative_to(HERE), path.stat().st_size, len(features))


def mix(early, late, share):
    return {lon: early[lon] * (1 - share) + late[lon] * share for lon in early}


def austral_summer():
    """A seasonal pack that retreats to the coast, and a tongue of old ice that drifts off westward."""
    plane = Plane(3031, -1)
    west, east = 84.0, 210.0
    everything = shapely.difference(
        plane.poleward(lambda lon: -34.0, west, east), plane.poleward(lambda lon: -84.0, west, east)
    )
    early = {84: -61.0, 100: -61.6, 112: -62.6, 122: -62.0, 132: -61.4, 140: -62.2, 148: -63.3, 156: -64.2,
             164: -65.0, 172: -66.0, 180: -67.0, 195: -67.5, 210: -67.0}
    late = {84: -63.9, 100: -63.8, 112: -64.6, 122: -63.7, 132: -62.9, 140: -63.9, 148: -65.6, 156: -67.2,
            164: -69.0, 172: -70.5, 180: -71.0, 195: -71.5, 210: -70.5}
    start = datetime(2027, 1, 4)
    for number in range(6):
        share = [0.0, 0.3, 0.58, 0.82, 0.97, 1.0][number]
        phase = 0.35 * number
        edge = curve(mix(early, late, share), 0.10, 0.4 + phase)

        def inside(off, wave):
            return curve({lon: lat - off for lon, lat in mix(early, late, share).items()}, 0.08, wave + phase)

        drift = 0.95 * number
        tongue = plane.blob(137.2 - drift, -64.35 + 0.02 * number, 215 - 9 * number, 75 - 4 * number, -28, 0.5 + phase)
        apron = plane.blob(137.4 - drift, -64.30 + 0.02 * number, 290 - 14 * number, 118 - 8 * number, -28, 1.1 + phase)
        lead = plane.blob(133.4 - 0.5 * drift, -64.9, 150, 20 + 4 * number, 62, 0.2 + phase, 0.08)
        grown = 1 + 0.16 * number
        polynyas = unary_union([
            plane.blob(145.6, -66.9, 95 * grown, 40 * grown, 12, 0.3 + phase),
            plane.blob(120.8, -66.4, 80 * grown, 34 * grown, -5, 1.9 + phase),
            plane.blob(135.0, -65.75, 62 * grown, 26 * grown, -8, 2.6 + phase),
            plane.blob(112.5, -65.9, 50 * grown, 26 * grown, 8, 0.9 + phase),
            plane.blob(175.0, -75.0, 260 * grown, 210 * grown, 0, 1.3 + phase),
        ])
        fresh = [] if number < 5 else [
            ("new ice in a polynya", egg("46", (None, "81", "01")), polynyas.buffer(-12_000))
        ]
        painted = [
            *fresh,
            ("polynya", egg("10", (None, "85", "02")), polynyas),
            ("lead", egg("24", (None, "87", "03")), lead),
            ("tongue of second-year ice", egg("91", ("40", "96", "05"), ("40", "93", "05"), ("10", "91", "04")), tongue),
            ("apron of the tongue", egg("80", ("10", "96", "04"), ("40", "93", "04"), ("30", "91", "03")), apron),
            ("coastal pack", egg("91", ("60", "93", "05"), ("30", "91", "04")), plane.poleward(inside(3.1, 2.2), west, east)),
            ("close pack", egg("79", ("30", "93", "04"), ("50", "91", "04")), plane.poleward(inside(1.75, 1.6), west, east)),
            ("open pack", egg("46", ("20", "91", "03"), ("30", "88", "03")), plane.poleward(inside(0.75, 0.9), west, east)),
            ("marginal ice", egg("13", (None, "87", "02")), plane.poleward(edge, west, east)),
        ]
        date = start + timedelta(days=12 * number)
        write(HERE / "austral-summer" / f"ice-{date:%Y%m%d}.geojson", plane, partition(everything, painted))


def arctic_late_summer():
    """The pack at its yearly least: old ice towards Greenland and Canada, first-year towards Siberia."""
    plane = Plane(3413, 1)
    # A map sheet: farther than any voyage of the scenario goes.
    everything = plane.poleward(lambda lon: 58.0)
    early = {-180: 73.5, -150: 72.5, -120: 71.0, -90: 70.0, -60: 71.0, -36: 70.0, -18: 74.5, -4: 78.6, 8: 80.4,
             20: 81.0, 40: 81.0, 60: 80.8, 80: 80.4, 100: 79.8, 120: 78.9, 135: 77.6, 150: 75.9, 165: 74.4}
    late = {-180: 77.2, -150: 75.2, -120: 72.5, -90: 73.0, -60: 75.0, -36: 73.0, -18: 77.2, -4: 80.2, 8: 81.5,
            20: 82.1, 40: 82.7, 60: 83.2, 80: 83.5, 100: 83.4, 120: 82.9, 135: 82.0, 150: 80.2, 165: 78.6}
    start = datetime(2027, 8, 1)
    for number in range(6):
        share = [0.0, 0.42, 0.8, 1.0, 0.9, 0.52][number]
        phase = 0.3 * number

        def band(off, ripple, wave):
            anchors = {lon: lat + off for lon, lat in mix(early, late, share).items()}
            return plane.poleward(curve(anchors, ripple, wave + phase, 360))

        old_core = plane.blob(-62.0, 84.6, 900, 560, 14 + number, 0.7 + phase, 0.07)
        old_fringe = plane.blob(-62.0, 85.6, 1240, 780, 14 + number, 1.4 + phase, 0.07)
        floes = unary_union([
            plane.blob(158.0 - 2 * number, 84.6, 150, 85, 20, 0.4 + phase),
            plane.blob(112.0 - 3 * number, 85.4, 120, 60, -30, 1.2 + phase),
        ])
        leads = unary_union([
            plane.blob(128.0 - 1.5 * number, 84.3, 210, 42 + 4 * number, 78, 0.9 + phase, 0.09),
            plane.blob(70.0 - 2 * number, 84.6, 190, 34 + 3 * number, 40, 2.0 + phase, 0.09),
        ])
        open_pack, close_pack, core = band(0.8, 0.09, 0.8), band(1.7, 0.08, 1.5), band(3.3, 0.08, 2.4)
        refrozen = number >= 4
        painted = [
            ("leads", egg("46", ("30", "91", "04"), ("20", "87", "03")) if not refrozen
             else egg("80", ("30", "91", "04"), ("50", "84", "03")), shapely.intersection(leads, close_pack)),
            ("old ice", egg("92", ("90", "97", "06"), ("10", "93", "05")), shapely.intersection(old_core, core)),
            ("old ice, looser", egg("80", ("60", "97", "05"), ("20", "93", "04")), shapely.intersection(old_core, open_pack)),
            ("old and first-year ice", egg("91", ("30", "97", "05"), ("30", "96", "05"), ("40", "93", "05")),
             shapely.intersection(old_fringe, core)),
            ("old and first-year ice, looser", egg("79", ("20", "97", "04"), ("30", "96", "04"), ("30", "93", "04")),
             shapely.intersection(old_fringe, open_pack)),
            ("field of second-year floes", egg("91", ("60", "96", "06"), ("30", "93", "05")), shapely.intersection(floes, close_pack)),
            ("very close pack", egg("91", ("20", "96", "05"), ("40", "93", "05"), ("30", "91", "04")), core),
            ("close pack", egg("79", ("40", "93", "04"), ("40", "91", "04")), close_pack),
            ("open pack", egg("46", ("30", "91", "03"), ("20", "88", "03")), open_pack),
            ("marginal ice", egg("13", (None, "87", "02")), band(0.0, 0.11, 0.2)),
        ]
        if refrozen:
            width = 0.5 if number == 4 else 1.1
            painted.append(
                ("new ice", egg("46" if number == 4 else "70", ("40", "84", "22"), ("20", "81", "01")), band(-width, 0.12, 3.1))
            )
        date = start + timedelta(days=14 * number)
        write(HERE / "arctic-late-summer" / f"ice-{date:%Y%m%d}.geojson", plane, partition(everything, painted))


def sea_ice_index_south():
    """One invented image of the whole Southern Ocean in the layout of the NSIDC Sea Ice Index."""
    west, north = -3_950_000, 4_350_000
    columns, rows = np.meshgrid(np.arange(316), np.arange(332))
    to_lon_lat = pyproj.Transformer.from_crs(3412, 4326, always_xy=True)
    longitude, latitude = to_lon_lat.transform(west + (columns + 0.5) * 25_000, north - (rows + 0.5) * 25_000)
    edge = -65.3 - 1.6 * np.cos(np.radians(longitude + 40)) + 0.5 * np.sin(np.radians(7 * longitude))
    # 15 % at the edge, all ice four degrees in; less than 15 % counts as none, as the service does.
    tenths = np.clip(150 + (edge - latitude) * 212, 0, 1000)
    tenths += 30 * np.sin(columns * 0.9) * np.cos(rows * 0.7)
    image = np.where(latitude < edge, np.clip(tenths, 150, 1000), 0).round().astype(np.uint16)
    image[latitude < -84] = 2540
    path = HERE / "austral-summer" / "concentration-20270104.tif"
    with rasterio.open(
        path, "w", driver="GTiff", width=316, height=332, count=1, dtype="uint16", crs="EPSG:3412",
        transform=from_origin(west, north, 25_000, 25_000), photometric="palette", compress="deflate",
    ) as out:
        out.update_tags(note=NOTE)
        out.write_colormap(1, {i: (min(255, i // 4), 128, 255, 255) for i in range(0, 1001, 50)})
        out.write(image, 1)
    print(path.relative_to(HERE), path.stat().st_size)


if __name__ == "__main__":
    austral_summer()
    arctic_late_summer()
    sea_ice_index_south()
