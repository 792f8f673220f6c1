"use strict";
// Moves, zooms and tells. Everything it shows is on the page already; without it the maps stand still.
(() => {
  const $ = (query, from = document) => from.querySelector(query);
  const $$ = (query, from = document) => [...from.querySelectorAll(query)];
  const SVG = "http://www.w3.org/2000/svg";
  const views = $("#views");
  const here = $("#here");
  const full = { w: +views.dataset.width, h: +views.dataset.height };
  const unit = +views.dataset.unit;
  const maps = $$(".view").map((view) => ({ view, svg: $("svg", view), id: view.dataset.map }));
  let box = { x: 0, y: 0, w: full.w, h: full.h };
  let chosen = [];

  document.body.classList.add("ready", "no-findings", "no-bouts");
  $$("[data-needs-script]").forEach((part) => { if (part !== here) part.hidden = false; });
  maps.forEach(({ view }) => { view.tabIndex = 0; });

  // ---- the view that all maps share ----
  const nice = (most) => {
    const ten = 10 ** Math.floor(Math.log10(Math.max(most, 1)));
    return Math.max(1, ten * ([5, 2].find((step) => step * ten <= most) || 1));
  };
  const grouped = (number) => String(number).replace(/\B(?=(\d{3})+$)/g, "\u00a0");

  // ---- no more points than a screen can show ----
  // Outlines are drawn from points about a pixel apart, none on the straight way between two others. All pieces are
  // rounded alike, so none part.
  const outlines = $$(".shared path[id], .l-zones").map((path) => {
    const whole = path.getAttribute("d");
    return { path, at: { 1: whole } };
  });
  function coarser(d, step) {
    let text = "";
    let kept = [];
    const end = (closing) => {
      if (kept.length) text += `M${kept.map(([x, y]) => `${x * step} ${y * step}`).join("L")}${closing}`;
      kept = [];
    };
    const add = (x, y) => {
      const next = [Math.round(x / step), Math.round(y / step)];
      const [before, last] = kept.slice(-2);
      const [a, b] = last ? [before, last] : [undefined, before];
      if (b && b[0] === next[0] && b[1] === next[1]) return;
      if (a) {
        const [ab, bc] = [[b[0] - a[0], b[1] - a[1]], [next[0] - b[0], next[1] - b[1]]];
        if (ab[0] * bc[1] === ab[1] * bc[0] && ab[0] * bc[0] + ab[1] * bc[1] > 0) kept.pop();
      }
      kept.push(next);
    };
    let [x, y] = [0, 0];
    for (const [part] of d.matchAll(/[MLlz][^MLlz]*/g)) {
      const numbers = part.match(/-?\d+/g) || [];
      if (part[0] === "M") end("");
      if (part[0] === "z") end("z");
      for (let at = 0; at + 1 < numbers.length; at += 2) {
        const [dx, dy] = [+numbers[at], +numbers[at + 1]];
        [x, y] = part[0] === "l" ? [x + dx, y + dy] : [dx, dy];
        add(x, y);
      }
    }
    end("");
    return text;
  }
  let drawn = 1;
  function detail(unitsPerPixel) {
    const step = 2 ** Math.max(0, Math.floor(Math.log2(unitsPerPixel)));
    if (step === drawn) return;
    drawn = step;
    for (const { path, at } of outlines) path.setAttribute("d", at[step] ??= coarser(at[1], step));
  }
  function draw() {
    const shown = maps.map(({ svg }) => svg.getBoundingClientRect().width).filter((width) => width);
    if (shown.length) detail(box.w / Math.max(...shown));
    for (const { svg } of maps) {
      svg.setAttribute("viewBox", `${box.x} ${box.y} ${box.w} ${box.h}`);
      const seen = svg.getBoundingClientRect();
      if (!seen.width) continue;
      // Drawing units of a pixel on this screen.
      const u = Math.max(box.w / seen.width, box.h / seen.height);
      for (const part of $$("[data-px]", svg)) part.setAttribute("stroke-width", part.dataset.px * u);
      for (const part of $$(".dashed", svg)) part.setAttribute("stroke-dasharray", `${7 * u} ${4 * u}`);
      for (const part of $$("[data-font]", svg)) part.setAttribute("font-size", part.dataset.font * u);
      for (const part of $$("[data-fixed]", svg)) part.setAttribute("transform", `translate(${part.dataset.fixed}) scale(${u})`);
      const font = 12 * u;
      for (const label of $$("[data-room]", svg)) {
        const fits = +label.dataset.room >= font;
        if (fits) label.removeAttribute("visibility"); else label.setAttribute("visibility", "hidden");
      }
      const furniture = $(".furniture", svg);
      furniture.setAttribute("font-size", 12);
      furniture.setAttribute("transform", `translate(${box.x} ${box.y}) scale(${u})`);
      const [w, h] = [box.w / u, box.h / u];
      const bar = nice(w * u / unit / 4);
      const long = bar * unit / u;
      $(".bar", furniture).setAttribute("transform", `translate(14 ${h - 12})`);
      $(".bar-line", furniture).setAttribute("d", `M0 -7V0H${long}V-7`);
      $(".bar-line", furniture).setAttribute("stroke-width", 1.6);
      const text = $(".bar-text", furniture);
      text.setAttribute("x", long + 8);
      text.textContent = `${grouped(bar)} ${views.dataset.unitName}`;
      const north = $(".north", furniture);
      north.setAttribute("transform", `translate(${w - 20} ${h - 40})`);
      $("path", north).setAttribute("d", "M0 0L6 20L0 15L-6 20Z");
      $("text", north).setAttribute("y", 33);
    }
    for (const hatch of $$(".hatch")) {
      const turn = hatch.id === "hatch-off" ? "rotate(45) " : "";
      hatch.setAttribute("patternTransform", `${turn}scale(${box.w / full.w})`);
    }
  }
  function show(next) {
    const w = Math.min(full.w, Math.max(full.w / 400, next.w));
    const h = w * full.h / full.w;
    // The middle of the view stays over the field.
    const x = Math.min(full.w - w / 2, Math.max(-w / 2, next.x));
    const y = Math.min(full.h - h / 2, Math.max(-h / 2, next.y));
    box = w >= full.w ? { x: 0, y: 0, w: full.w, h: full.h } : { x, y, w, h };
    draw();
  }
  function zoom(by, at = { x: box.x + box.w / 2, y: box.y + box.h / 2 }) {
    show({ x: at.x - (at.x - box.x) / by, y: at.y - (at.y - box.y) / by, w: box.w / by });
  }
  const move = (dx, dy) => show({ x: box.x + dx, y: box.y + dy, w: box.w });
  function place(svg, clientX, clientY) {
    const turn = svg.getScreenCTM();
    if (!turn) return { x: 0, y: 0 };
    const point = new DOMPoint(clientX, clientY).matrixTransform(turn.inverse());
    return { x: point.x, y: point.y };
  }

  // ---- a place, a row of the table ----
  const ratesOf = (row) => maps.filter(({ id }) => $(`#${id} .unit`)).map(({ svg, id }) => {
    const shape = $(`use[data-row="${row}"]`, svg);
    return { name: $(`#${id} figcaption bdi`).textContent, rate: shape ? shape.dataset.rate : "", unit: $(`#${id} .unit`).textContent };
  });
  function mark(rows) {
    chosen = rows;
    for (const { svg } of maps) {
      const ring = $(".chosen", svg);
      ring.replaceChildren(...rows.map((row) => {
        const use = document.createElementNS(SVG, "use");
        use.setAttribute("href", `#r${row}`);
        return use;
      }));
    }
    $$("tr.chosen-row").forEach((row) => row.classList.remove("chosen-row"));
    for (const row of rows) $(`#t${row}`)?.classList.add("chosen-row");
  }
  function tell(row) {
    const why = $(`#why${row}`);
    if (!why) return;
    mark([String(row)]);
    const close = document.createElement("button");
    close.type = "button";
    close.className = "close";
    close.textContent = "×";
    close.setAttribute("aria-label", $("[data-zoom=all]").textContent);
    close.addEventListener("click", () => { here.hidden = true; mark([]); });
    const title = document.createElement("h3");
    title.append(...$("summary", why).cloneNode(true).childNodes);
    here.replaceChildren(title, $(".chains", why).cloneNode(true), close);
    here.dataset.row = row;
    here.hidden = false;
  }
  function look(rows) {
    mark(rows);
    const shapes = rows.map((row) => $(`#r${row}`)).filter(Boolean).map((shape) => shape.getBBox());
    if (!shapes.length) return;
    const x = Math.min(...shapes.map((s) => s.x));
    const y = Math.min(...shapes.map((s) => s.y));
    const right = Math.max(...shapes.map((s) => s.x + s.width));
    const low = Math.max(...shapes.map((s) => s.y + s.height));
    const w = Math.min(full.w, Math.max((right - x) * 1.4, (low - y) * 1.4 * full.w / full.h, full.w / 12));
    show({ x: (x + right) / 2 - w / 2, y: (y + low) / 2 - (w * full.h / full.w) / 2, w });
    $("#maps").scrollIntoView({ block: "start" });
  }
  function point(x, y, number) {
    for (const { svg } of maps) {
      const layer = $(".l-findings", svg);
      const pin = document.createElementNS(SVG, "g");
      pin.dataset.fixed = `${x} ${y}`;
      pin.dataset.number = number;
      const ring = document.createElementNS(SVG, "circle");
      const shape = { r: 9, fill: "#fff", stroke: "#d81b60", "stroke-width": 2.5 };
      Object.entries(shape).forEach(([key, value]) => ring.setAttribute(key, value));
      const text = document.createElementNS(SVG, "text");
      text.textContent = number;
      const words = { "text-anchor": "middle", y: 3.5, "font-size": 9, "font-weight": 700, fill: "#111" };
      Object.entries(words).forEach(([key, value]) => text.setAttribute(key, value));
      pin.append(ring, text);
      layer.append(pin);
    }
  }

  // ---- pointer ----
  const tip = document.createElement("div");
  tip.className = "tip";
  tip.hidden = true;
  tip.setAttribute("aria-hidden", "true");
  document.body.append(tip);
  function hint(event) {
    const shape = event.target.closest("use[data-row]");
    tip.hidden = !shape;
    if (!shape) return;
    tip.replaceChildren(...ratesOf(shape.dataset.row).map(({ name, rate, unit: of }) => {
      const line = document.createElement("div");
      const number = document.createElement("b");
      number.textContent = `${rate} ${of}`;
      const bdi = document.createElement("bdi");
      bdi.textContent = name;
      line.append(bdi, " ", number);
      return line;
    }));
    const right = event.clientX + 320 > innerWidth;
    tip.style.left = right ? "auto" : `${event.clientX + 16}px`;
    tip.style.right = right ? `${innerWidth - event.clientX + 16}px` : "auto";
    tip.style.top = `${event.clientY + 14}px`;
  }
  for (const { view, svg } of maps) {
    const down = new Map();
    let moved = false;
    view.addEventListener("pointerdown", (event) => {
      down.set(event.pointerId, event);
      moved = false;
    });
    view.addEventListener("pointermove", (event) => {
      const before = down.get(event.pointerId);
      if (!before) { if (event.pointerType === "mouse") hint(event); return; }
      if (!moved && Math.hypot(event.clientX - before.clientX, event.clientY - before.clientY) < 4 && down.size < 2) return;
      if (!moved) { try { view.setPointerCapture(event.pointerId); } catch { /* the pointer has gone */ } }
      moved = true;
      tip.hidden = true;
      view.classList.add("moving");
      const from = place(svg, before.clientX, before.clientY);
      const to = place(svg, event.clientX, event.clientY);
      if (down.size === 1) move(from.x - to.x, from.y - to.y);
      else {
        const other = [...down.values()].find((each) => each.pointerId !== event.pointerId);
        const away = (e) => Math.max(8, Math.hypot(e.clientX - other.clientX, e.clientY - other.clientY));
        zoom(away(event) / away(before), place(svg, (event.clientX + other.clientX) / 2, (event.clientY + other.clientY) / 2));
      }
      down.set(event.pointerId, event);
    });
    const up = (event) => {
      down.delete(event.pointerId);
      if (!down.size) view.classList.remove("moving");
    };
    view.addEventListener("pointerup", up);
    view.addEventListener("pointercancel", up);
    view.addEventListener("pointerleave", () => { tip.hidden = true; });
    view.addEventListener("click", (event) => {
      const shape = event.target.closest("use[data-row]");
      if (shape && !moved) tell(shape.dataset.row);
    });
    view.addEventListener("wheel", (event) => {
      if (!event.ctrlKey && box.w >= full.w && event.deltaY > 0) return;
      event.preventDefault();
      zoom(event.deltaY < 0 ? 1.25 : 0.8, place(svg, event.clientX, event.clientY));
    }, { passive: false });
    view.addEventListener("keydown", (event) => {
      const step = box.w / 8;
      const keys = {
        ArrowLeft: () => move(-step, 0), ArrowRight: () => move(step, 0),
        ArrowUp: () => move(0, -step), ArrowDown: () => move(0, step),
        "+": () => zoom(1.5), "=": () => zoom(1.5), "-": () => zoom(1 / 1.5), 0: () => show({ x: 0, y: 0, w: full.w }),
        Enter: () => {
          const seen = svg.getBoundingClientRect();
          const under = document.elementsFromPoint(seen.left + seen.width / 2, seen.top + seen.height / 2);
          const shape = under.find((part) => part.matches("use[data-row]"));
          if (shape) tell(shape.dataset.row);
        },
        Escape: () => { here.hidden = true; mark([]); },
      };
      const act = keys[event.key];
      if (!act || event.ctrlKey || event.metaKey || event.altKey) return;
      event.preventDefault();
      act();
    });
  }

  // ---- buttons, rows, layers ----
  for (const button of $$("[data-zoom]")) {
    button.addEventListener("click", () => {
      const act = { in: () => zoom(1.5), out: () => zoom(1 / 1.5), all: () => show({ x: 0, y: 0, w: full.w }) };
      act[button.dataset.zoom]();
    });
  }
  for (const choice of $$("[data-layer]")) {
    choice.addEventListener("change", () => document.body.classList.toggle(`no-${choice.dataset.layer}`, !choice.checked));
  }
  for (const row of $$("[data-rows]")) {
    row.addEventListener("click", (event) => {
      if (event.target.closest("a") || getSelection().toString()) return;
      look(row.dataset.rows.split(" ").filter(Boolean));
    });
  }
  for (const link of $$("[data-row-link]")) {
    link.addEventListener("click", (event) => {
      event.preventDefault();
      look([link.dataset.rowLink]);
      tell(link.dataset.rowLink);
      maps[0].view.focus({ preventScroll: true });
    });
  }
  for (const button of $$("[data-finding]")) {
    point(button.dataset.x, button.dataset.y, button.dataset.finding);
    button.addEventListener("click", () => {
      document.body.classList.remove("no-findings");
      const choice = $("[data-layer=findings]");
      if (choice) choice.checked = true;
      const w = full.w / 6;
      show({ x: button.dataset.x - w / 2, y: button.dataset.y - (w * full.h / full.w) / 2, w });
      $("#maps").scrollIntoView({ block: "start" });
    });
  }
  // Print shows the whole field, every point of it, and every reason that was open.
  addEventListener("beforeprint", () => { show({ x: 0, y: 0, w: full.w }); detail(1); mark([]); });
  new ResizeObserver(draw).observe(views);
  draw();
})();
