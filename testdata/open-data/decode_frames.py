#!/usr/bin/env python3
"""Decode the pack's frames (id 0x112) of a raw CAN log into a delimited log.

    decode_frames.py frames.csv > car.csv

Rule (from the data set's own firmware): bytes are little endian;
I = (D2D1 - 8192) * 0.1 A, V = D4D3 * 0.1 V, SoC = 12 bits of D6D5 * 0.1 %.
With --sums it prints, instead of the log, the count, the duration and the
trapezoid of V x I over the frames: the expected values that the tests hold,
made without the project's code.
"""
import csv
import sys

def frames(path):
    with open(path, newline="") as f:
        for row in csv.DictReader(f):
            if int(row["ID"], 16) != 0x112:
                continue
            d = [int(row[f"D{i}"], 16) for i in range(1, 7)]
            yield (int(row["Time Stamp"]), (d[2] | d[3] << 8) / 10,
                   ((d[0] | d[1] << 8) - 8192) / 10, ((d[4] | d[5] << 8) & 0xFFF) / 10)

def main():
    path, sums = sys.argv[1], "--sums" in sys.argv
    rows = list(frames(path))
    if sums:
        t = [r[0] / 1e6 for r in rows]
        p = [r[1] * r[2] / 1000 for r in rows]
        kwh = sum((t[i] - t[i - 1]) * (p[i] + p[i - 1]) / 2 for i in range(1, len(t))) / 3600
        print(f"{len(rows)} frames, {t[-1] - t[0]:.6f} s, {kwh:.8f} kWh, peak {max(p):.4f} kW, SoC {rows[0][3]} to {rows[-1][3]}")
        return
    print("Time Stamp;Pack V;Pack A;SoC %")
    for t, v, i, soc in rows:
        print(f"{t};{v:.1f};{i:.1f};{soc:.1f}")

main()
