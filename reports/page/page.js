// The page around the chart: theme, sorting, choosing, finding.
(function () {
	const id = (name) => document.getElementById(name);
	const root = document.documentElement;
	const runs = JSON.parse(id("data").textContent).runs || [];

	// Tables: the name of a column becomes a button that sorts by it. What has no
	// value comes last, whichever way round.
	document.querySelectorAll("table.sortable").forEach((table) => {
		const heads = Array.from(table.tHead.rows[0].cells);
		heads.forEach((th, n) => {
			const button = document.createElement("button");
			button.type = "button";
			button.append(...th.childNodes);
			th.append(button);
			button.addEventListener("click", () => {
				const down = th.getAttribute("aria-sort") === "ascending";
				heads.forEach((o) => o.removeAttribute("aria-sort"));
				th.setAttribute("aria-sort", down ? "descending" : "ascending");
				const key = (tr) => {
					const c = tr.cells[n];
					if (c.dataset.v !== undefined) return Number(c.dataset.v);
					return th.classList.contains("n") ? null : c.textContent.trim();
				};
				const rows = Array.from(table.tBodies[0].rows, (tr) => [key(tr), tr]);
				const empty = (k) => k === null || k === "";
				rows.sort(([a], [b]) => {
					if (empty(a) || empty(b)) return empty(a) - empty(b);
					const d = typeof a === "number" ? a - b : a.localeCompare(b, "en");
					return down ? -d : d;
				});
				rows.forEach(([, tr]) => table.tBodies[0].append(tr));
			});
		});
	});

	// Figures: only those whose name holds all words.
	id("finder").hidden = false;
	const groups = Array.from(document.querySelectorAll("details.group"), (g) => ({ box: g, open: g.open, figures: Array.from(g.querySelectorAll("details.figure"), (f) => ({ box: f, text: (f.querySelector("summary").textContent + " " + f.querySelector("code").textContent).toLowerCase() })) }));
	id("find").addEventListener("input", () => {
		const words = id("find").value.toLowerCase().split(/\s+/).filter(Boolean);
		let n = 0;
		groups.forEach((g) => {
			let here = 0;
			g.figures.forEach((f) => {
				f.box.hidden = !words.every((w) => f.text.includes(w));
				if (!f.box.hidden) here++;
			});
			g.box.hidden = here === 0;
			g.box.open = words.length ? here > 0 : g.open;
			n += here;
		});
		id("found").textContent = words.length ? n + " found" : "";
	});

	// Dark and light: as the device has it, until somebody chooses.
	const shade = id("shade"), device = matchMedia("(prefers-color-scheme: dark)");
	let theme = device.matches ? "dark" : "light";
	function paint() {
		root.dataset.theme = theme;
		shade.setAttribute("aria-pressed", String(theme === "dark"));
		if (chart) chart.draw();
	}
	shade.hidden = false;
	shade.addEventListener("click", () => { theme = theme === "dark" ? "light" : "dark"; paint(); });
	device.addEventListener("change", () => { theme = device.matches ? "dark" : "light"; paint(); });

	let chart = null;
	if (runs.length === 0) {
		paint();
		return;
	}
	id("charting").hidden = false;
	const rows = [];
	chart = coldChart(id("chart"), runs, {
		drawn() {
			id("where").textContent = "Move over the chart, or touch it, to read values.";
			rows.forEach((r) => { r.value.textContent = ""; });
		},
		read(x, values) {
			id("where").textContent = "At " + x + ":";
			values.forEach((v, i) => { rows[i].value.textContent = v === null ? "" : v; });
		},
	});

	// The legend is the choice of sessions and the read-out in one.
	const svg = (name, attributes) => {
		const e = document.createElementNS("http://www.w3.org/2000/svg", name);
		for (const k in attributes) e.setAttribute(k, attributes[k]);
		return e;
	};
	// pen lets the chart's marks be drawn as a path.
	function pen() {
		const d = [];
		let kind = "stroke";
		return {
			d, get kind() { return kind; },
			moveTo(x, y) { d.push("M" + x + " " + y); }, lineTo(x, y) { d.push("L" + x + " " + y); },
			rect(x, y, w, h) { d.push("M" + x + " " + y + "h" + w + "v" + h + "h" + -w + "z"); },
			arc(x, y, r) { d.push("M" + (x - r) + " " + y + "a" + r + " " + r + " 0 1 0 " + 2 * r + " 0a" + r + " " + r + " 0 1 0 " + -2 * r + " 0z"); },
			fill() { kind = "fill"; }, stroke() { if (kind === "fill") kind = "ring"; }, save() {}, restore() {}, set fillStyle(v) {},
		};
	}
	runs.forEach((r, i) => {
		const tr = id("legend").tBodies[0].insertRow(), label = document.createElement("label"), box = document.createElement("input");
		box.type = "checkbox";
		box.checked = r.on;
		const picture = svg("svg", { viewBox: "0 0 44 14", "aria-hidden": "true" });
		picture.style.color = "var(--c" + r.hue + ")";
		picture.append(svg("path", { d: "M0 7H44", stroke: "currentColor", "stroke-width": 2, "stroke-dasharray": chart.dashes[r.dash % chart.dashes.length].join(" ") || "none", fill: "none" }));
		const p = pen();
		chart.shapes[r.mark](p, 22, 7, 3.8);
		picture.append(svg("path", { d: p.d.join(""), stroke: p.kind === "fill" ? "none" : "currentColor", "stroke-width": 2, fill: p.kind === "fill" ? "currentColor" : p.kind === "ring" ? "var(--ground)" : "none" }));
		const text = document.createElement("span"), car = document.createElement("bdi"), small = document.createElement("small"), session = document.createElement("bdi");
		car.textContent = r.car;
		session.textContent = r.id;
		small.append(session, r.kind === "cold-charge" ? "" : ", " + r.kind);
		text.append(car, " ", small);
		label.append(box, picture, text);
		tr.insertCell().append(label);
		const value = tr.insertCell();
		value.className = "n";
		box.addEventListener("change", () => { chart.state.on[i] = box.checked; choose(); });
		rows.push({ tr, box, value });
	});
	function choose() {
		rows.forEach((r, i) => { r.box.checked = chart.state.on[i]; r.tr.className = r.box.checked ? "" : "off"; });
		chart.draw();
	}
	const all = (f) => { runs.forEach((r, i) => { chart.state.on[i] = f(r); }); choose(); };
	id("ranked").addEventListener("click", () => all((r) => r.ranked));
	id("all").addEventListener("click", () => all(() => true));
	id("none").addEventListener("click", () => all(() => false));

	const option = (select, k, text) => { const o = document.createElement("option"); o.value = k; o.textContent = text; select.append(o); };
	const has = (k) => runs.some((r, i) => chart.has(i, k));
	["pack", "charger", "heater", "soc", "cold"].filter(has).forEach((k) => option(id("y"), k, chart.name(k, runs)));
	["t", "soc", "kwh", "cold"].filter(has).forEach((k) => option(id("x"), k, k === "t" && runs.some((r) => !r.charge) ? "minutes" : chart.name(k, runs)));
	if (!has("pack")) chart.state.y = id("y").value;
	id("x").addEventListener("change", () => chart.axis("x", id("x").value));
	id("y").addEventListener("change", () => chart.axis("y", id("y").value));
	id("in").addEventListener("click", () => chart.zoom(0.5));
	id("out").addEventListener("click", () => chart.zoom(2));
	id("back").addEventListener("click", () => chart.move(-0.25));
	id("on").addEventListener("click", () => chart.move(0.25));
	id("whole").addEventListener("click", chart.whole);

	// What the keyboard reads is said too, once it has come to rest.
	let timer = 0;
	id("chart").addEventListener("keydown", () => {
		clearTimeout(timer);
		timer = setTimeout(() => {
			const parts = rows.map((r, i) => r.value.textContent ? runs[i].car + " " + r.value.textContent : "").filter(Boolean);
			id("say").textContent = parts.length ? id("where").textContent + " " + parts.join(", ") : "";
		}, 400);
	});

	// Evidence: the stretch that a figure came from.
	document.addEventListener("click", (e) => {
		const b = e.target.closest("[data-e]");
		if (!b) return;
		const unit = b.closest("details").querySelector("summary .soft");
		const y = { "[%]": "soc", "[°C]": "cold", "[K]": "cold" }[unit ? unit.textContent : ""] || "pack";
		chart.evidence(...b.dataset.e.split(",").map(Number), y);
		id("x").value = chart.state.x;
		id("y").value = chart.state.y;
		rows.forEach((r, i) => { r.box.checked = chart.state.on[i]; r.tr.className = r.box.checked ? "" : "off"; });
		id("charges").scrollIntoView();
		id("chart").focus({ preventScroll: true });
	});

	// Paper is white, and narrower than a screen.
	addEventListener("beforeprint", () => { root.dataset.theme = "light"; id("chart").style.width = "640px"; chart.draw(); });
	addEventListener("afterprint", () => { id("chart").style.width = ""; paint(); });
	let wide = 0;
	new ResizeObserver(() => {
		if (id("chart").clientWidth !== wide) { wide = id("chart").clientWidth; chart.size(); }
	}).observe(id("chart"));
	paint();
	choose();
})();
