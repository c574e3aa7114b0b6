"""Five figures of many sessions with pandas, as a yardstick for coldbench's.

    python3 figures.py READINGS.parquet

The definitions are coldbench's, without uncertainties, gaps, fallbacks, notes
and failed connections: the plainest script that gives the same values for clean
logs. Prints the seconds it took, the peak of its memory in MiB, and the sum of
each figure over all sessions.
"""

import json
import resource
import sys
import time

import numpy as np
import pandas as pd


def integral(g, kw, weight):
    """Trapezoids of kW over s, in kWh, of the pairs whose weight is true."""
    t, p = g["t_s"], g[kw]
    dt = t.groupby(g["session_id"]).diff()
    mean = (p + p.groupby(g["session_id"]).shift()) / 2
    return (mean * dt).where(weight & (dt <= 60)).groupby(g["session_id"]).sum() / 3600


def main(path):
    began = time.perf_counter()
    g = pd.read_parquet(path)
    g = g.sort_values(["session_id", "t_s"], kind="stable").reset_index(drop=True)
    g["kw"] = g["pack_voltage_v"] * g["pack_current_a"] / 1000

    # Onset: the first run of at least 1 kW that lasts 60 s, middle of its first pair.
    charging = g["kw"] >= 1
    run = (charging != charging.groupby(g["session_id"]).shift()).groupby(g["session_id"]).cumsum()
    g["run"] = run
    runs = g[charging].groupby(["session_id", "run"])["t_s"].agg(["min", "max"])
    first = runs[runs["max"] - runs["min"] >= 60].groupby("session_id")["min"].first()
    below = g["t_s"].where(~charging & (g["t_s"] < g["session_id"].map(first))).groupby(g["session_id"]).max()
    onset = (first + below) / 2

    delay = onset / 60
    into_pack = integral(g, "kw", True)

    # Energy before the onset: whole pairs before it, and half of the pair it lies in.
    at = g["session_id"].map(onset)
    whole = integral(g, "charger_power_kw", g["t_s"] <= at)
    b = g[g["t_s"] <= at].groupby("session_id").tail(1).set_index("session_id")
    a = g[g["t_s"] > at].groupby("session_id").head(1).set_index("session_id")
    share = (onset - b["t_s"]) / (a["t_s"] - b["t_s"])
    mid = b["charger_power_kw"] + (a["charger_power_kw"] - b["charger_power_kw"]) * share
    before = whole + (b["charger_power_kw"] + mid) / 2 * (onset - b["t_s"]) / 3600

    # 10 to 80 %: the middles of the pairs that pass them, after the onset.
    level = np.floor(g["soc_pct"]).where(g["t_s"] > at).groupby(g["session_id"]).cummax()
    previous = g["t_s"].groupby(g["session_id"]).shift()

    def crossing(pct):
        hit = g[level >= pct].groupby("session_id").head(1)
        return pd.Series((hit["t_s"].to_numpy() + previous[hit.index].to_numpy()) / 2, index=hit["session_id"])

    span = (crossing(80) - crossing(10)) / 60

    # Peak: the highest mean over the 10 s that end with a row.
    indexed = g.set_index(pd.to_timedelta(g["t_s"], unit="s"))
    smooth = indexed.groupby("session_id")["kw"].rolling("9500ms", closed="both").mean()
    peak = smooth.groupby(level=0).max()

    took = time.perf_counter() - began
    print(json.dumps({
        "seconds": took,
        "peak_mib": resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024,
        "delay_to_onset": delay.sum(), "energy_into_pack": into_pack.sum(), "energy_before_onset": before.sum(),
        "time_10_80": span.sum(), "peak_power": peak.sum(),
    }))


main(sys.argv[1])
