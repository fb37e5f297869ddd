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

// The test of a shift C∇ of a block's rows (columns `c`, n × p): statistic, size, what
// would be seen. `own` is how well it is known if all marks are.
function tested(c, p, some, found) {
  const ct = turned(c, some.n, p);
  const matrix = times(times(ct, found.left, p, some.n, some.n), c, p, some.n, p);
  const own = times(times(ct, some.known, p, some.n, some.n), c, p, some.n, p);
  return judgedShift(matrix, own, times(ct, found.pull, p, some.n, 1), p);
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
    if (!some.n) return;
    const found = residuals(state, b);
    vtpv += found.vtpv;
    count += some.n;
    freed += some.freed;
    for (const row of [...observationRows(b, some, found), ...setUpRows(some, found)]) {
      if (row.unchecked && row.loose) follow(state, b, some, row, swings);
      rows.push(row);
    }
  });
  const freedom = count - freed - UNKNOWNS;
  const factor = varianceFactor(vtpv, freedom);
  valued(rows, vtpv, freedom);
  return { rows, factor, swings };
}

function observationRows(b, some, found) {
  const made = [];
  const back = times(some.own, found.left, some.n, some.n, some.n);
  const residual = times(some.own, found.pull, some.n, some.n, 1);
  const place = new Map([...some.rows].map((row, i) => [row, i]));
  for (const one of BLOCKS[b].observations) {
    const on = one.axes.map((_, c) => place.get(one.first + c)).filter((i) => i !== undefined);
    if (!on.length) continue;
    const parts = one.kind === "known mark" ? knownParts(one, place, some, found) : [];
    made.push(...parts);
    if (one.kind === "known mark") for (const i of heldRows(some, on)) dropRow(place, some.rows[i]);
    const loose = on.filter((i) => place.has(some.rows[i]));
    if (!loose.length) continue;
    const c = turnedRows(one, loose, place, some.n);
    const row = { one, kind: one.kind, ...tested(c.values, c.p, some, found), column: c.values, p: c.p };
    row.redundancy = loose.reduce((sum, i) => sum + back[i * some.n + i], 0);
    row.residual = residualsOf(one, residual, place);
    row.axes = c.axes;
    made.push(row);
  }
  return made;
}

// What of a known mark is held: no observation.
const heldRows = (some, on) => on.filter((i) => some.own[i * some.n + i] <= DATA.held_sd ** 2);
const dropRow = (place, row) => place.delete(row);

// As booked: three for what has east, north, up, NaN where it is not in use.
function residualsOf(one, residual, place) {
  const made = one.kind === "known mark" || one.kind === "position" ? [NaN, NaN, NaN] : [];
  one.axes.forEach((axis, a) => {
    const i = place.get(one.first + a);
    made[made.length === 3 && one.axes.length < 3 ? axis : a] = i === undefined ? NaN : -residual[i];
  });
  return made;
}

// Columns of a shift of one observation in its own amounts.
function turnedRows(one, on, place, n) {
  const p = one.axes.length;
  const active = one.axes.map((_, c) => c).filter((c) => place.has(one.first + c));
  const values = new Float64Array(n * active.length);
  active.forEach((c, j) => {
    active.forEach((r) => (values[place.get(one.first + r) * active.length + j] = one.turn[r * p + c]));
  });
  return { values, p: active.length, axes: active.map((c) => one.axes[c]) };
}

// A known mark's plan and height, each alone.
function knownParts(one, place, some, found) {
  const made = [];
  for (const [word, axes] of [["plan", [0, 1]], ["height", [2]]]) {
    const on = axes.map((axis) => place.get(one.first + one.axes.indexOf(axis)));
    const active = on.filter((i, k) => one.axes.includes(axes[k]) && i !== undefined);
    if (!active.length) continue;
    const p = active.length;
    const column = new Float64Array(some.n * p);
    active.forEach((i, j) => (column[i * p + j] = 1));
    const kept = axes.filter((axis) => one.axes.includes(axis));
    made.push({ one, kind: `known mark ${word}`, ...tested(column, p, some, found), column, p, axes: kept });
  }
  return made;
}

// A set-up's place with its height, and its height alone.
function setUpRows(some, found) {
  const made = [];
  for (const stand of some.stands) {
    const column = stand.effect.map((value) => -value);
    const one = DATA.set_ups[stand.setUp];
    const row = { one, kind: "set-up", ...tested(column, 3, some, found), column, p: 3, axes: [0, 1, 2] };
    const matrix = times(times(turned(column, some.n, 3), found.left, 3, some.n, some.n), column, 3, some.n, 3);
    row.redundancy = stand.sd.reduce((sum, sd, i) => sum + sd * sd * matrix[4 * i], 0);
    row.residual = stand.sd.map((sd, i) => {
      let sum = 0;
      for (let r = 0; r < some.n; r++) sum += stand.effect[3 * r + i] * found.pull[r];
      return sd * sd * sum;
    });
    made.push(row);
    const up = Float64Array.from({ length: some.n }, (_, i) => column[3 * i + 2]);
    if (dot(up, up) > SEEN * dot(column, column))
      made.push({ one, kind: "set-up height", ...tested(up, 1, some, found), column: up, p: 1, axes: [2] });
  }
  return made;
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
