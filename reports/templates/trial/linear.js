// Small dense algebra. Matrices are Float64Array, row by row. A symmetric matrix of all
// unknowns is packed: row i holds columns 0 … i.

const packed = (i, j) => (i >= j ? (i * (i + 1)) / 2 + j : (j * (j + 1)) / 2 + i);

// (n × m) times (m × p).
function times(a, b, n, m, p) {
  const made = new Float64Array(n * p);
  for (let i = 0; i < n; i++) {
    for (let k = 0; k < m; k++) {
      const value = a[i * m + k];
      if (value === 0) continue;
      for (let j = 0; j < p; j++) made[i * p + j] += value * b[k * p + j];
    }
  }
  return made;
}

// Transpose of (n × m).
function turned(a, n, m) {
  const made = new Float64Array(n * m);
  for (let i = 0; i < n; i++) for (let j = 0; j < m; j++) made[j * n + i] = a[i * m + j];
  return made;
}

const dot = (a, b) => {
  let sum = 0;
  for (let i = 0; i < a.length; i++) sum += a[i] * b[i];
  return sum;
};

// Lower triangular L with L Lᵀ = a (n × n); null where a is not positive.
function cholesky(a, n, least = 0) {
  const lower = Float64Array.from(a);
  for (let i = 0; i < n; i++) {
    for (let j = 0; j <= i; j++) {
      let sum = lower[i * n + j];
      for (let k = 0; k < j; k++) sum -= lower[i * n + k] * lower[j * n + k];
      if (i === j) {
        if (!(sum > least * a[i * n + i])) return null;
        lower[i * n + i] = Math.sqrt(sum);
      } else lower[i * n + j] = sum / lower[j * n + j];
    }
    for (let j = i + 1; j < n; j++) lower[i * n + j] = 0;
  }
  return lower;
}

// Inverse of a symmetric positive matrix (n × n); null where it is not.
function inverse(a, n) {
  const lower = cholesky(a, n);
  if (!lower) return null;
  const made = new Float64Array(n * n);
  const y = new Float64Array(n);
  for (let c = 0; c < n; c++) {
    y.fill(0);
    y[c] = 1;
    for (let i = c; i < n; i++) {
      let sum = y[i];
      for (let k = c; k < i; k++) sum -= lower[i * n + k] * y[k];
      y[i] = sum / lower[i * n + i];
    }
    for (let i = n - 1; i >= c; i--) {
      y[i] /= lower[i * n + i];
      for (let k = c; k < i; k++) y[k] -= lower[i * n + k] * y[i];
      made[i * n + c] = made[c * n + i] = y[i];
    }
  }
  return made;
}

// (n × r) V with V Vᵀ = a, for a that is positive or zero (n × n): the largest pivot
// first, until what is left is rounding against the scale of each row.
function halves(a, n, scale, least) {
  const left = new Float64Array(n * n);
  const root = scale.map((s) => Math.sqrt(s > 0 ? s : 1));
  for (let i = 0; i < n; i++)
    for (let j = 0; j < n; j++) left[i * n + j] = a[i * n + j] / (root[i] * root[j]);
  const columns = [];
  for (let r = 0; r < n; r++) {
    let at = 0;
    for (let i = 1; i < n; i++) if (left[i * n + i] > left[at * n + at]) at = i;
    const pivot = left[at * n + at];
    if (!(pivot > least)) break;
    const column = new Float64Array(n);
    for (let i = 0; i < n; i++) column[i] = left[i * n + at] / Math.sqrt(pivot);
    for (let i = 0; i < n; i++)
      for (let j = 0; j < n; j++) left[i * n + j] -= column[i] * column[j];
    columns.push(column.map((value, i) => value * root[i]));
  }
  const made = new Float64Array(n * columns.length);
  columns.forEach((column, r) => column.forEach((v, i) => (made[i * columns.length + r] = v)));
  return { values: made, rank: columns.length };
}

// Eigenvalues, ascending, and vectors (columns) of a symmetric matrix, by Jacobi's turns.
function eigen(a, n) {
  const m = Float64Array.from(a);
  const v = new Float64Array(n * n);
  for (let i = 0; i < n; i++) v[i * n + i] = 1;
  for (let sweep = 0; sweep < 60; sweep++) {
    let off = 0;
    let all = 0;
    for (let i = 0; i < n; i++)
      for (let j = 0; j < n; j++) {
        all += m[i * n + j] ** 2;
        if (i !== j) off += m[i * n + j] ** 2;
      }
    if (!(off > 1e-30 * all)) break;
    for (let p = 0; p < n; p++) for (let q = p + 1; q < n; q++) jacobi(m, v, n, p, q);
  }
  const order = [...Array(n).keys()].sort((i, j) => m[i * n + i] - m[j * n + j]);
  const vectors = new Float64Array(n * n);
  order.forEach((from, to) => {
    for (let i = 0; i < n; i++) vectors[i * n + to] = v[i * n + from];
  });
  return { values: order.map((i) => m[i * n + i]), vectors };
}

function jacobi(m, v, n, p, q) {
  const apq = m[p * n + q];
  if (apq === 0) return;
  const theta = (m[q * n + q] - m[p * n + p]) / (2 * apq);
  const t = (theta < 0 ? -1 : 1) / (Math.abs(theta) + Math.hypot(theta, 1));
  const c = 1 / Math.hypot(t, 1);
  const s = t * c;
  for (let k = 0; k < n; k++) {
    const [x, y] = [m[k * n + p], m[k * n + q]];
    m[k * n + p] = c * x - s * y;
    m[k * n + q] = s * x + c * y;
  }
  for (let k = 0; k < n; k++) {
    const [x, y] = [m[p * n + k], m[q * n + k]];
    m[p * n + k] = c * x - s * y;
    m[q * n + k] = s * x + c * y;
  }
  for (let k = 0; k < n; k++) {
    const [x, y] = [v[k * n + p], v[k * n + q]];
    v[k * n + p] = c * x - s * y;
    v[k * n + q] = s * x + c * y;
  }
}

// Largest eigenvalue of a symmetric positive matrix of up to three rows; larger ones by
// Jacobi's turns. Of three by the cosine formula of the cubic (any text, from memory).
function largestOf(a, n) {
  if (n === 1) return a[0];
  if (n === 2) return (a[0] + a[3]) / 2 + Math.hypot((a[0] - a[3]) / 2, a[1]);
  if (n > 3) return eigen(a, n).values[n - 1];
  const off = a[1] ** 2 + a[2] ** 2 + a[5] ** 2;
  const middle = (a[0] + a[4] + a[8]) / 3;
  const [x, y, z] = [a[0] - middle, a[4] - middle, a[8] - middle];
  const scale = Math.sqrt((x * x + y * y + z * z + 2 * off) / 6);
  if (!(scale > 0)) return middle;
  const half = (x * (y * z - a[5] ** 2) - a[1] * (a[1] * z - a[5] * a[2]) + a[2] * (a[1] * a[5] - y * a[2])) / (2 * scale ** 3);
  return middle + 2 * scale * Math.cos(Math.acos(Math.min(Math.max(half, -1), 1)) / 3);
}

// Determinant of a symmetric 3 × 3 matrix.
function determinant3(a) {
  return (
    a[0] * (a[4] * a[8] - a[5] * a[5]) + a[1] * (a[2] * a[5] - a[1] * a[8]) + a[2] * (a[1] * a[5] - a[2] * a[4])
  );
}

// Inverse of a symmetric positive 3 × 3 matrix, into `made`; false where it is not.
function inverse3(a, made) {
  const p = a[4] * a[8] - a[5] * a[5];
  const q = a[2] * a[5] - a[1] * a[8];
  const r = a[1] * a[5] - a[2] * a[4];
  const whole = a[0] * p + a[1] * q + a[2] * r;
  const last = a[0] * a[4] - a[1] * a[1];
  if (!(a[0] > 0 && last > 0 && whole > 0)) return false;
  made[0] = p / whole;
  made[1] = made[3] = q / whole;
  made[2] = made[6] = r / whole;
  made[4] = (a[0] * a[8] - a[2] * a[2]) / whole;
  made[5] = made[7] = (a[1] * a[2] - a[0] * a[5]) / whole;
  made[8] = last / whole;
  return true;
}
