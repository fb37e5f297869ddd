// The page: switches, figures, words. Everything is drawn from the present state.

const byId = (id) => document.getElementById(id);
let changes = [];
let present = { state: start(ZERO) };
present.found = judged(present.state);
const FIRST = present;
const past = [];

// Makes a change, or says in words why not.
function attempt(next) {
  const state = changed(present.state, settingsOf(next));
  if (state.loose) return refuse(next, state.loose);
  past.push({ changes, present });
  changes = next;
  present = { state, found: judged(state) };
  show();
  return true;
}

function refuse(next, loose) {
  const last = next.length > changes.length ? next[next.length - 1] : null;
  const most = Math.max(...loose.map(Math.abs));
  const marks = DATA.marks.filter((mark) => mark.unknowns.some((u) => u >= 0 && Math.abs(loose[u]) > 0.1 * most));
  const names = marks.map((mark) => mark.station).join(", ");
  tell(`${last ? label(last.kind, last.name) : "this"} is the only tie of ${names || "an unknown"}: it stays as it is. Add a proposed line first.`);
  show();
  return false;
}

function undo() {
  const before = past.pop();
  if (!before) return tell("nothing to undo");
  ({ changes, present } = before);
  tell("undone");
  show();
}

const tell = (words) => (byId("told").textContent = words);

function show() {
  const { factor } = present.found;
  byId("factor").textContent = factor.value === null ? "cannot be judged" : `${factor.value.toFixed(2)} ${factor.verdict}`;
  byId("freedom").textContent = `${factor.degrees_of_freedom} degrees of freedom`;
  for (const box of document.querySelectorAll("input[data-kind]")) {
    const off = changes.some((c) => c.kind === box.dataset.kind && c.name === box.dataset.name);
    box.checked = !off;
  }
  byId("list").replaceChildren(...changes.map((change) => Object.assign(document.createElement("li"), { textContent: said(change) })));
  byId("result").textContent = JSON.stringify(answer(present.state, present.found));
}

function switches() {
  const rows = [...THINGS.values()].map((thing) => {
    const row = document.createElement("label");
    const box = Object.assign(document.createElement("input"), { type: "checkbox", checked: true });
    box.dataset.kind = thing.kind;
    box.dataset.name = thing.name;
    row.append(box, ` ${label(thing.kind, thing.name)}`);
    return row;
  });
  byId("switches").replaceChildren(...rows);
}

document.addEventListener("change", (event) => {
  const { kind, name } = event.target.dataset;
  if (!kind) return;
  tell("");
  attempt(toggled(changes, { action: "leave-out", kind, name, value: "" }));
});
byId("undo").addEventListener("click", undo);
switches();
show();
