"""Expected values of metrics/sql/delay_shift.test, worked out with numpy and no
code of coldbench's: python3 thermal_fit.py (numpy 1.24).

A pack of 0.12 kWh/K (with what the heater loses) is heated by 6 kW from -18 °C in
air of -18 °C and cools with a time constant of 10 h: T follows the closed form
T_air + P/k (1 - exp(-t k/C)). A row of temperature every 50 s until the onset at 1795 s. Also prints the rows.
"""

import numpy as np

C, tau, P, air, ref = 0.12, 10.0, 6.0, -18.0, -20.0
t = np.arange(0, 1751, 50.0)
T = air + P / (C / tau) * (1 - np.exp(-t / 3600 / tau))
T = np.round(T, 6)
Q = P * t / 3600
A = np.concatenate([[0], np.cumsum((T[1:] + T[:-1]) / 2 - air) * 50 / 3600])

n = len(t)
y, q, x = T - T.mean(), Q - Q.mean(), -A - (-A).mean()
line = np.polyfit(Q, T, 1)
s2 = max(np.sum((T - np.polyval(line, Q)) ** 2) / (n - 2), 1e-4)  # noise, from a line on the energy alone
prior = s2 / 0.03**2
rows = np.column_stack([np.append(q, 0), np.append(x, np.sqrt(prior))])
a, b = np.linalg.lstsq(rows, np.append(y, np.sqrt(prior) * 0.03), rcond=None)[0]
cov = s2 * np.linalg.inv(rows.T @ rows)
start_c = T.mean() - a * Q.mean() + b * A.mean()
rise = a * Q[-1] - b * A[-1]
end = start_c + rise
pace = a * P


def shift(loss, pace=pace):
    return 60 / loss * (np.log(1 - loss * (end - start_c) / pace) - np.log(1 - loss * (end - ref) / pace))


steps = max(2 * rise / 0.05, 4)
a_u = np.sqrt(cov[0, 0] * max(1, n / steps))
start_u = np.sqrt(0.5**2 + s2 / steps)
by_a = shift(b, (a + a_u) * P) - shift(b)
by_b = shift(b + np.sqrt(cov[1, 1])) - shift(b)
r = cov[0, 1] / np.sqrt(cov[0, 0] * cov[1, 1])
u = np.sqrt(by_a**2 + by_b**2 + 2 * r * by_a * by_b + (60 / pace * start_u) ** 2)
print(f"1/a {1/a:.6g} kWh/K, b {b:.6g} /h, start {start_c:.6g} °C, onset {end:.6g} °C, n {n}, r {r:.4g}: shift {shift(b):.6g} ± {u:.4g} min")
for i, c in zip(t, T):
    print(f"t={i:.0f} pack_temp_mean_c={c:.6f}")
