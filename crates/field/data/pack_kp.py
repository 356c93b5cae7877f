"""Packs the history of the Kp index into kp_thirds.bin.

    python pack_kp.py kp_3h_thirds_1957-2026.csv > kp_thirds.bin

The input has a row for each day, the date and eight values of Kp in thirds (0 to 27), without gaps.
The output is those values in order of time, five bits each, the most significant bit first, the last
byte filled up with zeros. The first day and the number of values stand in src/kp_history.rs.
"""

import csv
import datetime
import sys

day = datetime.timedelta(days=1)
values, expected = [], None
with open(sys.argv[1], newline="") as file:
    for row in csv.DictReader(file):
        date = datetime.date.fromisoformat(row["date"])
        assert expected in (None, date), f"a gap before {date}"
        expected = date + day
        values += [int(row[f"kp3_{slot}"]) for slot in range(8)]
assert all(0 <= value <= 27 for value in values)
bits = "".join(f"{value:05b}" for value in values)
bits += "0" * (-len(bits) % 8)
sys.stdout.buffer.write(bytes(int(bits[at : at + 8], 2) for at in range(0, len(bits), 8)))
print(f"{len(values)} values, {len(values) // 8} days to {date}", file=sys.stderr)
