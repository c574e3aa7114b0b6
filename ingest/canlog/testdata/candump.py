#!/usr/bin/env python3
"""Turn a raw CAN log in columns into the text that candump -L -t z would write.

    candump.py frames.csv [ID ...] > frames.log

With identifiers (hexadecimal) only their frames are kept. Bytes beyond a frame's
length, which the logger left in its file, are dropped. With --sums it prints,
instead of the log, what the tests hold the decoded pack frames to, made without
the project's code: frames of 0x112, seconds, the trapezoid of V x I in kWh, the
peak in kW, the charge.
"""
import csv
import sys

def main():
    sums = "--sums" in sys.argv
    args = [a for a in sys.argv[1:] if a != "--sums"]
    ids = {int(a, 16) for a in args[1:]}
    rows = []
    for row in csv.DictReader(open(args[0], newline="")):
        ident, n, us = int(row["ID"], 16), int(row["LEN"]), int(row["Time Stamp"])
        data = [int(row[f"D{i}"], 16) for i in range(1, 9)]
        if sums and ident == 0x112:
            rows.append((us / 1e6, (data[2] | data[3] << 8) / 10, ((data[0] | data[1] << 8) - 8192) / 10, ((data[4] | data[5] << 8) & 0xFFF) / 10))
        if not sums and (not ids or ident in ids):
            name = f"{ident:08X}" if row["Extended"] == "true" else f"{ident:03X}"
            print(f"({us // 1000000:03d}.{us % 1000000:06d}) can0 {name}#{''.join(f'{b:02X}' for b in data[:n])}")
    if sums:
        kwh = sum((b[0] - a[0]) * (a[1] * a[2] + b[1] * b[2]) / 2 for a, b in zip(rows, rows[1:])) / 3.6e6
        peak = max(v * i for _, v, i, _ in rows) / 1000
        print(f"{len(rows)} frames, {rows[-1][0] - rows[0][0]:.2f} s, {kwh:.5f} kWh, peak {peak:.2f} kW, charge {rows[0][3]} to {rows[-1][3]} %")

main()
