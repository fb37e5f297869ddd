// Each cause tested: statistic, size, what would be seen.

// What is asked for only when it is shown (sizes, redundancy, residuals) is worked out
// then: see detailed().

// cᵀ W c, for c that is not zero in some rows only, into `made`.
const HALF = new Float64Array(3 * MOST((block) => block.r));

function squared({ at, values, p }, w, n, made) {
  const m = at.length;
  for (let r = 0; r < m; r++) {
    const row = at[r] * n;
    for (let c = 0; c < p; c++) {
      let sum = 0;
      for (let s = 0; s < m; s++) sum += w[row + at[s]] * values[s * p + c];
      HALF[r * p + c] = sum;
    }
  }
  for (let a = 0; a < p; a++)
    for (let c = 0; c < p; c++) {
      let sum = 0;
      for (let r = 0; r < m; r++) sum += values[r * p + a] * HALF[r * p + c];
      made[a * p + c] = sum;
    }
  return made;
}

// cᵀ u, into `made`.
function pulled({ at, values, p }, u, made) {
  for (let c = 0; c < p; c++) {
    let sum = 0;
    for (let r = 0; r < at.length; r++) sum += values[r * p + c] * u[at[r]];
    made[c] = sum;
  }
  return made;
}

const [MATRIX, BACK, PULL] = [new Float64Array(9), new Float64Array(9), new Float64Array(3)];

// A row for each cause of a block.
function testedRows(whole, b, says, rows) {
  const some = whole.state.blocks[b];
  some.causes ??= causesOf(b, some);
  for (const cause of some.causes) {
    const row = {
      cause, one: cause.one, kind: cause.kind, key: cause.key, axes: cause.axes, whole, b,
      components: cause.p, unchecked: false, loose: null, statistic: NaN, smallest: NaN,
      test: NaN, verdict: "", more: null,
    };
    const own = ownOfCause(cause, whole.state, b);
    squared(cause, says.left, some.n, MATRIX);
    pulled(cause, says.pull, PULL);
    if (!quickly(row, own, cause.p)) slowly(row, own, cause.p);
    rows.push(row);
  }
}

// What a cause is measured against: how well it is known if all marks are.
function ownOfCause(cause, state, b) {
  if (cause.rest) return knownByRest(state, b, cause.one, cause.axes);
  const some = state.blocks[b];
  cause.own ??= squared(cause, some.known, some.n, new Float64Array(cause.p ** 2));
  return cause.own;
}

// Tests a cause of one or three components that is clearly seen and clearly checked,
// without eigenvalues. Seen: the least eigenvalue of own is no less than its determinant
// over the square of its trace; a direction that nothing sees is singular in own and in M
// alike, and would not show in their quotient. Checked: the trace of own M⁻¹ is no less
// than the inverse of the smallest share. Returns whether it was.
const CLEARLY = 1e5;
const CLEARLY_SEEN = 1e-6;

function quickly(row, own, p) {
  if (p === 1) {
    if (!(MATRIX[0] > 0)) return false;
    BACK[0] = 1 / MATRIX[0];
  } else if (p !== 3 || !inverse3(MATRIX, BACK)) return false;
  let trace = 0;
  for (let i = 0; i < p * p; i++) trace += own[i] * BACK[i];
  if (p === 3 && !(determinant3(own) > CLEARLY_SEEN * (own[0] + own[4] + own[8]) ** 3)) return false;
  if (!(trace < CLEARLY)) return false;
  summed(row, BACK, p);
  return true;
}

// Statistic, and the smallest blunder that would be seen in its worst direction.
function summed(row, back, p) {
  let statistic = 0;
  for (let i = 0; i < p; i++) for (let j = 0; j < p; j++) statistic += PULL[i] * back[i * p + j] * PULL[j];
  row.statistic = statistic;
  row.smallest = Math.sqrt(LIMITS.noncentrality * largestOf(back, p));
}

const SEEN = 1e-12;
const UNCHECKED = 1e-7;

// Directions that are seen at all, as columns in which each weighs one: p × q.
function whitened(own, p) {
  const { values, vectors } = eigen(own, p);
  const real = [...values.keys()].filter((i) => values[i] > SEEN * values[p - 1]);
  const q = real.length;
  const ways = new Float64Array(p * q);
  for (let i = 0; i < p; i++)
    real.forEach((from, j) => (ways[i * q + j] = vectors[i * p + from] / Math.sqrt(values[from])));
  return { ways, across: turned(ways, p, q), q };
}

// Tests a cause of which some directions may not be seen, or not checked.
function slowly(row, own, p) {
  const { ways, across, q } = whitened(own, p);
  const matrix = MATRIX.slice(0, p * p);
  row.components = q;
  row.unchecked = true;
  if (!q) return;
  const share = times(times(across, matrix, q, p, p), ways, q, p, q);
  const seen = eigen(share, q);
  if (seen.values[0] > UNCHECKED) {
    row.unchecked = false;
    summed(row, times(times(ways, inverse(share, q), p, q, q), across, p, q, p), p);
  } else row.loose = unseen(seen, ways, p, q);
}

function unseen(seen, ways, p, q) {
  return seen.values.flatMap((value, j) => {
    if (value > UNCHECKED) return [];
    const way = Float64Array.from({ length: q }, (_, i) => seen.vectors[i * q + j]);
    return [times(ways, way, p, q, 1)];
  });
}

// Sizes, redundancy and residuals of a row; worked out once, when asked for.
function detailed(row) {
  if (row.more) return row.more;
  const says = residuals(row.whole.state, row.b);
  const some = row.whole.state.blocks[row.b];
  const own = row.key ? observed(row, some, says) : row.cause.stand ? stood(row, some, says) : {};
  row.more = { ...sizedRow(row, some, says), ...own };
  return row.more;
}

// Shift, its standard deviation, and what would be seen along each axis.
function sizedRow({ cause, unchecked }, some, says) {
  if (unchecked) return {};
  const { p } = cause;
  const matrix = squared(cause, says.left, some.n, new Float64Array(p * p));
  const { ways, across, q } = whitened(cause.own ?? matrix, p);
  const share = times(times(across, matrix, q, p, p), ways, q, p, q);
  const back = times(times(ways, inverse(share, q), p, q, q), across, p, q, p);
  const each = (value) => Float64Array.from({ length: p }, (_, i) => value(i));
  return {
    shift: times(back, pulled(cause, says.pull, new Float64Array(p)), p, p, 1),
    sd: each((i) => Math.sqrt(Math.max(back[i * p + i], 0))),
    along: each((i) => Math.sqrt(LIMITS.noncentrality / matrix[i * p + i])),
  };
}

// Redundancy and residuals of an observation, as booked: three for what has east, north,
// up, NaN where it is not in use.
function observed({ cause }, some, says) {
  const { n, own } = some;
  const { one, all, at } = cause;
  let redundancy = 0;
  for (const i of at) for (let j = 0; j < n; j++) redundancy += own[i * n + j] * says.left[j * n + i];
  const three = one.kind === "known mark" || one.kind === "position";
  const residual = new Array(three ? 3 : one.axes.length).fill(NaN);
  for (const { axis, c, i } of all) {
    if (!at.includes(i)) continue;
    let sum = 0;
    for (let j = 0; j < n; j++) sum += own[i * n + j] * says.pull[j];
    residual[three ? axis : c] = -sum;
  }
  return { redundancy, residual };
}

// Redundancy of a set-up, and how far off its place it was found.
function stood({ cause }, some, says) {
  const { sd, effect } = cause.stand;
  const matrix = squared(cause, says.left, some.n, new Float64Array(9));
  const residual = sd.map((value, c) => {
    let sum = 0;
    for (let i = 0; i < some.n; i++) sum += effect[3 * i + c] * says.pull[i];
    return value * value * sum;
  });
  return { redundancy: sd.reduce((sum, value, i) => sum + value * value * matrix[4 * i], 0), residual };
}
