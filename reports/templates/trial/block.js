// A block: rows that are correlated, of a session or from an instrument set-up. Set-ups
// are folded in: each adds its effect, S Gᵀ both sides, to the covariance of its rows.
// What only the block knows and nothing states, an orientation, is taken out of it.

// Reads a block as it stands in the page.
function readBlock(given) {
  const [r, k, f] = [given.rows.length, given.columns.length, given.free];
  const all = new Float64Array(r * (k + f));
  given.rows.forEach((row, i) => {
    for (let at = 0; at < row.length; at += 2) all[i * (k + f) + row[at]] = row[at + 1];
  });
  const booked = new Float64Array(r * r);
  for (const [rows, values] of given.covariance)
    rows.forEach((i, a) => rows.forEach((j, b) => (booked[i * r + j] = values[a * rows.length + b])));
  const stands = given.stands.map((stand) => {
    const effect = new Float64Array(r * 3);
    for (const [i, ...values] of stand.rows) effect.set(values, 3 * i);
    return { setUp: stand.set_up, sd: stand.sd, effect };
  });
  const misclosure = Float64Array.from(given.misclosure);
  return { ...given, r, k, f, all, booked, stands, misclosure, columns: Int32Array.from(given.columns) };
}

// What a block adds with the rows that are on, `rows`, and its misclosures and booked
// covariance as they are to be used.
function weighed(block, rows, misclosure, booked) {
  const { k, f, r } = block;
  const [n, wide] = [rows.length, k + f];
  const design = new Float64Array(n * k);
  const free = new Float64Array(n * f);
  rows.forEach((row, i) => {
    design.set(block.all.subarray(row * wide, row * wide + k), i * k);
    free.set(block.all.subarray(row * wide + k, (row + 1) * wide), i * f);
  });
  const own = new Float64Array(n * n);
  rows.forEach((a, i) => rows.forEach((b, j) => (own[i * n + j] = booked[a * r + b])));
  const stands = block.stands.map((stand) => standing(stand, rows)).filter((stand) => stand.seen);
  const whole = Float64Array.from(own);
  for (const { half } of stands)
    for (let i = 0; i < n; i++)
      for (let j = 0; j < n; j++)
        for (let c = 0; c < 3; c++) whole[i * n + j] += half[3 * i + c] * half[3 * j + c];
  const known = inverse(whole, n);
  const taken = withoutFree(known, free, n, f);
  const weighted = times(taken.weight, design, n, n, k);
  const l = Float64Array.from(rows, (row) => misclosure[row]);
  return {
    rows, n, design, own, stands, known, l, weighted,
    weight: taken.weight,
    freed: taken.rank,
    normal: times(turned(design, n, k), weighted, k, n, k),
    right: times(turned(weighted, n, k), l, k, n, 1),
  };
}

function standing(stand, rows) {
  const effect = new Float64Array(rows.length * 3);
  rows.forEach((row, i) => effect.set(stand.effect.subarray(3 * row, 3 * row + 3), 3 * i));
  const half = effect.map((value, i) => value * stand.sd[i % 3]);
  return { setUp: stand.setUp, sd: stand.sd, effect, half, seen: effect.some((v) => v !== 0) };
}

// The weights with free unknowns taken out: P − P B (Bᵀ P B)⁻¹ Bᵀ P.
function withoutFree(known, free, n, f) {
  if (!f || !n) return { weight: known, rank: 0 };
  const across = times(known, free, n, n, f);
  const inner = times(turned(free, n, f), across, f, n, f);
  const scale = Array.from({ length: f }, (_, i) => inner[i * f + i]);
  const kept = [];
  for (let i = 0; i < f; i++) {
    const tried = [...kept, i];
    const some = picked(inner, f, tried);
    if (scale[i] > 0 && cholesky(some, tried.length, 1e-10)) kept.push(i);
  }
  const q = kept.length;
  const back = inverse(picked(inner, f, kept), q);
  const some = new Float64Array(n * q);
  for (let i = 0; i < n; i++) kept.forEach((c, j) => (some[i * q + j] = across[i * f + c]));
  const lost = times(times(some, back, n, q, q), turned(some, n, q), n, q, n);
  return { weight: known.map((value, i) => value - lost[i]), rank: q };
}

function picked(matrix, n, which) {
  const made = new Float64Array(which.length ** 2);
  which.forEach((a, i) => which.forEach((b, j) => (made[i * which.length + j] = matrix[a * n + b])));
  return made;
}
