// The state of a trial: which rows are on, what they add, the covariance of all unknowns
// and the shift of each from the start. A state is never changed; each change makes the
// next one, so that undo gives back the very same figures.

const UNKNOWNS = DATA.unknowns;
const BLOCKS = DATA.blocks.map(readBlock);

// What a block is to be used with: rows, misclosures, booked covariance; `key` says
// whether its weights are those of before.
function wanted(block, number, settings) {
  const rows = [];
  const booked = bookedAs(block, number, settings);
  const misclosure = Float64Array.from(block.misclosure);
  block.observations.forEach((one, o) => {
    one.axes.forEach((axis, c) => {
      if (rowIsOn(one, `${number}/${o}`, axis, settings)) rows.push(one.first + c);
    });
  });
  for (const plant of settings.plants) plantedIn(block, number, plant, misclosure);
  return { rows, misclosure, booked: booked.values, key: `${rows}|${booked.key}` };
}

function rowIsOn(one, key, axis, settings) {
  if (one.kind !== "known mark") return !settings.off.has(key);
  return ["held", "weighted"].includes(useOf(one, key, axis, settings));
}

// How a known mark's plan or height is used: held, weighted, or not at all.
function useOf(one, key, axis, settings) {
  const component = axis < 2 ? "plan" : "height";
  return settings.uses.get(`${key} ${component}`) ?? one[`use_${component}`];
}

// Covariance as booked, but for known marks that are used otherwise than at the start.
function bookedAs(block, number, settings) {
  const words = [];
  let values = block.booked;
  block.observations.forEach((one, o) => {
    if (one.kind !== "known mark") return;
    one.axes.forEach((axis, c) => {
      const use = useOf(one, `${number}/${o}`, axis, settings);
      if (use === one[`use_${axis < 2 ? "plan" : "height"}`]) return;
      if (values === block.booked) values = block.booked.slice();
      reuse(values, block, one, c, use);
      words.push(`${one.first + c} ${use}`);
    });
  });
  return { values, key: words.join() };
}

// Gives one component of a known mark the variance of its use, and no correlation but
// with its own weighted components.
function reuse(values, block, one, c, use) {
  const [row, p] = [one.first + c, one.axes.length];
  for (let j = 0; j < block.r; j++) values[row * block.r + j] = values[j * block.r + row] = 0;
  values[row * block.r + row] = DATA.held_sd ** 2;
  if (use !== "weighted" || !one.stated) return;
  values[row * block.r + row] = one.stated[c * p + c];
  const partner = one.axes.findIndex((axis, k) => k !== c && axis < 2 && one.axes[c] < 2);
  if (partner < 0) return;
  const other = one.first + partner;
  values[row * block.r + other] = values[other * block.r + row] = one.stated[c * p + partner];
}

function plantedIn(block, number, plant, misclosure) {}

const ZERO = { off: new Set(), plants: [], uses: new Map() };

// The state that the page opens with.
function start(settings) {
  const blocks = BLOCKS.map((block, i) => made(block, wanted(block, i, settings)));
  const normal = new Float64Array((UNKNOWNS * (UNKNOWNS + 1)) / 2);
  blocks.forEach((some, i) => addTo(normal, BLOCKS[i].columns, some.normal));
  const covariance = inverseOfAll(normal, UNKNOWNS);
  return solved({ blocks, covariance });
}

function made(block, want) {
  return { ...weighed(block, want.rows, want.misclosure, want.booked), key: want.key };
}

function addTo(normal, columns, block) {
  const k = columns.length;
  for (let i = 0; i < k; i++)
    for (let j = 0; j < k; j++)
      if (columns[i] >= columns[j]) normal[packed(columns[i], columns[j])] += block[i * k + j];
}

// The state with its shift: covariance times right side.
function solved(state) {
  const right = new Float64Array(UNKNOWNS);
  state.blocks.forEach((some, b) => {
    BLOCKS[b].columns.forEach((column, k) => (right[column] += some.right[k]));
  });
  const shift = new Float64Array(UNKNOWNS);
  for (let i = 0, a = 0; i < UNKNOWNS; i++)
    for (let j = 0; j <= i; j++, a++) {
      shift[i] += state.covariance[a] * right[j];
      if (j < i) shift[j] += state.covariance[a] * right[i];
    }
  return { ...state, shift };
}

// The state with other settings; `{ loose }` where something would lose its only tie.
// What is added is added first, so that a swap never leaves a gap.
function changed(state, settings) {
  const blocks = state.blocks.slice();
  const [more, less] = [[], []];
  BLOCKS.forEach((block, b) => {
    const want = wanted(block, b, settings);
    const before = state.blocks[b];
    if (want.key === before.key && want.misclosure.every((v, i) => v === before.given?.[i])) return;
    const after = { ...made(block, want), given: want.misclosure };
    blocks[b] = after;
    if (want.key !== before.key) differences(block, before, after, more, less);
  });
  const covariance = more.length + less.length ? state.covariance.slice() : state.covariance;
  for (const [some, sign] of [[more, 1], [less, -1]])
    for (const { columns, values, rank } of some) {
      const loose = update(covariance, UNKNOWNS, columns, values, rank, sign);
      if (loose) return { loose };
    }
  return solved({ blocks, covariance });
}

// What a block's normal matrix gains and what it loses.
function differences(block, before, after, more, less) {
  const { k, columns } = block;
  const scale = Array.from({ length: k }, (_, i) => Math.max(before.normal[i * k + i], after.normal[i * k + i]));
  const gain = (a, b) => halves(a.map((value, i) => value - b[i]), k, scale, 1e-11);
  const nothing = new Float64Array(k * k);
  const within = (some, all) => some.rows.every((row) => all.rows.includes(row));
  const alike = before.key.split("|")[1] === after.key.split("|")[1];
  const one = (list, a, b) => {
    const { values, rank } = gain(a, b);
    if (rank) list.push({ columns, values, rank });
  };
  if (alike && within(before, after)) one(more, after.normal, before.normal);
  else if (alike && within(after, before)) one(less, before.normal, after.normal);
  else {
    one(more, after.normal, nothing);
    one(less, before.normal, nothing);
  }
}
