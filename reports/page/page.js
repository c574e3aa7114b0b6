"use strict";
(function () {
  const runs = JSON.parse(document.getElementById("runs").textContent) || [];
  const root = document.documentElement;
  // Eight hues that the colour-blind can tell apart, then the same with other dashes.
  const hues = ["#0b5fa5", "#c4500b", "#1b7f5c", "#a02c6d", "#8a6d00", "#4a3fa0", "#5c6b73", "#0a8796"];
  const dashes = [[], [8, 4], [2, 4]];
  const names = { min: "minutes since plug-in", soc: "displayed charge [%]", kwh: "energy into the pack [kWh]", cold: "coldest pack temperature [°C]", pack: "power into the pack [kW]", charger: "power from the charger [kW]", heater: "pack heater [kW]" };

  // Dark and light: as the device has it, until somebody chooses.
  const shade = document.getElementById("shade");
  function setShade(dark) {
    root.classList.toggle("dark", dark);
    shade.setAttribute("aria-pressed", String(dark));
    draw();
  }
  shade.addEventListener("click", () => setShade(!root.classList.contains("dark")));

  // Standings: a column's button sorts by it, again the other way round.
  document.querySelectorAll("#standings thead th").forEach((th, i) => {
    th.querySelector("button").addEventListener("click", () => {
      const down = th.getAttribute("aria-sort") === "ascending";
      document.querySelectorAll("#standings thead th").forEach((o) => o.removeAttribute("aria-sort"));
      th.setAttribute("aria-sort", down ? "descending" : "ascending");
      const body = document.querySelector("#standings tbody");
      const key = (tr) => { const c = tr.children[i]; return c.dataset.v === undefined ? c.textContent : Number(c.dataset.v); };
      Array.from(body.rows).sort((a, b) => {
        const x = key(a), y = key(b);
        // What has no value comes last, whichever way round.
        if (typeof x !== typeof y) return typeof x === "number" ? -1 : 1;
        const d = typeof x === "number" ? x - y : x.localeCompare(y);
        return down ? -d : d;
      }).forEach((tr) => body.append(tr));
    });
  });

  const cars = document.getElementById("cars");
  const several = {};
  runs.forEach((r) => { several[r.car] = (several[r.car] || 0) + 1; });
  runs.forEach((r, i) => {
    const label = document.createElement("label"), box = document.createElement("input");
    box.type = "checkbox"; box.value = String(i); box.checked = r.ranked;
    box.addEventListener("change", draw);
    label.style.setProperty("--line", hues[i % hues.length]);
    label.style.setProperty("--dash", ["solid", "dashed", "dotted"][Math.floor(i / hues.length) % 3]);
    const text = document.createElement("bdi");
    text.textContent = " " + name(r);
    label.append(box, text);
    cars.append(label);
  });
  if (!runs.some((r) => r.ranked)) cars.querySelectorAll("input").forEach((b) => { b.checked = true; });
  function name(r) {
    const car = r.car.length > 60 ? r.car.slice(0, 60) + "…" : r.car;
    return several[r.car] > 1 ? car + " (" + r.id + ")" : car;
  }

  const chart = document.getElementById("chart");
  let plot = null;
  function chosen(group) { return document.querySelector("input[name=" + group + "]:checked").value; }

  // One table of x and y for a run, x rising. Over anything but minutes only the
  // charge counts, from the first power into the pack on, and the last value at
  // one x holds.
  function table(r, x, y) {
    const at = new Map();
    let charging = false;
    r.min.forEach((m, i) => {
      if (r.pack[i] !== null && r.pack[i] >= 1) charging = true;
      if (r[x][i] === null || x !== "min" && !charging) return;
      at.set(r[x][i], r[y][i]);
    });
    const xs = Array.from(at.keys()).sort((a, b) => a - b);
    return [xs, xs.map((k) => at.get(k))];
  }

  function draw() {
    if (plot) { plot.destroy(); plot = null; }
    const x = chosen("x"), y = chosen("y");
    const picked = Array.from(cars.querySelectorAll("input:checked")).map((b) => Number(b.value));
    chart.setAttribute("aria-label", "Chart: " + names[y] + " over " + names[x] + ", " + picked.map((i) => name(runs[i])).join(", "));
    if (picked.length === 0) return;
    const css = getComputedStyle(root), ink = css.getPropertyValue("--ink"), rule = css.getPropertyValue("--rule");
    const axis = (label) => ({ label, stroke: ink, grid: { stroke: rule, width: 1 }, ticks: { stroke: rule } });
    plot = new uPlot({
      width: chart.clientWidth, height: Math.max(320, Math.min(520, chart.clientWidth * 0.55)),
      scales: { x: { time: false } },
      axes: [axis(names[x]), axis(names[y])],
      cursor: { drag: { x: true, y: false } },
      series: [{ label: names[x] }].concat(picked.map((i) => ({
        label: name(runs[i]), stroke: hues[i % hues.length], width: 2, dash: dashes[Math.floor(i / hues.length) % 3], spanGaps: x !== "min",
        value: (u, v) => v === null || v === undefined ? "–" : v.toFixed(1),
      }))),
    }, uPlot.join(picked.map((i) => table(runs[i], x, y))), chart);
  }
  document.querySelectorAll("input[name=x], input[name=y]").forEach((b) => b.addEventListener("change", draw));
  document.getElementById("whole").addEventListener("click", draw);
  window.addEventListener("resize", draw);
  setShade(window.matchMedia("(prefers-color-scheme: dark)").matches);
})();
