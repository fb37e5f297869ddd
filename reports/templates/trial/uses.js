// What a block is used with in a trial: its rows, its covariance, its misclosures.

// The settings of a page on which nothing is switched; `blocks` are those in which
// something is.
const asBooked = () => ({
  blocks: new Set(),
  off: new Set(),
  on: new Set(),
  plants: [],
  uses: new Map(),
  multipliers: new Map(),
});

// Whether settings say anything of a block; of most they do not.
function mentions(settings, block, number) {
  if (settings.blocks.has(number)) return true;
  if (settings.plants.length) return true;
  return settings.multipliers.size > 0 && block.observations.some((one) => settings.multipliers.has(one.group));
}

// Rows, misclosures and booked covariance of a block; `key` says whether its weights are
// those of before.
function wanted(block, number, settings) {
  const rows = [];
  const booked = bookedAs(block, number, settings);
  const misclosure = Float64Array.from(block.misclosure);
  block.observations.forEach((one, o) => {
    one.axes.forEach((axis, c) => {
      if (rowIsOn(block, one, `${number}/${o}`, axis, settings)) rows.push(one.first + c);
    });
  });
  for (const plant of settings.plants) plantedIn(block, plant, misclosure);
  return { rows, misclosure, booked: booked.values, key: `${rows}|${booked.key}` };
}

function rowIsOn(block, one, key, axis, settings) {
  if (block.planned) return settings.on.has(key);
  if (one.kind !== "known mark") return !settings.off.has(key);
  return ["held", "weighted"].includes(useOf(one, key, axis, settings));
}

// How a known mark's plan or height is used: held, weighted, or not at all.
const component = (axis) => (axis < 2 ? "plan" : "height");
const useOf = (one, key, axis, settings) =>
  settings.uses.get(`${key} ${component(axis)}`) ?? usedAtStart(one, axis);
const usedAtStart = (one, axis) => one[`use_${component(axis)}`];

// Covariance as booked, but for known marks that are used otherwise than at the start,
// and for groups with other multipliers.
function bookedAs(block, number, settings) {
  const words = [];
  const values = block.booked.slice();
  block.observations.forEach((one, o) => {
    if (one.kind === "known mark") reuse(values, block, one, `${number}/${o}`, settings, words);
    const factors = settings.multipliers.get(one.group);
    if (factors && one.group >= 0 && one.axes.length === 3) {
      multiplied(values, block, one, factors);
      words.push(`${one.first} ${factors}`);
    }
  });
  return { values, key: words.join() };
}

// Gives components of a known mark the variance of their use; what is weighted keeps what
// it has in common with the mark's other weighted components.
function reuse(values, block, one, key, settings, words) {
  const uses = one.axes.map((axis) => useOf(one, key, axis, settings));
  if (uses.every((use, c) => use === usedAtStart(one, one.axes[c]))) return;
  const { r } = block;
  const p = one.axes.length;
  words.push(`${one.first} ${uses}`);
  uses.forEach((use, c) => {
    const row = one.first + c;
    for (let j = 0; j < r; j++) values[row * r + j] = values[j * r + row] = 0;
  });
  uses.forEach((use, c) =>
    uses.forEach((other, d) => {
      const both = use === "weighted" && other === "weighted" && one.stated;
      const firm = c === d ? DATA.held_sd ** 2 : 0;
      values[(one.first + c) * r + one.first + d] = both ? one.stated[c * p + d] : firm;
    }),
  );
}

// Multiplies standard deviations of a vector or position in east, north and up.
function multiplied(values, block, one, factors) {
  const { r } = block;
  const scale = Float64Array.from([factors[0], factors[0], factors[1]]);
  const turn = Float64Array.from(one.turn);
  const half = turn.map((value, i) => value * scale[i % 3]);
  const s = times(half, turned(turn, 3, 3), 3, 3, 3);
  for (let j = 0; j < r; j++) {
    const column = [0, 1, 2].map((i) => values[(one.first + i) * r + j]);
    for (let i = 0; i < 3; i++) values[(one.first + i) * r + j] = s[3 * i] * column[0] + s[3 * i + 1] * column[1] + s[3 * i + 2] * column[2];
  }
  for (let i = 0; i < r; i++) {
    const row = [0, 1, 2].map((j) => values[i * r + one.first + j]);
    for (let j = 0; j < 3; j++) values[i * r + one.first + j] = s[3 * j] * row[0] + s[3 * j + 1] * row[1] + s[3 * j + 2] * row[2];
  }
}

// Adds a wrong booking to the misclosures: `size` too large along `axis` (0 east, 1 north,
// 2 up; −1 a reading's own value).
function plantedIn(block, plant, misclosure) {
  const { kind, name, axis, size } = plant;
  if (kind === "set-up" || kind === "tripod") {
    for (const stand of block.stands) {
      const one = DATA.set_ups[stand.setUp];
      if ((kind === "set-up" ? one.name : one.tripod) !== name) continue;
      for (let i = 0; i < block.r; i++) misclosure[i] -= size * stand.effect[3 * i + axis];
    }
    return;
  }
  for (const one of block.observations) {
    if (one.kind !== kind || one.name !== name || block.planned) continue;
    const p = one.axes.length;
    const along = axis < 0 ? 0 : one.axes.indexOf(axis);
    if (along < 0) continue;
    for (let i = 0; i < p; i++) misclosure[one.first + i] += size * one.turn[i * p + along];
  }
}
