// The rows that are tested: observations, known marks, set-ups.

function observationRows(b, some, found) {
  const made = [];
  const back = times(some.own, found.left, some.n, some.n, some.n);
  const residual = times(some.own, found.pull, some.n, some.n, 1);
  const place = new Map([...some.rows].map((row, i) => [row, i]));
  for (const [o, one] of BLOCKS[b].observations.entries()) {
    const on = one.axes.map((_, c) => place.get(one.first + c)).filter((i) => i !== undefined);
    if (!on.length) continue;
    const parts = one.kind === "known mark" ? knownParts(b, one, place, some, found) : [];
    made.push(...parts);
    if (one.kind === "known mark") for (const i of heldRows(some, on)) dropRow(place, some.rows[i]);
    const loose = on.filter((i) => place.has(some.rows[i]));
    if (!loose.length) continue;
    const c = turnedRows(one, loose, place, some.n);
    const row = { one, key: `${b}/${o}`, kind: one.kind, ...tested(c.values, c.p, some, found), column: c.values, p: c.p };
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
function knownParts(b, one, place, some, found) {
  const made = [];
  for (const [word, axes] of [["plan", [0, 1]], ["height", [2]]]) {
    const kept = axes.filter((axis) => place.has(one.first + one.axes.indexOf(axis)) && one.axes.includes(axis));
    if (!kept.length) continue;
    const p = kept.length;
    const column = new Float64Array(some.n * p);
    kept.forEach((axis, j) => (column[place.get(one.first + one.axes.indexOf(axis)) * p + j] = 1));
    const own = knownByRest(found.state, b, one, kept);
    made.push({ one, kind: `known mark ${word}`, ...tested(column, p, some, found, own), column, p, axes: kept });
  }
  return made;
}

// How well the rest knows a known mark if all other marks are known: what a held one is
// measured against, whose own precision is no more than a firm hand.
function knownByRest(state, b, one, axes) {
  const unknowns = axes.map((axis) => DATA.marks[one.marks[0]].unknowns[axis]);
  const p = axes.length;
  const own = new Float64Array(p * p);
  for (const [other, places] of WHERE.get(one.marks[0])) {
    if (other === b || BLOCKS[other].planned) continue;
    const { k } = BLOCKS[other];
    const at = unknowns.map((u) => places.get(u));
    at.forEach((i, r) => at.forEach((j, c) => {
      if (i !== undefined && j !== undefined) own[r * p + c] += state.blocks[other].normal[i * k + j];
    }));
  }
  return own;
}

// For each mark the blocks that touch it, and where its unknowns stand in them.
const WHERE = new Map(DATA.marks.map((_, i) => [i, new Map()]));
const MARK_OF = new Map(DATA.marks.flatMap((mark, i) => mark.unknowns.map((u) => [u, i])));
BLOCKS.forEach((block, b) =>
  block.columns.forEach((column, k) => {
    const places = WHERE.get(MARK_OF.get(column));
    if (!places) return;
    if (!places.has(b)) places.set(b, new Map());
    places.get(b).set(column, k);
  }),
);

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

