// What has been switched, as a list of changes in the words of decisions.csv, and what it
// means for the blocks.

const label = (kind, name) => `${kind} ${name}`;

// Every thing that can be switched off, with the observations that go with it.
const THINGS = new Map();
// Known marks, plan and height apart, and work that could be done.
const KNOWN = new Map();
const PLANNED = new Map();

function put(map, kind, name, about, key, more = {}) {
  const at = label(kind, name);
  if (!map.has(at)) map.set(at, { kind, name, about, keys: [], ...more });
  map.get(at).keys.push(key);
}

DATA.blocks.forEach((block, b) => {
  block.observations.forEach((one, o) => {
    const key = `${b}/${o}`;
    if (block.planned) put(PLANNED, one.kind, one.name, block.planned.about, key, { planned: block.planned });
    else if (one.kind === "known mark") putKnown(one, key);
    else if (one.kind !== "parameter") putObservation(one, key);
  });
});

function putObservation(one, key) {
  put(THINGS, one.kind, one.name, one.about, key, { view: "observations" });
  for (const s of one.set_ups) {
    const { name, about, tripod } = DATA.set_ups[s];
    put(THINGS, "set-up", name, about, key, { view: "set-ups" });
    if (tripod) put(THINGS, "tripod", tripod, "", key, { view: "tripods" });
  }
  if (one.session >= 0) put(THINGS, "session", DATA.sessions[one.session], "", key, { view: "sessions" });
}

function putKnown(one, key) {
  for (const part of ["plan", "height"]) {
    const axes = one.axes.filter((axis) => component(axis) === part);
    if (!axes.length) continue;
    const use = usedAtStart(one, axes[0]);
    put(KNOWN, `known mark ${part}`, one.name, one.source, key, { part, use, stated: Boolean(one.stated) });
  }
}

const USES = { hold: "held", weight: "weighted", free: "" };

// What the blocks are to be used with after these changes.
function settingsOf(changes) {
  const settings = asBooked();
  for (const { action, kind, name, value } of changes) {
    const thing = thingOf(action, label(kind, name));
    for (const key of thing?.keys ?? []) {
      settings.blocks.add(Number.parseInt(key, 10));
      if (action === "leave-out") settings.off.add(key);
      else if (action === "add") settings.on.add(key);
      else settings.uses.set(`${key} ${thing.part}`, USES[action]);
    }
    if (action === "multiplier") settings.multipliers.set(groupNumber(name), ratios(name, value));
    if (action === "plant") settings.plants.push(plantOf(kind, name, value));
  }
  return settings;
}

function thingOf(action, at) {
  if (action === "leave-out") return THINGS.get(at);
  if (action === "add") return PLANNED.get(at);
  return action in USES ? KNOWN.get(at) : undefined;
}

const groupNumber = (name) => DATA.groups.findIndex((group) => group.name === name);

// How much larger than at the start a group's standard deviations become: "plan=2 height=3".
function ratios(name, value) {
  const now = DATA.groups[groupNumber(name)].multipliers;
  const said = Object.fromEntries(value.split(" ").map((word) => word.split("=")));
  return ["plan", "height"].map((part, i) => (Number(said[part]) || now[i]) / now[i]);
}

const AXES = ["east", "north", "height"];
const SECOND = Math.PI / 648000;

// A planted blunder as written: "height 30 mm", "-12 arcsec".
function plantOf(kind, name, value) {
  const words = value.split(" ");
  const axis = AXES.indexOf(words[0]);
  const [size, unit] = words.slice(-2);
  return { kind, name, axis, size: Number(size) * (unit === "arcsec" ? SECOND : 0.001) };
}

// One change a thing: another about the same takes its place, the same again takes it back.
function toggled(changes, change) {
  const about = (one) => one.kind === change.kind && one.name === change.name && (one.action === "plant") === (change.action === "plant");
  const same = (one) => about(one) && one.action === change.action && one.value === change.value;
  const rest = changes.filter((one) => !about(one));
  return changes.some(same) ? rest : [...rest, change];
}

const SAID = {
  "leave-out": "switched off",
  hold: "held",
  weight: "weighted",
  free: "let go",
  add: "added, as if observed",
  multiplier: "standard deviations multiplied",
};
const said = (change) => `${label(change.kind, change.name)} ${change.action === "plant" ? plantSaid(change) : saidOf(change)}`;
const saidOf = ({ action, value }) => `${SAID[action]}${value ? ` ${value}` : ""}`;

// The sign as a word: "height -30 mm" is a height booked too small by 30 mm.
function plantSaid({ kind, name, value }) {
  const { axis, size } = plantOf(kind, name, value);
  const [figure, unit] = value.split(" ").slice(-2);
  const way = axis < 0 ? "" : `${AXES[axis]} `;
  return `blunder planted, ${way}booked too ${size < 0 ? "small" : "large"} by ${figure.replace(/^[-+]/, "")} ${unit}`;
}

// The trial file, and one read back: what of it cannot be done here is said.
const trialFile = (changes) => ({ schema: "brasscap/trial/1", job_hash: DATA.job_hash, datum: DATA.datum, changes });

function readTrial(text) {
  let given;
  try {
    given = JSON.parse(text);
  } catch {
    return { fault: "this is no trial file: no JSON" };
  }
  if (given?.schema !== "brasscap/trial/1" || !Array.isArray(given.changes)) return { fault: "this is no trial file of brasscap" };
  if (given.job_hash !== DATA.job_hash) return { fault: "this trial is of another state of the job: make the page again with brasscap trial" };
  const unknown = given.changes.filter((change) => !possible(change));
  if (unknown.length) return { fault: `not on this page: ${unknown.map((one) => label(one?.kind, one?.name)).join(", ")}` };
  return { changes: given.changes.map(({ action, kind, name, value }) => ({ action: action === "check-only" ? "free" : action, kind, name, value: value ?? "" })) };
}

function possible(change) {
  const at = label(change?.kind, change?.name);
  const maps = { "leave-out": THINGS, add: PLANNED, hold: KNOWN, weight: KNOWN, free: KNOWN, "check-only": KNOWN };
  if (change?.action in maps) return maps[change.action].has(at);
  if (change?.action === "multiplier") return groupNumber(change.name) >= 0;
  if (change?.action !== "plant") return false;
  const axes = PLANTED_IN.get(change.kind)?.get(change.name) ?? [];
  const { axis, size } = plantOf(change.kind, change.name, String(change.value));
  return axes.includes(AXES[axis] ?? "value") && Number.isFinite(size);
}
