// The map: what is on, what is off, what is only planned; ellipses before and now.

const SVG = document.getElementById("map").namespaceURI;
const MAP = DATA.map;

function shape(name, attributes, parent) {
  const made = document.createElementNS(SVG, name);
  for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, value);
  parent?.append(made);
  return made;
}

// Sets an attribute only where it changes: most of a map stays as it is.
function set(element, key, value) {
  if (element.getAttribute(key) !== String(value)) element.setAttribute(key, value);
}

// A link of the map that shows its rows: a line, a mark.
function linked(parent, find) {
  const link = shape("a", { href: "#find" }, parent);
  const title = shape("title", {}, link);
  link.addEventListener("click", (event) => {
    event.preventDefault();
    showOnly(find);
  });
  let called = "";
  const name = (words) => {
    if (called === words) return;
    called = title.textContent = words;
    link.setAttribute("aria-label", words);
  };
  return { link, name };
}

// Observations between the same two marks are one line.
function drawnLines(svg) {
  const found = new Map();
  DATA.blocks.forEach((block, b) =>
    block.observations.forEach((one, o) => {
      const [a, c] = one.marks;
      if (c === undefined || !MAP.at[a] || !MAP.at[c]) return;
      const family = block.planned ? "planned" : one.kind === "baseline" ? "baseline" : one.kind === "level difference" ? "levels" : "sights";
      const at = `${family} ${Math.min(a, c)} ${Math.max(a, c)}`;
      if (!found.has(at)) found.set(at, { family, a, c, keys: [] });
      found.get(at).keys.push({ key: `${b}/${o}`, number: one.number });
    }),
  );
  return [...found.values()].map((line) => drawnLine(svg, line));
}

function drawnLine(svg, line) {
  const [[x, y], [u, v]] = [MAP.at[line.a], MAP.at[line.c]];
  const names = [line.a, line.c].map((i) => DATA.marks[i].station).join(" – ");
  const { link, name } = linked(svg, names);
  const bow = { baseline: 0, sights: 14, levels: -14, planned: 24 }[line.family];
  const long = Math.hypot(u - x, v - y) || 1;
  const path = `M${x} ${y}Q${(x + u) / 2 - (bow * (v - y)) / long} ${(y + v) / 2 + (bow * (u - x)) / long} ${u} ${v}`;
  const middle = [(x + u) / 2 - (bow * (v - y)) / long / 2, (y + v) / 2 + (bow * (u - x)) / long / 2];
  shape("path", { class: "touch", d: path }, link);
  const stroke = shape("path", { d: path }, link);
  const core = shape("path", { class: "core", d: path }, link);
  const [mx, my] = middle.map((value) => value.toFixed(1));
  const cross = shape("path", { class: "cross", d: `M${mx - 6} ${my - 6}l12 12m0 -12l-12 12` }, link);
  return { ...line, names, stroke, core, cross, link, name };
}

function drawnMark(svg, mark, i) {
  if (!MAP.at[i]) return null;
  const [x, y] = MAP.at[i];
  const ellipse = (name) => ({ element: shape("ellipse", { class: name, cx: x, cy: y }, svg), now: [-1, -1, 0] });
  const [before, now] = [ellipse("before"), ellipse("ellipse")];
  const { link, name } = linked(svg, mark.station);
  shape("circle", { class: "touch", cx: x, cy: y, r: 22 }, link);
  const group = shape("g", { class: "mark" }, link);
  const known = knownAt(mark);
  const symbol = known.length
    ? shape("path", { d: `M${x} ${y - 10}l9.5 16h-19z` }, group)
    : shape("circle", { cx: x, cy: y, r: 6 }, group);
  const half = known.length ? shape("path", { class: "full", d: `M${x} ${y - 10}v16h-9.5z` }, group) : null;
  return { mark, x, y, before, now, known, symbol, half, name };
}

// What of a mark is known, and where settings say how it is used.
// In a minimal solution nothing says so: it hangs on its origin, whatever else is known.
function knownAt(mark) {
  const things = ["plan", "height"].map((part) => KNOWN.get(label(`known mark ${part}`, mark.station))).filter(Boolean);
  if (things.length) return things.map(({ keys, part, use }) => ({ at: `${keys[0]} ${part}`, use }));
  if (mark.unknowns.some((u, i) => u < 0 && mark.estimated[i])) return [{ at: "", use: "held" }];
  return mark.use_plan || mark.use_height ? [{ at: "", use: "" }] : [];
}

function drawnMap(svg) {
  set(svg, "viewBox", `0 0 ${MAP.wide} ${MAP.tall + 60}`);
  const lines = drawnLines(svg);
  const marks = DATA.marks.map((mark, i) => drawnMark(svg, mark, i)).filter(Boolean);
  for (const [text, x, y, anchor] of MAP.labels)
    shape("text", { x, y, "text-anchor": anchor }, svg).textContent = text;
  MAP.bars.forEach(([long, words], k) => {
    const [x, y] = [24 + (k * MAP.wide) / 2, MAP.tall + 22];
    shape("path", { class: "bar", d: `M${x} ${y - 7}v14m0 -7h${long}m0 -7v14` }, svg);
    shape("text", { class: "small", x, y: y + 28 }, svg).textContent = words;
  });
  return { lines, marks };
}

// Draws an ellipse of a mark; one that has changed by less than a fiftieth of a pixel
// stays as it is.
function sized(drawn, ellipse, scale, x, y) {
  const radius = (axis) => (ellipse.major > 0 ? Math.min(axis * scale * MAP.scale * MAP.factor, 400) : 0);
  const now = [radius(ellipse.minor), radius(ellipse.major), (ellipse.azimuth * 180) / Math.PI || 0];
  const turn = Math.abs(now[2] - drawn.now[2]) * (now[1] - now[0]);
  if (Math.abs(now[0] - drawn.now[0]) < 0.02 && Math.abs(now[1] - drawn.now[1]) < 0.02 && turn < 1) return;
  drawn.now = now;
  drawn.element.setAttribute("rx", now[0].toFixed(2));
  drawn.element.setAttribute("ry", now[1].toFixed(2));
  drawn.element.setAttribute("transform", `rotate(${now[2].toFixed(2)} ${x} ${y})`);
}

// Draws the present state; what its parts are called follows later.
function redraw(map, first, present, settings) {
  const scales = [first, present].map((one) => multipliers(one.found.factor).ellipse);
  for (const one of map.marks) {
    if (present === first) sized(one.before, planEllipse(first.state, one.mark), scales[0], one.x, one.y);
    const ellipse = planEllipse(present.state, one.mark);
    sized(one.now, ellipse, scales[1], one.x, one.y);
    one.major = scales[1] * ellipse.major;
    redrawMark(one, present, settings);
  }
  for (const line of map.lines) redrawLine(line, present, settings);
}

function redrawMark(one, present, settings) {
  const { swings } = present.found;
  one.checked = !one.mark.unknowns.some((u) => swings.has(u));
  if (one.half) {
    const uses = one.known.map((thing) => settings.uses.get(thing.at) ?? thing.use);
    one.used = uses.includes("held") ? "held" : uses.includes("weighted") ? "weighted" : "";
    set(one.half, "visibility", one.used === "weighted" ? "visible" : "hidden");
  }
  const full = one.half ? one.used === "held" : one.checked;
  if (full !== one.full) set(one.symbol, "class", full ? "full" : "open");
  one.full = full;
}

// A line is as heavy as the largest blunder that one of its observations lets pass.
function redrawLine(line, present, settings) {
  const planned = line.family === "planned";
  let [on, most] = [0, 0];
  for (const { key, number } of line.keys) {
    if (planned ? !settings.on.has(key) : settings.off.has(key)) continue;
    on++;
    most = Math.max(most, present.found.hides[number]);
  }
  line.most = most;
  const weight = planned ? (on ? "planned" : "hidden") : !on ? "left-out" : most === Infinity ? "hollow" : most > STEPS[1] ? "heavy" : most > STEPS[0] ? "middle" : "light";
  if (weight === line.weight) return;
  line.weight = weight;
  if (planned) set(line.link, "display", on ? "inline" : "none");
  set(line.stroke, "class", `line ${planned ? "planned" : weight} ${line.family}`);
  set(line.core, "visibility", weight === "hollow" ? "visible" : "hidden");
  set(line.cross, "visibility", weight === "left-out" ? "visible" : "hidden");
}

// Calls the parts of the map what they are now.
function nameMap(map) {
  for (const { mark, half, used, major, checked, name } of map.marks) {
    const word = half ? `known mark, ${used || "not used"}` : "new mark";
    const size = major > 0 ? `, ellipse ${(1000 * major).toFixed(1)} mm` : "";
    name(`${word} ${mark.station}${size}${checked ? "" : "; not fully checked"}`);
  }
  const words = { planned: "planned", hidden: "planned", "left-out": "switched off", hollow: "in use, nothing checks it" };
  for (const { names, weight, most, name } of map.lines)
    name(`${names}: ${words[weight] ?? `in use, hides up to ${(1000 * most).toFixed(0)} mm`}`);
}

// Where lines become heavier, m: round figures at a third and two thirds of the start.
let STEPS = [0.02, 0.05];
function stepsOf(found) {
  const seen = [...found.hides].filter(Number.isFinite).sort((a, b) => a - b);
  if (!seen.length) return;
  const up = (share) => 5 * Math.ceil((1000 * seen[Math.floor(share * (seen.length - 1))]) / 5);
  const low = Math.max(5, up(1 / 3));
  STEPS = [low / 1000, Math.max(low + 5, up(2 / 3)) / 1000];
}
