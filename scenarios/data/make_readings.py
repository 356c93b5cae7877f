"""Invents readings of a party that walks in to the south dip pole.

    python make_readings.py ../../target/debug/dipward > austral-summer/readings.csv

Only Python's own library. The field is IGRF-14's by `dipward field`; added are an invented crust
(b = 38 nT north, -22 nT east), invented currents that turn with the day and wander, of which a base
station sees all but a little, and errors of the instruments. One bearing is 40 degrees wrong, as of a
reader with a knife in his pocket.
"""

import csv
import io
import math
import random
import subprocess
import sys
import tempfile

rng = random.Random(20270205)
# Hours from the start, distance (km) and bearing (degrees) from the model's pole of the day.
WALK = [
    (0, 62, 20), (6, 48, 24), (12, 35, 30), (18, 24, 37), (24, 15, 45), (27, 10, 60),
    (30, 7, 90), (31, 5, 170), (31.5, 8, 20), (32, 6, 200), (33, 8, 290), (33.5, 8, 110),
]
CRUST = (38.0, -22.0)
# IGRF-14's pole of 6 February 2027, moved by the crust: -J^-1 b is 6.1 km south and 4.9 km east.
POLE_WITH_CRUST = (-63.7766 - 0.0548, 134.7333 + 0.0998)


def place(distance_km, bearing_deg):
    lat, lon = map(math.radians, POLE_WITH_CRUST)
    arc, course = distance_km / 6371.0, math.radians(bearing_deg)
    lat2 = math.asin(math.sin(lat) * math.cos(arc) + math.cos(lat) * math.sin(arc) * math.cos(course))
    lon2 = lon + math.atan2(
        math.sin(course) * math.sin(arc) * math.cos(lat), math.cos(arc) - math.sin(lat) * math.sin(lat2)
    )
    return round(math.degrees(lat2), 5), round(math.degrees(lon2), 5)


def main():
    points = io.StringIO()
    writer = csv.writer(points)
    writer.writerow(["time", "latitude_deg", "longitude_deg"])
    for hour, km, bearing in WALK:
        whole = 6 + int(hour)
        time = f"2027-02-{5 + whole // 24:02}T{whole % 24:02}:{30 if hour % 1 else 0:02}Z"
        writer.writerow([time, *place(km, bearing)])
    with tempfile.NamedTemporaryFile("w", suffix=".csv") as file:
        file.write(points.getvalue())
        file.flush()
        command = [sys.argv[1], "field", "--points", file.name]
        text = subprocess.run(command, check=True, capture_output=True, text=True).stdout
    out = csv.writer(sys.stdout, lineterminator="\n")
    out.writerow(
        "time latitude_deg longitude_deg position_sigma_km declination_deg declination_sigma_deg "
        "inclination_deg inclination_sigma_deg base_x_nt base_y_nt kp instrument calibration".split()
    )
    currents = [0.0, 0.0]
    for index, (row, (hour, _, _)) in enumerate(zip(csv.DictReader(io.StringIO(text)), WALK)):
        turn = 2 * math.pi * (hour + 15) / 24
        currents = [0.5 * part + rng.gauss(0, 8) for part in currents]
        added = [18 * math.cos(turn) + currents[0], 18 * math.sin(turn) + currents[1]]
        x, y, z = (float(row[name]) for name in ("x_nt", "y_nt", "z_nt"))
        x, y = x + CRUST[0] + added[0], y + CRUST[1] + added[1]
        h = math.hypot(x, y)
        d_sigma = round(max(0.5, math.degrees(6 / h)), 1)
        d = math.degrees(math.atan2(y, x)) + rng.gauss(0, d_sigma) + (40 if index == 3 else 0)
        i = math.degrees(math.atan2(z, h)) + rng.gauss(0, 0.006)
        base = [round(part + rng.gauss(0, 5)) for part in added]
        out.writerow(
            [row["time"], row["latitude_deg"], row["longitude_deg"], 0.02, f"{(d + 180) % 360 - 180:.1f}",
             d_sigma, f"{max(i, -90):.3f}", 0.006, *base, 1.33, "DI fluxgate theodolite", "2027-01-02 Hobart"]
        )


if __name__ == "__main__":
    main()
