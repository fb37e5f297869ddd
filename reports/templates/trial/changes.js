// What has been switched, as a list of changes in the words of decisions.csv, and what it
// means for the blocks.

const label = (kind, name) => `${kind} ${name}`;

// Every thing that can be switched, with the observations that go with it.
const THINGS = things();

function things() {
  const found = new Map();
  const put = (kind, name, about, key) => {
    const at = label(kind, name);
    if (!found.has(at)) found.set(at, { kind, name, about, keys: [] });
    found.get(at).keys.push(key);
  };
  DATA.blocks.forEach((block, b) => {
    block.observations.forEach((one, o) => {
      if (one.kind === "parameter" || one.kind === "known mark") return;
      const key = `${b}/${o}`;
      put(one.kind, one.name, one.about, key);
      for (const s of one.set_ups) {
        const setUp = DATA.set_ups[s];
        put("set-up", setUp.name, setUp.about, key);
        if (setUp.tripod) put("tripod", setUp.tripod, setUp.tripod, key);
      }
      if (one.session >= 0) put("session", DATA.sessions[one.session], DATA.sessions[one.session], key);
    });
  });
  return found;
}

// What the blocks are to be used with after these changes.
function settingsOf(changes) {
  const settings = { off: new Set(), plants: [], uses: new Map() };
  for (const change of changes) {
    const thing = THINGS.get(label(change.kind, change.name));
    if (change.action === "leave-out") for (const key of thing.keys) settings.off.add(key);
  }
  return settings;
}

// The list with one change more, or without it where it stands there.
function toggled(changes, change) {
  const same = (one) => one.action === change.action && one.kind === change.kind && one.name === change.name;
  return changes.some(same) ? changes.filter((one) => !same(one)) : [...changes, change];
}

const said = (change) =>
  change.action === "leave-out" ? `${label(change.kind, change.name)} switched off` : label(change.kind, change.name);

// The trial file.
function trialFile(changes) {
  return { schema: "brasscap/trial/1", job_hash: DATA.job_hash, datum: DATA.datum, changes };
}
