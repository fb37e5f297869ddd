// The state of a trial: which rows are on, what they add, the covariance of all unknowns
// and the shift of each from the start. A state is never changed; each change makes the
// next one, so that undo gives back the very same figures.

const UNKNOWNS = DATA.unknowns;
const BLOCKS = DATA.blocks.map(readBlock);
const OBSERVATIONS = BLOCKS.flatMap((block) => block.observations).map((one, i) => (one.number = i)).length;

// The state that the page opens with.
function start() {
  const settings = asBooked();
  const blocks = BLOCKS.map((block, b) => made(block, wanted(block, b, settings)));
  const normal = new Float64Array((UNKNOWNS * (UNKNOWNS + 1)) / 2);
  blocks.forEach((some, b) => addTo(normal, BLOCKS[b].columns, some.normal));
  if (DATA.rest) addTo(normal, DATA.rest.columns, DATA.rest.normal);
  return solved({ blocks, settings, covariance: inverseOfAll(normal, UNKNOWNS) });
}

function made(block, want) {
  return { ...weighed(block, want.rows, want.misclosure, want.booked), key: want.key, given: want.misclosure };
}

function addTo(normal, columns, block) {
  const k = columns.length;
  for (let i = 0; i < k; i++)
    for (let j = 0; j < k; j++)
      if (columns[i] >= columns[j]) normal[packed(columns[i], columns[j])] += block[i * k + j];
}

// The state with its shift: covariance times right side. What is only planned has no say
// in where the marks are.
function solved(state) {
  const right = new Float64Array(UNKNOWNS);
  const add = (columns, values) => columns.forEach((column, k) => (right[column] += values[k]));
  state.blocks.forEach((some, b) => add(BLOCKS[b].columns, some.right));
  if (DATA.rest) add(DATA.rest.columns, DATA.rest.right);
  const shift = against(state.covariance, right);
  const open = withoutPlanned(state, shift);
  return { ...state, shift, open };
}

function against(whole, right) {
  const shift = new Float64Array(UNKNOWNS);
  for (let i = 0, a = 0; i < UNKNOWNS; i++) {
    const pull = right[i];
    let sum = 0;
    for (let j = 0; j < i; j++, a++) {
      sum += whole[a] * right[j];
      shift[j] += whole[a] * pull;
    }
    shift[i] += sum + whole[a++] * pull;
  }
  return shift;
}

// A planned observation would pull towards the start; its weight is taken back to a
// thousand millionth, enough to place what it alone ties. Returns how many unknowns those
// are.
const FAINT = 1e-9;

function withoutPlanned(state, shift) {
  const columns = [];
  const parts = [];
  state.blocks.forEach((some, b) => {
    if (!BLOCKS[b].planned || !some.n) return;
    const { k } = BLOCKS[b];
    const scale = Array.from({ length: k }, (_, i) => some.normal[i * k + i]);
    parts.push({ first: columns.length, k, ...halves(some.normal, k, scale, 1e-11) });
    columns.push(...BLOCKS[b].columns);
  });
  const rank = parts.reduce((sum, one) => sum + one.rank, 0);
  if (!rank) return 0;
  const v = new Float64Array(columns.length * rank);
  let at = 0;
  for (const one of parts) {
    for (let i = 0; i < one.k; i++)
      for (let r = 0; r < one.rank; r++)
        v[(one.first + i) * rank + at + r] = Math.sqrt(1 - FAINT) * one.values[i * one.rank + r];
    at += one.rank;
  }
  return pulledBack(state.covariance, columns, v, rank, shift);
}

function pulledBack(whole, columns, v, rank, shift) {
  const reached = reach(whole, UNKNOWNS, columns, v, rank);
  const small = times(turned(v, columns.length, rank), rowsOf(reached, columns, rank), rank, columns.length, rank);
  for (let i = 0; i < small.length; i++) small[i] = -small[i];
  for (let i = 0; i < rank; i++) small[i * rank + i] += 1;
  const pull = new Float64Array(rank);
  columns.forEach((column, k) => {
    for (let r = 0; r < rank; r++) pull[r] += v[k * rank + r] * shift[column];
  });
  const back = times(inverse(small, rank), pull, rank, rank, 1);
  for (let i = 0; i < UNKNOWNS; i++)
    for (let r = 0; r < rank; r++) shift[i] += reached[i * rank + r] * back[r];
  return eigen(small, rank).values.filter((value) => value < ONLY_TIE).length;
}

function rowsOf(reached, columns, rank) {
  const made = new Float64Array(columns.length * rank);
  columns.forEach((column, k) => made.set(reached.subarray(column * rank, (column + 1) * rank), k * rank));
  return made;
}

// The state with other settings; `{ loose }` where something would lose its only tie.
// What is added is added first, so that a swap never leaves a gap.
function changed(state, settings) {
  const blocks = state.blocks.slice();
  const [more, less] = [[], []];
  BLOCKS.forEach((block, b) => {
    if (!mentions(settings, block, b) && !mentions(state.settings, block, b)) return;
    const want = wanted(block, b, settings);
    const before = state.blocks[b];
    if (want.key === before.key && want.misclosure.every((v, i) => v === before.given[i])) return;
    blocks[b] = made(block, want);
    if (want.key !== before.key) differences(block, before, blocks[b], more, less);
  });
  const covariance = more.length + less.length ? copied(state.covariance) : state.covariance;
  for (const [some, sign] of [[more, 1], [less, -1]])
    for (const { columns, values, rank } of some) {
      const loose = update(covariance, UNKNOWNS, columns, values, rank, sign);
      if (loose) {
        SPARE.push(covariance);
        return { loose };
      }
    }
  return solved({ blocks, settings, covariance });
}

// Covariances that no state has any more: a new one costs more than all that is reckoned.
const SPARE = [];

function copied(covariance) {
  const made = SPARE.pop();
  if (!made) return covariance.slice();
  made.set(covariance);
  return made;
}

// What a block's normal matrix gains and what it loses.
function differences(block, before, after, more, less) {
  const { k, columns } = block;
  const scale = Array.from({ length: k }, (_, i) => Math.max(before.normal[i * k + i], after.normal[i * k + i]));
  const put = (list, some) => {
    const { values, rank } = halves(some, k, scale, 1e-11);
    if (rank) list.push({ columns, values, rank });
  };
  const minus = (a, b) => a.map((value, i) => value - b[i]);
  const within = (some, all) => some.rows.every((row) => all.rows.includes(row));
  const alike = before.key.split("|")[1] === after.key.split("|")[1];
  if (alike && within(before, after)) put(more, minus(after.normal, before.normal));
  else if (alike && within(after, before)) put(less, minus(before.normal, after.normal));
  else {
    put(more, after.normal);
    put(less, before.normal);
  }
}
