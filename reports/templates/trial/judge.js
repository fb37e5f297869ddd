// What a state is worth: the tests of everything in it, and what nothing checks.

const LIMITS = DATA.limits;

// Room for what is asked of one block after the other.
const MOST = (width) => Math.max(1, ...BLOCKS.map(width));
const HERE = new Float64Array(MOST((block) => block.k ** 2));
const ACROSS = new Float64Array(MOST((block) => block.k));
const ROOM = new Float64Array(MOST((block) => block.r));
const SAYS = { state: null, b: -1, left: new Float64Array(MOST((block) => block.r ** 2)), pull: new Float64Array(MOST((block) => block.r)), vtpv: 0 };

// What the residuals of a block say: W = P − P A C Aᵀ P and u = P (l − A x). What comes
// back is overwritten by the next block.
function residuals(state, b) {
  if (SAYS.state === state && SAYS.b === b) return SAYS;
  const [{ k, columns }, { n, weighted, weight }] = [BLOCKS[b], state.blocks[b]];
  partInto(state.covariance, columns, HERE);
  for (let i = 0; i < n; i++) {
    ACROSS.fill(0);
    for (let c = 0; c < k; c++) {
      const value = weighted[i * k + c];
      if (value !== 0) for (let d = 0; d < k; d++) ACROSS[d] += value * HERE[c * k + d];
    }
    for (let j = 0; j <= i; j++) {
      let sum = weight[i * n + j];
      for (let d = 0; d < k; d++) sum -= ACROSS[d] * weighted[j * k + d];
      SAYS.left[i * n + j] = SAYS.left[j * n + i] = sum;
    }
  }
  pullInto(state, b);
  return SAYS;
}

// The misclosures that are left after the shift, weighted, and their square sum.
function pullInto(state, b) {
  const [{ k, columns }, { n, design, weight, l }] = [BLOCKS[b], state.blocks[b]];
  const gap = ROOM.subarray(0, n);
  for (let i = 0; i < n; i++) {
    gap[i] = l[i];
    for (let c = 0; c < k; c++) gap[i] -= design[i * k + c] * state.shift[columns[c]];
  }
  let vtpv = 0;
  for (let i = 0; i < n; i++) {
    let sum = 0;
    for (let j = 0; j < n; j++) sum += weight[i * n + j] * gap[j];
    SAYS.pull[i] = sum;
    vtpv += sum * gap[i];
  }
  Object.assign(SAYS, { state, b, vtpv });
}

// All tests of a state, a row each, with the variance factor and what nothing checks.
function judged(state) {
  const whole = { state, vtpv: 0, freedom: 0, count: 0 };
  const rows = [];
  let [count, freed] = [0, 0];
  const swings = new Map();
  state.blocks.forEach((some, b) => {
    if (!some.n || BLOCKS[b].planned) return;
    const says = residuals(state, b);
    whole.vtpv += says.vtpv;
    count += some.n;
    freed += some.freed;
    const first = rows.length;
    testedRows(whole, b, says, rows);
    for (let i = first; i < rows.length; i++) if (rows[i].loose) follow(state, b, some, rows[i], swings);
  });
  const rest = DATA.rest ? restOf(state) : { vtpv: 0, rows: 0 };
  whole.vtpv += rest.vtpv;
  whole.freedom = count + rest.rows - freed - UNKNOWNS + state.open;
  const factor = varianceFactor(whole.vtpv, whole.freedom);
  valued(rows, whole);
  return { rows, factor, swings, hides: hidden(rows), worst: worstPair(state, factor) };
}

// How large a blunder each observation lets pass, m; endless where nothing checks it.
function hidden(rows) {
  const hides = new Float64Array(OBSERVATIONS).fill(Infinity);
  for (const row of rows) if (row.key && !row.unchecked) hides[row.one.number] = row.smallest * lengthOf(row.one);
  return hides;
}

// The first row of each kind and name.
function byNameOf(found) {
  if (!found.byName) {
    found.byName = new Map();
    for (const row of found.rows) {
      const at = label(row.kind, row.one.name);
      if (!found.byName.has(at)) found.byName.set(at, row);
    }
  }
  return found.byName;
}

// What an angle of one radian is over the line, m; 1 for what is a length.
function lengthOf(one) {
  if (one.unit !== "rad") return 1;
  const [p, q] = one.marks.map((i) => DATA.marks[i].place);
  return Math.hypot(p[0] - q[0], p[1] - q[1]) || 1;
}

// Marks that follow what nothing checks: name of the component to whether it swings.
function follow(state, b, some, row, swings) {
  for (const way of row.loose) {
    const { at, values, p } = row.cause;
    const shift = new Float64Array(some.n);
    at.forEach((i, r) => {
      for (let c = 0; c < p; c++) shift[i] += values[r * p + c] * way[c];
    });
    const pushed = times(turned(some.weighted, some.n, BLOCKS[b].k), shift, BLOCKS[b].k, some.n, 1);
    const moved = reach(state.covariance, UNKNOWNS, [...BLOCKS[b].columns], pushed, 1);
    const size = Math.sqrt(dot(way, way));
    for (let i = 0; i < UNKNOWNS; i++) if (Math.abs(moved[i]) > 1e-6 * size) swings.set(i, true);
  }
}

// Of a network of which only a part is shown: the weighted square sum of the rest as the
// part's marks shift, and how many rows more it has than unknowns of its own.
function restOf(state) {
  const { columns, normal, right, vtpv, rows } = DATA.rest;
  const k = columns.length;
  const shift = columns.map((column) => state.shift[column]);
  let sum = vtpv;
  for (let i = 0; i < k; i++) {
    sum -= 2 * right[i] * shift[i];
    for (let j = 0; j < k; j++) sum += normal[i * k + j] * shift[i] * shift[j];
  }
  return { vtpv: sum, rows };
}

function varianceFactor(vtpv, freedom) {
  if (freedom < 1)
    return { value: null, vtpv, degrees_of_freedom: freedom, lower: null, upper: null, verdict: "unchecked" };
  const [lower, upper] = [LIMITS.lower[freedom - 1], LIMITS.upper[freedom - 1]];
  const value = vtpv / freedom;
  const verdict = value > upper ? "fails" : value < lower ? "query" : "meets";
  return { value, vtpv, degrees_of_freedom: freedom, lower, upper, verdict };
}

// Adds to each row its test on the variance factor that counts, and its verdict. How likely
// a statistic is by chance matters to a verdict only beyond the limit.
function valued(rows, whole) {
  for (const row of rows) {
    const basis = basisOf(row);
    if (basis) row.test = basis.test;
    if (Number.isFinite(row.test)) whole.count++;
  }
  for (const row of rows) {
    if (!Number.isFinite(row.test)) row.verdict = "unchecked";
    else if (!(row.test > 1)) row.verdict = "meets";
    else row.verdict = familyOf(row) < 1 - LIMITS.confidence ? "fails" : "query";
  }
}

// The test of a row on the variance factor that counts; null where there is none.
function basisOf(row) {
  if (row.unchecked) return null;
  return LIMITS.tests_from === "estimated" ? estimatedBasis(row) : statedBasis(row);
}

// Chance that any test of the job is as large by chance (Šidák).
function familyOf(row) {
  return Number.isFinite(row.test) ? -Math.expm1(row.whole.count * Math.log1p(-chanceOf(basisOf(row), row))) : NaN;
}

const chanceOf = (basis, row) =>
  basis.left === undefined
    ? chanceOfChiSquare(basis.statistic, row.components)
    : chanceOfFisher(basis.statistic, row.components, basis.left);

function statedBasis(row) {
  const statistic = Math.max(row.statistic, 0);
  const limit = LIMITS.chi_square[row.components - 1];
  return { statistic, limit, test: Math.sqrt(statistic / limit) };
}

// On the variance factor of what is left without the cause; null where nothing is left.
function estimatedBasis(row) {
  const { vtpv, freedom } = row.whole;
  const p = row.components;
  const left = freedom - p;
  if (left < 1) return null;
  const rest = Math.max(vtpv - row.statistic, 1e-12 * vtpv, 1e-300);
  const statistic = Math.max(row.statistic, 0) / p / (rest / left);
  const limit = LIMITS.fisher[p - 1][left - 1];
  return { statistic, limit, test: Math.sqrt(statistic / limit), left };
}
