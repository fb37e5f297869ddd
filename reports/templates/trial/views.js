// The lists of switches, a view for each kind of thing.

const byId = (id) => document.getElementById(id);
const rows = [];

function element(name, attributes = {}, ...children) {
  const made = document.createElement(name);
  for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, value);
  made.append(...children);
  return made;
}

// A row: a checkbox labelled kind and name, what it is, what the present state says.
function switchRow(view, thing, action, on) {
  const box = element("input", { type: "checkbox", "data-kind": thing.kind, "data-name": thing.name, "data-action": action });
  box.checked = on;
  const says = element("span", { class: "says" });
  const about = thing.about && thing.about !== thing.name ? thing.about.replace(thing.name, "").trim() : "";
  const row = element("li", {}, element("label", {}, box, element("span", {}, label(thing.kind, thing.name))), element("span", { class: "about" }, about), says);
  const at = label(thing.kind, thing.name);
  const judged = view === "set-ups" ? label("set-up height", thing.name) : at;
  const made = { view, thing, action, row, box, says, at, judged, words: "", text: `${at} ${thing.about}`.toLowerCase() };
  rows.push(made);
  byId(`list-${view}`).append(row);
  return made;
}

function buildViews() {
  for (const thing of THINGS.values()) switchRow(thing.view, thing, "leave-out", true);
  for (const thing of KNOWN.values()) knownRow(thing);
  for (const thing of PLANNED.values()) {
    const view = thing.planned.listed ? "proposed" : thing.kind === "second set-up" ? "second" : "near";
    const more = [`${thing.planned.minutes} min on the marks`, thing.planned.note].filter(Boolean).join("; ");
    switchRow(view, thing, "add", false).more = more;
  }
  for (const view of document.querySelectorAll("details[data-view]")) {
    const list = view.querySelector("ul");
    if (list && !list.children.length) view.hidden = !(view.dataset.view === "known" && DATA.datum === "minimal");
    const count = view.querySelector(".count");
    if (count && list?.children.length) count.textContent = `(${list.children.length})`;
  }
}

// A known mark is on or off, and where its covariance is stated held or weighted.
function knownRow(thing) {
  const made = switchRow("known", thing, "use", thing.use !== "");
  const choice = element("select", { "aria-label": `${label(thing.kind, thing.name)}: how it is used`, "data-kind": thing.kind, "data-name": thing.name });
  for (const [action, words] of [["hold", "held"], ["weight", "weighted"]])
    if (action === "hold" || thing.stated) choice.append(element("option", { value: action }, words));
  choice.value = thing.use === "weighted" || (!thing.use && thing.stated) ? "weight" : "hold";
  made.row.append(choice);
  made.choice = choice;
}

// Shows in the lists only what has these words in it.
function showOnly(words) {
  byId("find").value = words;
  filter();
  const view = document.querySelector("details[data-view=observations]");
  view.open = true;
  byId("find").focus();
}

function filter() {
  const words = byId("find").value.toLowerCase().split(" – ").map((word) => word.trim());
  let seen = 0;
  for (const one of rows) {
    const fits = words.every((word) => one.text.includes(word));
    one.row.hidden = !fits;
    if (fits) seen++;
  }
  byId("found").textContent = byId("find").value ? `${seen} of ${rows.length} switches` : "";
}

// What the present state says of a thing.
function saysOf(one, present) {
  const { thing } = one;
  if (one.more !== undefined) return one.more;
  if (one.view === "sessions" || one.view === "tripods") return `${thing.keys.length} observations`;
  const row = byNameOf(present.found).get(one.judged);
  if (!row) return one.box.checked ? "" : one.view === "known" ? "not used" : "switched off";
  if (row.verdict === "unchecked") return "unchecked: nothing checks it";
  return `${row.verdict}, test ${row.test.toFixed(2)}, hides up to ${sizeSaid(row)}`;
}

function sizeSaid(row) {
  const measure = row.kind.startsWith("set-up") ? null : measureOf(row.one);
  const [unit, factor] = measure ?? ["mm", 1000];
  return `${(factor * row.smallest).toFixed(unit === "mm" ? 0 : 1)} ${unit}`;
}

// Brings the switches of a view up to date; a closed one waits until it is opened.
function refresh(view, present) {
  for (const one of rows) {
    if (one.view !== view) continue;
    const words = saysOf(one, present);
    if (one.words !== words) one.words = one.says.textContent = words;
    const row = byNameOf(present.found).get(one.judged);
    set(one.row, "class", row && one.box.checked ? row.verdict : "");
  }
}

// Ticks every switch as the changes say.
function tick(changes) {
  const made = new Map();
  for (const change of changes) if (change.action !== "plant") made.set(label(change.kind, change.name), change);
  for (const one of rows) {
    const change = made.get(one.at);
    const use = change ? USES[change.action] : one.thing.use;
    const on = one.action === "leave-out" ? !change : one.action === "add" ? Boolean(change) : use !== "";
    if (one.box.checked !== on) one.box.checked = on;
    if (one.action === "use" && use) one.choice.value = use === "held" ? "hold" : "weight";
  }
}
