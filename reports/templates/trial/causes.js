// What could be wrong in a block, one thing at a time: an observation, a known mark, a
// set-up. A cause shifts some rows (`at`) by `values` (m × p) for each unit of it. It
// depends on what is in use, not on where the marks are, and is kept with the block.

function causesOf(b, some) {
  const place = new Map([...some.rows].map((row, i) => [row, i]));
  const made = [];
  BLOCKS[b].observations.forEach((one, o) => {
    const on = one.axes.map((axis, c) => ({ axis, c, i: place.get(one.first + c) })).filter(({ i }) => i !== undefined);
    if (!on.length) return;
    if (one.kind === "known mark") made.push(...knownParts(one, on));
    const tested = one.kind === "known mark" ? on.filter(({ i }) => !isFirm(some, i)) : on;
    if (tested.length) made.push({ ...shiftOf(one, tested), one, kind: one.kind, key: `${b}/${o}`, all: on });
  });
  for (const stand of some.stands) made.push(...standCauses(stand, some.n));
  return made;
}

// What of a known mark is held is no observation.
const isFirm = (some, i) => some.own[i * some.n + i] <= DATA.held_sd ** 2;

// A shift of one observation in its own amounts.
function shiftOf(one, on) {
  const [p, wide] = [on.length, one.axes.length];
  const values = new Float64Array(p * p);
  on.forEach((row, r) => on.forEach((way, c) => (values[r * p + c] = one.turn[row.c * wide + way.c])));
  return { at: on.map(({ i }) => i), values, p, axes: on.map(({ axis }) => axis) };
}

// A known mark's plan and height, each alone, measured against what the rest knows.
function knownParts(one, on) {
  const made = [];
  for (const word of ["plan", "height"]) {
    const kept = on.filter(({ axis }) => component(axis) === word);
    const p = kept.length;
    const values = new Float64Array(p * p);
    for (let i = 0; i < p; i++) values[i * p + i] = 1;
    if (p) made.push({ one, kind: `known mark ${word}`, at: kept.map(({ i }) => i), values, p, axes: kept.map(({ axis }) => axis), rest: true });
  }
  return made;
}

// A set-up's place with its height, and its height alone. Booked too large by some amount
// means that the set-up stood that much lower.
function standCauses(stand, n) {
  const at = [...Array(n).keys()].filter((i) => [0, 1, 2].some((c) => stand.effect[3 * i + c] !== 0));
  const values = new Float64Array(at.length * 3);
  at.forEach((i, r) => [0, 1, 2].forEach((c) => (values[3 * r + c] = -stand.effect[3 * i + c])));
  const one = DATA.set_ups[stand.setUp];
  const up = Float64Array.from(at, (_, r) => values[3 * r + 2]);
  const made = [{ one, kind: "set-up", at, values, p: 3, axes: [0, 1, 2], stand }];
  if (dot(up, up) > SEEN * dot(values, values)) made.push({ one, kind: "set-up height", at, values: up, p: 1, axes: [2] });
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
