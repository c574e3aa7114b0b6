"use strict";

// The chart: lines of the sessions chosen, over any of four axes. The library
// draws axes and takes care of the area that is dragged over; lines are drawn
// here, in the order of time, because over charge or temperature x may stand
// still or go back, and because each line carries marks.
function coldChart(box, runs, told) {
	const axes = {
		t: { label: "minutes", unit: "min", digits: 1 },
		soc: { label: "displayed charge [%]", unit: "%", digits: 0 },
		kwh: { label: "energy into the pack [kWh]", unit: "kWh", digits: 1 },
		cold: { label: "coldest pack temperature [°C]", unit: "°C", digits: 1 },
		pack: { label: "power into the pack [kW]", unit: "kW", digits: 1 },
		charger: { label: "power from the charger [kW]", unit: "kW", digits: 1 },
		heater: { label: "power into the pack's heater [kW]", unit: "kW", digits: 1 },
	};
	const scales = { t: 60, pack: 10, charger: 10, heater: 10, soc: 10, cold: 10, kwh: 100 };
	const lines = runs.map((r) => {
		const out = {};
		for (const k in scales) {
			let sum = 0;
			out[k] = (r[k] || []).map((d) => d === null ? null : (sum += d) / scales[k]);
		}
		return out;
	});
	const dashes = [[], [9, 5], [2, 4], [12, 4, 2, 4], [5, 3]];
	const state = { x: "t", y: "pack", on: runs.map((r) => r.on), from: null, to: null, band: null };
	let plot = null, dots = [], at = null;

	// name is what an axis is called where these runs are shown: not all began at a charger.
	function name(k, shown) {
		if (k !== "t") return axes[k].label;
		const plugged = shown.some((r) => r.charge), started = shown.some((r) => !r.charge);
		return "minutes since " + (!started ? "plug-in" : plugged ? "plug-in or the start" : "the start");
	}
	const count = (n) => n + (n === 1 ? " session" : " sessions");
	const drawn = () => runs.filter((r, i) => state.on[i]);
	const color = (i) => getComputedStyle(document.documentElement).getPropertyValue("--c" + runs[i].hue).trim();
	const minus = (v, n) => { const s = v.toFixed(n); return Number(s) === 0 ? s.replace("-", "") : s.replace("-", "−"); };

	// The whole of an axis, over the sessions shown. Minutes begin just before
	// plug-in: nothing happens earlier.
	function whole() {
		let low = Infinity, high = -Infinity;
		lines.forEach((l, i) => {
			if (!state.on[i] || !l[state.y].length) return;
			l[state.x].forEach((v, k) => {
				if (v === null || l[state.y][k] === null) return;
				if (v < low) low = v;
				if (v > high) high = v;
			});
		});
		if (low > high) return [0, 1];
		if (state.x === "t") low = Math.max(low, -2);
		const pad = (high - low) * 0.02 || 1;
		return state.x === "t" ? [low, high + pad] : [low - pad, high + pad];
	}
	function range() {
		return state.from === null ? whole() : [state.from, state.to];
	}
	function heights() {
		const [a, b] = range();
		let low = Infinity, high = -Infinity;
		lines.forEach((l, i) => {
			if (!state.on[i]) return;
			l[state.y].forEach((v, k) => {
				const x = l[state.x][k];
				if (v === null || x === null || x === undefined || x < a || x > b) return;
				if (v < low) low = v;
				if (v > high) high = v;
			});
		});
		if (low > high) return [0, 1];
		if (state.y !== "cold") low = Math.min(low, 0);
		const pad = (high - low) * 0.06 || 1;
		return [low < 0 || state.y === "cold" ? low - pad : low, high + pad];
	}

	const shapes = [
		(c, x, y, r) => { c.arc(x, y, r, 0, 7); c.fill(); },
		(c, x, y, r) => { c.rect(x - r, y - r, 2 * r, 2 * r); c.fill(); },
		(c, x, y, r) => { c.moveTo(x, y - 1.3 * r); c.lineTo(x + 1.2 * r, y + r); c.lineTo(x - 1.2 * r, y + r); c.fill(); },
		(c, x, y, r) => { c.moveTo(x, y - 1.4 * r); c.lineTo(x + 1.4 * r, y); c.lineTo(x, y + 1.4 * r); c.lineTo(x - 1.4 * r, y); c.fill(); },
		(c, x, y, r) => { c.moveTo(x - r, y - r); c.lineTo(x + r, y + r); c.moveTo(x + r, y - r); c.lineTo(x - r, y + r); c.stroke(); },
		(c, x, y, r) => { c.moveTo(x - 1.3 * r, y); c.lineTo(x + 1.3 * r, y); c.moveTo(x, y - 1.3 * r); c.lineTo(x, y + 1.3 * r); c.stroke(); },
		(c, x, y, r) => { c.moveTo(x, y + 1.3 * r); c.lineTo(x + 1.2 * r, y - r); c.lineTo(x - 1.2 * r, y - r); c.fill(); },
		(c, x, y, r) => { c.arc(x, y, r, 0, 7); c.save(); c.fillStyle = getComputedStyle(document.documentElement).getPropertyValue("--ground"); c.fill(); c.restore(); c.stroke(); },
	];

	// line draws one session and its marks; ratio is pixels of the canvas to those
	// of the page.
	function line(u, i) {
		const c = u.ctx, ratio = uPlot.pxRatio, xs = lines[i][state.x], ys = lines[i][state.y];
		const spots = [];
		let apart = (25 + 37 * i % 90) * ratio, last = null, open = false;
		c.strokeStyle = c.fillStyle = color(i);
		c.lineWidth = 2 * ratio;
		c.lineJoin = "round";
		c.setLineDash(dashes[runs[i].dash % dashes.length].map((d) => d * ratio));
		c.beginPath();
		for (let k = 0; k < ys.length; k++) {
			if (ys[k] === null || xs[k] === null || xs[k] === undefined) { open = false; continue; }
			const x = u.valToPos(xs[k], "x", true), y = u.valToPos(ys[k], "y", true);
			if (open) {
				c.lineTo(x, y);
				// Marks stand a fixed way apart, on the line.
				const step = Math.hypot(x - last[0], y - last[1]);
				for (let d = apart; d <= step && spots.length < 400; d += 90 * ratio, apart += 90 * ratio) {
					spots.push([last[0] + (x - last[0]) * d / step, last[1] + (y - last[1]) * d / step]);
				}
				apart -= step;
			} else {
				c.moveTo(x, y);
				// A value that stands alone would be no line at all.
				if (ys[k + 1] === null || ys[k + 1] === undefined) spots.push([x, y]);
			}
			last = [x, y];
			open = true;
		}
		c.stroke();
		c.setLineDash([]);
		for (const [x, y] of spots) {
			c.beginPath();
			shapes[runs[i].mark](c, x, y, 3.6 * ratio);
		}
	}

	function draw() {
		if (plot) plot.destroy();
		dots = [];
		at = null;
		const css = getComputedStyle(document.documentElement);
		const ink = css.getPropertyValue("--ink").trim(), rule = css.getPropertyValue("--rule").trim();
		const font = "13px " + getComputedStyle(document.body).fontFamily;
		const axis = (k, more) => Object.assign({
			label: name(k, drawn()), stroke: ink, font, labelFont: font, labelSize: 22, grid: { stroke: rule, width: 1 }, ticks: { stroke: rule, width: 1, size: 4 },
			values: (u, marks) => marks.map((v) => v === null ? "" : String(v).replace("-", "−")),
		}, more);
		plot = new uPlot({
			width: box.clientWidth, height: box.clientHeight, pxAlign: 1,
			padding: [8, 14, 0, 0],
			scales: { x: { time: false, range: () => range() }, y: { range: () => heights() } },
			axes: [axis(state.x, { size: 30 }), axis(state.y, { size: 44 })],
			legend: { show: false },
			cursor: { y: false, points: { show: false }, drag: { x: true, y: false, setScale: false, dist: 8 } },
			series: [{}, { paths: () => null, points: { show: false } }],
			hooks: {
				drawAxes: [(u) => {
					if (state.band === null || state.x !== "t") return;
					const a = u.valToPos(state.band[0], "x", true), b = Math.max(u.valToPos(state.band[1], "x", true), a + 2);
					u.ctx.save();
					u.ctx.beginPath();
					u.ctx.rect(u.bbox.left, u.bbox.top, u.bbox.width, u.bbox.height);
					u.ctx.clip();
					u.ctx.fillStyle = css.getPropertyValue("--band");
					u.ctx.fillRect(a, u.bbox.top, b - a, u.bbox.height);
					u.ctx.restore();
				}],
				draw: [(u) => {
					u.ctx.save();
					u.ctx.beginPath();
					u.ctx.rect(u.bbox.left, u.bbox.top, u.bbox.width, u.bbox.height);
					u.ctx.clip();
					for (let i = lines.length - 1; i >= 0; i--) if (state.on[i]) line(u, i);
					u.ctx.restore();
				}],
				setCursor: [(u) => { if (u.cursor.left >= 0) point(u.posToVal(u.cursor.left, "x"), u.cursor.top); }],
				setSelect: [(u) => {
					if (u.select.width < 8) return;
					const a = u.posToVal(u.select.left, "x"), b = u.posToVal(u.select.left + u.select.width, "x");
					u.setSelect({ left: 0, top: 0, width: 0, height: 0 }, false);
					look(a, b);
				}],
			},
		}, [range(), [null, null]], box);
		box.setAttribute("aria-label", name(state.y, drawn()) + " over " + name(state.x, drawn()) + ", " + count(state.on.filter(Boolean).length));
		told.drawn();
	}

	// nearest is the row of a line whose x is nearest; among rows at the same x the
	// one whose y is nearest to the pointer.
	function nearest(i, x, top) {
		const xs = lines[i][state.x], ys = lines[i][state.y];
		let best = -1, far = Infinity, high = Infinity;
		for (let k = 0; k < ys.length; k++) {
			if (ys[k] === null || xs[k] === null || xs[k] === undefined) continue;
			const d = Math.abs(xs[k] - x), h = top === null ? 0 : Math.abs(plot.valToPos(ys[k], "y") - top);
			if (d < far || d === far && h < high) { best = k; far = d; high = h; }
		}
		const [a, b] = range();
		return far > (b - a) * 0.03 ? -1 : best;
	}

	// point reads the lines at x.
	function point(x, top) {
		at = x;
		const values = runs.map((r, i) => {
			if (!state.on[i]) return null;
			const k = nearest(i, x, top);
			return k < 0 ? "–" : [lines[i][state.x][k], lines[i][state.y][k]];
		});
		values.forEach((v, i) => {
			if (v === null || v === "–") { if (dots[i]) dots[i].hidden = true; return; }
			if (!dots[i]) {
				dots[i] = document.createElement("div");
				dots[i].className = "dot";
				dots[i].style.background = color(i);
				plot.over.append(dots[i]);
			}
			dots[i].hidden = false;
			dots[i].style.left = plot.valToPos(v[0], "x") + "px";
			dots[i].style.top = plot.valToPos(v[1], "y") + "px";
		});
		const y = axes[state.y];
		told.read(minus(x, axes[state.x].digits) + " " + axes[state.x].unit, values.map((v) => Array.isArray(v) ? minus(v[1], y.digits) + " " + y.unit : v));
	}

	// look shows from..to of the axis, or the whole where from is null.
	function look(from, to) {
		if (from !== null) {
			const [a, b] = whole(), least = (b - a) / 500;
			const wide = Math.min(Math.max(to - from, least), b - a);
			from = Math.min(Math.max(from, a), b - wide);
			to = from + wide;
			if (wide >= b - a) from = to = null;
		}
		state.from = from;
		state.to = to === undefined ? null : to;
		draw();
	}
	function zoom(factor, about) {
		const [a, b] = range(), c = about === undefined ? at !== null && at >= a && at <= b ? at : (a + b) / 2 : about;
		look(c - (c - a) * factor, c + (b - c) * factor);
	}
	function move(part) {
		const [a, b] = range();
		if (state.from !== null) look(a + (b - a) * part, b + (b - a) * part);
	}
	// step moves the read-out by a part of what is shown.
	function step(part) {
		const [a, b] = range();
		stand(Math.min(Math.max(at === null ? part > 0 ? a : b : at + (b - a) * part, a), b));
	}
	function stand(x) {
		plot.setCursor({ left: plot.valToPos(x, "x"), top: plot.over.clientHeight / 2 }, false);
		point(x, null);
	}

	// Fingers: one reads values, two zoom; the page still scrolls up and down.
	let pinch = null;
	const spread = (e) => {
		const r = plot.over.getBoundingClientRect(), p = Array.from(e.touches, (f) => plot.posToVal(f.clientX - r.left, "x"));
		return { mid: (p[0] + p[1]) / 2, px: Math.abs(e.touches[0].clientX - e.touches[1].clientX) };
	};
	const finger = (e) => {
		const r = plot.over.getBoundingClientRect(), f = e.touches[0], left = Math.min(Math.max(f.clientX - r.left, 0), r.width);
		plot.setCursor({ left, top: Math.min(Math.max(f.clientY - r.top, 0), r.height) });
	};
	box.addEventListener("touchstart", (e) => { if (e.touches.length === 2) pinch = spread(e); else if (e.touches.length === 1) finger(e); }, { passive: true });
	box.addEventListener("touchmove", (e) => {
		if (e.touches.length === 2 && pinch) {
			e.preventDefault();
			const now = spread(e);
			if (now.px > 10 && Math.abs(now.px / pinch.px - 1) > 0.05) { zoom(pinch.px / now.px, pinch.mid); pinch.px = now.px; }
		} else if (e.touches.length === 1) finger(e);
	}, { passive: false });
	box.addEventListener("touchend", (e) => { if (e.touches.length < 2) pinch = null; });
	box.addEventListener("dblclick", () => { state.band = null; look(null); });
	box.addEventListener("keydown", (e) => {
		if (e.ctrlKey || e.metaKey || e.altKey) return;
		const keys = {
			ArrowRight: () => step(e.shiftKey ? 0.1 : 0.01), ArrowLeft: () => step(e.shiftKey ? -0.1 : -0.01),
			"+": () => zoom(0.5), "=": () => zoom(0.5), "-": () => zoom(2), "0": () => { state.band = null; look(null); },
			Home: () => stand(range()[0]), End: () => stand(range()[1]),
		};
		if (keys[e.key]) { e.preventDefault(); keys[e.key](); }
	});

	return {
		name, dashes, shapes, state, draw, look, zoom, move,
		has: (i, k) => lines[i][k].length > 0,
		whole: () => { state.band = null; look(null); },
		axis(which, k) { state[which] = k; state.band = null; look(null); },
		// evidence shows the seconds a..b that a figure came from.
		evidence(i, a, b, y) {
			state.on[i] = true;
			state.x = "t";
			if (lines[i][y].length) state.y = y;
			state.band = [a / 60, b / 60];
			const pad = Math.max((b - a) / 60 * 0.15, 1);
			look(Math.max(a / 60 - pad, whole()[0]), b / 60 + pad);
		},
		size() { if (plot) plot.setSize({ width: box.clientWidth, height: box.clientHeight }); },
	};
}
