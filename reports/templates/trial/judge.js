// What a state is worth: the tests of everything in it, and what nothing checks.

const LIMITS = DATA.limits;

// What the residuals of a block say: W = P − P A C Aᵀ P and u = P (l − A x).
function residuals(state, b) {
  const [block, some] = [BLOCKS[b], state.blocks[b]];
  const { n, design, weighted, weight, l } = some;
  const { k, columns } = block;
  const here = part(state.covariance, columns);
  const lost = times(times(weighted, here, n, k, k), turned(weighted, n, k), n, k, n);
  const left = weight.map((value, i) => value - lost[i]);
  const shift = Float64Array.from(columns, (column) => state.shift[column]);
  const gap = times(design, shift, n, k, 1).map((value, i) => l[i] - value);
  const pull = times(weight, gap, n, n, 1);
  return { left, pull, vtpv: dot(gap, pull) };
}

// All tests of a state, a row each, with the variance factor and what nothing checks.
function judged(state) {
  const rows = [];
  let [vtpv, count, freed] = [0, 0, 0];
  const swings = new Map();
  state.blocks.forEach((some, b) => {
    if (!some.n || BLOCKS[b].planned) return;
    const found = residuals(state, b);
    vtpv += found.vtpv;
    count += some.n;
    freed += some.freed;
    const first = rows.length;
    testedRows(state, b, found, rows);
    for (let i = first; i < rows.length; i++) if (rows[i].loose) follow(state, b, some, rows[i], swings);
  });
  const rest = DATA.rest ? restOf(state) : { vtpv: 0, rows: 0 };
  vtpv += rest.vtpv;
  const freedom = count + rest.rows - freed - UNKNOWNS + state.open;
  const factor = varianceFactor(vtpv, freedom);
  valued(rows, vtpv, freedom);
  return { rows, factor, swings, ...named(rows), worst: worstPair(state, factor) };
}

// Rows by kind and name, and how large a blunder each observation lets pass, m.
function named(rows) {
  const [byName, hides] = [new Map(), new Map()];
  for (const row of rows) {
    const at = label(row.kind, row.one.name);
    if (!byName.has(at)) byName.set(at, row);
    if (row.key) hides.set(row.key, row.unchecked ? Infinity : row.smallest * lengthOf(row.one));
  }
  return { byName, hides };
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
function valued(rows, vtpv, freedom) {
  const choose = LIMITS.tests_from === "estimated" ? estimatedBasis : statedBasis;
  let count = 0;
  for (const row of rows) {
    row.basis = row.unchecked ? null : choose(row, vtpv, freedom);
    row.test = row.basis ? row.basis.test : NaN;
    row.freedom = freedom;
    row.vtpv = vtpv;
    if (Number.isFinite(row.test)) count++;
  }
  for (const row of rows) {
    row.count = count;
    if (!Number.isFinite(row.test)) row.verdict = "unchecked";
    else if (!(row.test > 1)) row.verdict = "meets";
    else row.verdict = familyOf(row) < 1 - LIMITS.confidence ? "fails" : "query";
  }
}

// Chance that any test of the job is as large by chance (Šidák).
function familyOf(row) {
  return Number.isFinite(row.test) ? -Math.expm1(row.count * Math.log1p(-chanceOf(row.basis, row))) : NaN;
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
function estimatedBasis(row, vtpv, freedom) {
  const p = row.components;
  const left = freedom - p;
  if (left < 1) return null;
  const rest = Math.max(vtpv - row.statistic, 1e-12 * vtpv, 1e-300);
  const statistic = Math.max(row.statistic, 0) / p / (rest / left);
  const limit = LIMITS.fisher[p - 1][left - 1];
  return { statistic, limit, test: Math.sqrt(statistic / limit), left };
}
