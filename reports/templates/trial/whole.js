// The covariance of all unknowns: made once from the normal matrix, then changed by what
// is switched, at the cost of a few rows.

// Inverse of a packed positive matrix; neighbours stand near each other, so each row of
// its factor begins late and little is done. Throws where an unknown hangs loose.
function inverseOfAll(normal, n) {
  const first = new Int32Array(n);
  const at = (i) => (i * (i + 1)) / 2;
  const lower = Float64Array.from(normal);
  for (let i = 0; i < n; i++) {
    while (first[i] < i && normal[at(i) + first[i]] === 0) first[i]++;
    for (let j = first[i]; j <= i; j++) {
      const [a, b] = [at(i), at(j)];
      let sum = lower[a + j];
      for (let k = Math.max(first[i], first[j]); k < j; k++) sum -= lower[a + k] * lower[b + k];
      if (i !== j) lower[a + j] = sum / lower[b + j];
      else if (sum > 1e-12 * normal[a + i]) lower[a + i] = Math.sqrt(sum);
      else throw new Error(`unknown ${i} hangs loose`);
    }
  }
  return backwards(lower, first, n);
}

function backwards(lower, first, n) {
  const made = new Float64Array((n * (n + 1)) / 2);
  const y = new Float64Array(n);
  const at = (i) => (i * (i + 1)) / 2;
  for (let c = 0; c < n; c++) {
    y.fill(0);
    y[c] = 1;
    for (let i = c; i < n; i++) {
      let sum = y[i];
      for (let k = Math.max(first[i], c); k < i; k++) sum -= lower[at(i) + k] * y[k];
      y[i] = sum / lower[at(i) + i];
    }
    for (let i = n - 1; i >= c; i--) {
      y[i] /= lower[at(i) + i];
      for (let k = Math.max(first[i], c); k < i; k++) y[k] -= lower[at(i) + k] * y[i];
      made[at(i) + c] = y[i];
    }
  }
  return made;
}

// The k × k part of a packed matrix for some unknowns.
function part(whole, columns) {
  return partInto(whole, columns, new Float64Array(columns.length ** 2));
}

function partInto(whole, columns, made) {
  const k = columns.length;
  for (let i = 0; i < k; i++)
    for (let j = 0; j <= i; j++)
      made[i * k + j] = made[j * k + i] = whole[packed(columns[i], columns[j])];
  return made;
}

// Rows of a packed matrix for some unknowns, times V (k × r): n × r.
function reach(whole, n, columns, v, rank) {
  const made = new Float64Array(n * rank);
  for (let k = 0; k < columns.length; k++) {
    const column = columns[k];
    let at = (column * (column + 1)) / 2;
    for (let i = 0; i < n; i++) {
      const value = whole[at];
      for (let r = 0; r < rank; r++) made[i * rank + r] += value * v[k * rank + r];
      at += i < column ? 1 : i + 1;
    }
  }
  return made;
}

// Changes the covariance in place by V Vᵀ more (+1) or less (−1) in the normal matrix.
// Less is refused where a direction of it would lose its only tie: then what would swing
// free comes back, one number an unknown, and nothing is changed.
function update(whole, n, columns, v, rank, sign) {
  const k = columns.length;
  const across = times(part(whole, columns), v, k, k, rank);
  const small = times(turned(v, k, rank), across, rank, k, rank);
  for (let i = 0; i < small.length; i++) small[i] *= sign;
  for (let i = 0; i < rank; i++) small[i * rank + i] += 1;
  const reached = reach(whole, n, columns, v, rank);
  if (sign < 0) {
    const { values, vectors } = eigen(small, rank);
    if (!(values[0] > ONLY_TIE)) {
      const loose = new Float64Array(n);
      for (let i = 0; i < n; i++)
        for (let r = 0; r < rank; r++) loose[i] += reached[i * rank + r] * vectors[r * rank];
      return loose;
    }
  }
  spread(whole, n, forward(cholesky(small, rank), reached, n, rank), rank, sign);
  return null;
}

// reached · L⁻ᵀ, row by row.
function forward(lower, reached, n, rank) {
  for (let i = 0; i < n; i++)
    for (let r = 0; r < rank; r++) {
      let sum = reached[i * rank + r];
      for (let s = 0; s < r; s++) sum -= lower[r * rank + s] * reached[i * rank + s];
      reached[i * rank + r] = sum / lower[r * rank + r];
    }
  return reached;
}

// Takes rows · rowsᵀ from the triangle (or adds it), three columns of them at a time: each
// pass reads and writes the whole triangle once.
function spread(whole, n, rows, rank, sign) {
  const column = (r) => {
    const made = new Float64Array(n);
    if (r < rank) for (let i = 0; i < n; i++) made[i] = rows[i * rank + r];
    return made;
  };
  for (let r = 0; r < rank; r += 3) {
    const [a, b, c] = [column(r), column(r + 1), column(r + 2)];
    for (let i = 0, at = 0; i < n; i++) {
      const [x, y, z] = [sign * a[i], sign * b[i], sign * c[i]];
      if (x === 0 && y === 0 && z === 0) at += i + 1;
      else for (let j = 0; j <= i; j++, at++) whole[at] -= x * a[j] + y * b[j] + z * c[j];
    }
  }
}

// Share of its own precision below which the rest of the network does not hold a thing;
// rounding is a thousandth of that.
const ONLY_TIE = 1e-7;
