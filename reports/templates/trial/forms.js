// What is typed in: multipliers of groups, a blunder to plant, a trial file.

const ANGLES = ["direction", "angle", "azimuth", "zenith angle"];
const PLANTED_IN = plantable();

// Kinds in which a blunder can be planted, each with its names and their directions.
function plantable() {
  const found = new Map();
  const add = (kind, name, axes) => {
    if (!found.has(kind)) found.set(kind, new Map());
    const before = found.get(kind).get(name) ?? [];
    found.get(kind).set(name, AXES.concat("value").filter((axis) => before.includes(axis) || axes.includes(axis)));
  };
  for (const block of BLOCKS) {
    if (block.planned) continue;
    for (const stand of block.stands) {
      const { name, tripod } = DATA.set_ups[stand.setUp];
      add("set-up", name, AXES.filter((_, c) => stand.effect.some((value, i) => i % 3 === c && value !== 0)));
      if (tripod) add("tripod", tripod, ["height"]);
    }
    for (const one of block.observations)
      if (one.kind !== "parameter") add(one.kind, one.name, inAxes(one.kind) ? one.axes.map((axis) => AXES[axis]) : ["value"]);
  }
  return found;
}

function inAxes(kind) {
  return ["set-up", "baseline", "position", "known mark"].includes(kind);
}

function buildForms() {
  for (const kind of PLANTED_IN.keys()) byId("plant-kind").append(element("option", { value: kind }, kind));
  byId("plant-kind").addEventListener("change", plantNames);
  byId("plant-name").addEventListener("change", plantAxes);
  plantNames();
  DATA.groups.forEach((group) => {
    const fields = ["plan", "height"].map((part, i) =>
      element("label", {}, `${part} ×`, element("input", { type: "number", min: "0.01", max: "9999", step: "any", value: group.multipliers[i], "data-group": group.name, "data-part": part, "aria-label": `group ${group.name}: multiplier of standard deviations in ${part}` })),
    );
    byId("list-groups").append(element("li", { class: "group" }, element("span", {}, label("group", group.name)), ...fields));
  });
  document.querySelector("details[data-view=groups]").hidden = !DATA.groups.length;
}

const options = (words) => words.map((word) => element("option", { value: word }, word));

function plantNames() {
  const kind = byId("plant-kind").value;
  byId("plant-name").replaceChildren(...options([...(PLANTED_IN.get(kind)?.keys() ?? [])]));
  byId("plant-unit").textContent = ANGLES.includes(kind) ? "arcsec" : "mm";
  plantAxes();
}

function plantAxes() {
  const axes = PLANTED_IN.get(byId("plant-kind").value)?.get(byId("plant-name").value) ?? [];
  byId("plant-axis").replaceChildren(...options(axes));
  if (axes.includes("height")) byId("plant-axis").value = "height";
}

// The change that the form for a blunder says; null where there is no size.
function plantChange() {
  const size = Number(byId("plant-way").value + byId("plant-size").value);
  if (!(Number(byId("plant-size").value) > 0) || !Number.isFinite(size)) return null;
  const axis = byId("plant-axis").value;
  const way = axis === "value" ? "" : `${axis} `;
  return { action: "plant", kind: byId("plant-kind").value, name: byId("plant-name").value, value: `${way}${size} ${byId("plant-unit").textContent}` };
}

// The change that the two fields of a group say; null where they say what is so already.
function groupChange(name) {
  const fields = [...document.querySelectorAll("input[data-group]")].filter((field) => field.dataset.group === name);
  const now = DATA.groups[groupNumber(name)].multipliers;
  if (fields.some((field) => !(Number(field.value) > 0))) return { fault: "a multiplier is a number above 0" };
  if (fields.every((field, i) => Number(field.value) === now[i])) return null;
  const value = fields.map((field) => `${field.dataset.part}=${Number(field.value)}`).join(" ");
  return { action: "multiplier", kind: "group", name, value };
}

function tickGroups(changes) {
  for (const field of document.querySelectorAll("input[data-group]")) {
    const group = DATA.groups[groupNumber(field.dataset.group)];
    const change = changes.find((one) => one.action === "multiplier" && one.name === group.name);
    const said = change && new RegExp(`${field.dataset.part}=([\\d.e+-]+)`).exec(change.value);
    field.value = said ? said[1] : group.multipliers[field.dataset.part === "plan" ? 0 : 1];
  }
}

// Hands the trial file over as a download.
function save(changes) {
  const text = `${JSON.stringify(trialFile(changes), null, 2)}\n`;
  const link = element("a", { download: "trial.json", href: URL.createObjectURL(new Blob([text], { type: "application/json" })) });
  link.click();
  setTimeout(() => URL.revokeObjectURL(link.href), 1000);
}
