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
  return { state, left, pull, vtpv: dot(gap, pull) };
}

// The test of a shift C∇ of a block's rows (columns `c`, n × p): statistic, size, what
// would be seen. `own` is how well it is known if all marks are: that of its rows, if not
// given.
function tested(c, p, some, found, own = null) {
  const ct = turned(c, some.n, p);
  const matrix = times(times(ct, found.left, p, some.n, some.n), c, p, some.n, p);
  const rows = own ?? times(times(ct, some.known, p, some.n, some.n), c, p, some.n, p);
  return judgedShift(matrix, rows, times(ct, found.pull, p, some.n, 1), p);
}

const SEEN = 1e-12;
const UNCHECKED = 1e-7;

function judgedShift(matrix, own, pull, p) {
  const { values, vectors } = eigen(own, p);
  const real = [...values.keys()].filter((i) => values[i] > SEEN * values[p - 1]);
  const q = real.length;
  if (!q) return { components: 0, unchecked: true, loose: null };
  const ways = new Float64Array(p * q);
  for (let i = 0; i < p; i++)
    real.forEach((from, j) => (ways[i * q + j] = vectors[i * p + from] / Math.sqrt(values[from])));
  const across = turned(ways, p, q);
  const share = times(times(across, matrix, q, p, p), ways, q, p, q);
  const seen = eigen(share, q);
  if (!(seen.values[0] > UNCHECKED)) return unseen(seen, ways, p, q);
  const back = times(times(ways, inverse(share, q), p, q, q), across, p, q, p);
  const shift = times(back, pull, p, p, 1);
  return {
    components: q,
    unchecked: false,
    shift,
    sd: Float64Array.from({ length: p }, (_, i) => Math.sqrt(Math.max(back[i * p + i], 0))),
    statistic: dot(shift, pull),
    along: Float64Array.from({ length: p }, (_, i) => Math.sqrt(LIMITS.noncentrality / matrix[i * p + i])),
    smallest: Math.sqrt(LIMITS.noncentrality * weakest(back, p)),
  };
}

// Largest variance of a shift in any direction.
const weakest = (covariance, p) => eigen(covariance, p).values[p - 1];

function unseen(seen, ways, p, q) {
  const loose = [];
  seen.values.forEach((value, j) => {
    if (value > UNCHECKED) return;
    const way = Float64Array.from({ length: q }, (_, i) => seen.vectors[i * q + j]);
    loose.push(times(ways, way, p, q, 1));
  });
  return { components: q, unchecked: true, loose };
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
    for (const row of [...observationRows(b, some, found), ...setUpRows(some, found)]) {
      if (row.unchecked && row.loose) follow(state, b, some, row, swings);
      rows.push(row);
    }
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
    const shift = times(row.column, way, some.n, row.p, 1);
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

// Adds to each row its tests on both variance factors, and its verdict.
function valued(rows, vtpv, freedom) {
  const estimated = LIMITS.tests_from === "estimated";
  let count = 0;
  for (const row of rows) {
    row.stated = { ...nothing(), limit: LIMITS.chi_square[row.components - 1] };
    row.estimated = nothing();
    if (!row.unchecked) bases(row, vtpv, freedom);
    row.basis = estimated ? row.estimated : row.stated;
    if (Number.isFinite(row.basis.test)) count++;
  }
  for (const row of rows) {
    const judged = Number.isFinite(row.basis.test);
    row.family = judged ? -Math.expm1(count * Math.log1p(-row.basis.probability)) : NaN;
    const over = row.basis.test > 1;
    const fails = over && row.family < 1 - LIMITS.confidence;
    row.verdict = !judged ? "unchecked" : fails ? "fails" : over ? "query" : "meets";
  }
}

const nothing = () => ({ statistic: NaN, limit: NaN, test: NaN, probability: NaN });

function bases(row, vtpv, freedom) {
  const [p, statistic] = [row.components, Math.max(row.statistic, 0)];
  const limit = LIMITS.chi_square[p - 1];
  row.stated = { statistic, limit, test: Math.sqrt(statistic / limit), probability: chanceOfChiSquare(statistic, p) };
  const left = freedom - p;
  if (left < 1) return;
  const rest = Math.max(vtpv - statistic, 1e-12 * vtpv, 1e-300);
  const value = statistic / p / (rest / left);
  const most = LIMITS.fisher[p - 1][left - 1];
  row.estimated = { statistic: value, limit: most, test: Math.sqrt(value / most), probability: chanceOfFisher(value, p, left) };
}
