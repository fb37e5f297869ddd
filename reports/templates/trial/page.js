// The page itself: what is switched, what follows, what is said.

const FIRST = opened();
let changes = [];
let present = FIRST;
const past = [];
let map;

function opened() {
  const state = start();
  return { state, settings: asBooked(), found: judged(state) };
}

// Makes the changes, or says in words why not.
function attempt(next, words) {
  const settings = settingsOf(next);
  const state = changed(present.state, settings);
  if (state.loose) {
    tell(refusal(next, state.loose), true);
    return show();
  }
  remember();
  changes = next;
  present = { state, settings, found: judged(state) };
  tell(`${words}. ${sentence()}`);
  show();
}

function refusal(next, loose) {
  const last = next.filter((one) => !changes.includes(one)).pop() ?? changes.find((one) => !next.includes(one));
  const most = Math.max(...loose.map(Math.abs));
  const names = DATA.marks
    .filter((mark) => mark.unknowns.some((u) => u >= 0 && Math.abs(loose[u]) > 0.1 * most))
    .map((mark) => mark.station);
  const listed = names.length > 8 ? `${names.slice(0, 8).join(", ")} and ${names.length - 8} more` : names.join(", ");
  const what = last ? label(last.kind, last.name) : "this";
  return `Not done: ${what} is the only tie of ${listed || "a parameter"}. Without it nothing would say where that is. Add proposed work first.`;
}

// The last few states stand ready to be gone back to; of those before them the changes
// are kept, and their figures are worked out again.
const KEPT = 4;

function remember() {
  past.push({ changes, present });
  const old = past[past.length - 1 - KEPT];
  if (!old?.present) return;
  const { covariance } = old.present.state;
  old.present = null;
  const users = [FIRST, present, ...past.map((one) => one.present)];
  if (users.every((one) => one?.state.covariance !== covariance)) SPARE.push(covariance);
}

// What the page has with some changes that it had before.
function again(made) {
  const settings = settingsOf(made);
  const state = changed(FIRST.state, settings);
  return { state, settings, found: judged(state) };
}

function undo() {
  const before = past.pop();
  if (!before) return tell("There is nothing to undo.");
  changes = before.changes;
  present = before.present ?? again(changes);
  tell(`Undone. ${sentence()}`);
  show();
}

function tell(words, refused = false) {
  byId("told").textContent = words;
  byId("told").className = refused ? "refused" : "";
}

// The answer in one sentence, for those who do not see the figures change.
function sentence() {
  const { factor, worst } = present.found;
  const value = factor.value === null ? "cannot be judged" : `${factor.value.toFixed(2)}, ${factor.verdict}`;
  const pair = ASKED.name && worst.share >= 0 ? `; worst pair ${worst.share.toFixed(2)} of the limit` : "";
  return `Variance factor ${value}; ${uncheckedCount(present.found)} unchecked${pair}.`;
}

const uncheckedCount = (found) => found.rows.filter((row) => row.verdict === "unchecked" && row.kind !== "set-up height").length;

// The figures and the map follow at once; lists, tables and the object with the next frame.
function show() {
  tick(changes);
  tickGroups(changes);
  figures(present, FIRST);
  redraw(map, FIRST, present, present.settings);
  listChanges();
  later();
}

let waiting = 0;
function later() {
  clearTimeout(waiting);
  waiting = setTimeout(() => {
    writeLists();
    waiting = setTimeout(writeOut, 0);
  }, 0);
}

function writeLists() {
  for (const view of document.querySelectorAll("details[data-view][open]")) refresh(view.dataset.view, present);
  markRows();
  nameMap(map);
}

function writeOut() {
  clearTimeout(waiting);
  byId("result").textContent = JSON.stringify(answer(present.state, present.found, present.settings));
  byId("file").value = JSON.stringify(trialFile(changes), null, 1);
}

function listChanges() {
  const made = changes.map((change) => {
    const button = element("button", { type: "button", "aria-label": `take back: ${said(change)}` }, "take back");
    button.addEventListener("click", () => attempt(changes.filter((one) => one !== change), `${said(change)}: taken back`));
    return element("li", {}, element("span", {}, said(change)), button);
  });
  const focused = document.activeElement;
  byId("changes").replaceChildren(...made);
  byId("nothing").hidden = changes.length > 0;
  byId("undo").disabled = !past.length;
  byId("reset").disabled = !changes.length;
  // Who came by keyboard stays with what was tried when a button goes.
  if (focused.matches("button") && (focused.disabled || !focused.isConnected)) byId("tries").focus();
}

// A switch used: what it changes, in the words of decisions.csv.
function switched(target) {
  const { kind, name, action } = target.dataset;
  if (action === "add") return { action, kind, name, value: "" };
  if (action === "leave-out") return { action, kind, name, value: "" };
  const known = KNOWN.get(label(kind, name));
  const row = rows.find((one) => one.thing === known);
  const wantedUse = row.box.checked ? row.choice.value : "free";
  return USES[wantedUse] === known.use ? null : { action: wantedUse, kind, name, value: "" };
}

document.addEventListener("change", (event) => {
  const { kind, name, group } = event.target.dataset;
  if (group) return regroup(group);
  if (!kind) return;
  const change = switched(event.target);
  const others = changes.filter((one) => !(one.kind === kind && one.name === name && one.action !== "plant"));
  const had = others.length < changes.length;
  if (event.target.dataset.action === "leave-out" || event.target.dataset.action === "add") {
    if (had) return attempt(others, `${label(kind, name)} as it was`);
    return attempt([...changes, change], said(change));
  }
  return attempt(change ? [...others, change] : others, change ? said(change) : `${label(kind, name)} as it was`);
});

function regroup(name) {
  const change = groupChange(name);
  if (change?.fault) return tell(change.fault, true);
  const others = changes.filter((one) => !(one.action === "multiplier" && one.name === name));
  return attempt(change ? [...others, change] : others, change ? said(change) : `group ${name} as it was`);
}

byId("plant").addEventListener("submit", (event) => {
  event.preventDefault();
  const change = plantChange();
  if (!change) return tell("Say how large: a number above 0.", true);
  return attempt([...changes.filter((one) => !(one.action === "plant" && one.kind === change.kind && one.name === change.name)), change], said(change));
});
byId("undo").addEventListener("click", undo);
byId("reset").addEventListener("click", () => attempt([], "All as at the start"));
byId("save").addEventListener("click", () => save(changes));
byId("open").addEventListener("change", async (event) => {
  const [file] = event.target.files;
  if (!file) return;
  const read = readTrial(await file.text());
  event.target.value = "";
  if (read.fault) tell(`Not opened: ${read.fault}.`, true);
  else attempt(read.changes, `Opened ${file.name}`);
});
byId("find").addEventListener("input", filter);
for (const view of document.querySelectorAll("details[data-view]"))
  view.addEventListener("toggle", () => view.open && refresh(view.dataset.view, present));

// Where all stands in one column, a long list would keep the map out of reach.
if (matchMedia("(max-width: 820px)").matches)
  for (const view of document.querySelectorAll("details[data-view][open]")) view.open = false;
stepsOf(FIRST.found);
buildViews();
buildForms();
buildMarks();
map = drawnMap(byId("map"));
show();
writeLists();
writeOut();
