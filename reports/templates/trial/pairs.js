// Pairs of marks against the specification: how much of its limit each takes.

const ASKED = DATA.specification;
const PAIRS = pairsAsked();

// Marks, distance and limits of each pair that the specification asks for.
function pairsAsked() {
  const marks = DATA.marks.length;
  const made = [];
  const put = (a, b) => {
    const pair = pairOf(a, b);
    if (pair && !(ASKED.within && pair.distance > ASKED.within)) made.push(pair);
  };
  if (ASKED.pairs !== "all") for (const [a, b] of ASKED.pairs) put(a, b);
  else for (let a = 0; a < marks; a++) for (let b = a + 1; b < marks; b++) put(a, b);
  return made;
}

function pairOf(a, b) {
  const [one, other] = [DATA.marks[a], DATA.marks[b]];
  const plan = one.estimated[0] && other.estimated[0];
  const height = one.estimated[2] && other.estimated[2];
  if (!plan && !height) return null;
  const line = [0, 1].map((k) => other.place[k] - one.place[k]);
  const distance = Math.hypot(...line) || 0;
  const [e, n] = distance > 0 ? line.map((v) => v / distance) : [0, 0];
  return { a, b, plan, height, distance, e, n };
}

// A limit over a distance, m.
function limitOver(limit, distance) {
  if (!limit) return NaN;
  const parts = [limit.constant, limit.proportional * distance];
  const whole = limit.squares ? Math.hypot(...parts) : parts[0] + parts[1];
  return Math.max(whole + limit.per_sqrt * Math.sqrt(distance), limit.least);
}

// Where the figures of a pair stand in the covariance: of its plan the cross terms, then
// of both heights. −1 where a mark is fixed.
const CROSS = Int32Array.from(PAIRS.flatMap(({ a, b }) => {
  const [p, q] = [DATA.marks[a].unknowns, DATA.marks[b].unknowns];
  const at = (i, j) => (p[i] >= 0 && q[j] >= 0 ? packed(p[i], q[j]) : -1);
  return [at(0, 0), at(0, 1), at(1, 0), at(1, 1), at(2, 2)];
}));

// Each mark's own covariance: east, east–north, north, up.
function ownOf(state) {
  const own = new Float64Array(4 * DATA.marks.length);
  DATA.marks.forEach(({ unknowns: u }, m) => {
    [[0, 0], [0, 1], [1, 1], [2, 2]].forEach(([i, j], k) => {
      if (u[i] >= 0 && u[j] >= 0) own[4 * m + k] = state.covariance[packed(u[i], u[j])];
    });
  });
  return own;
}

// Covariance of second minus first, east, north, up (the horizons taken as parallel).
function between(whole, own, number, pair, made) {
  const [a, b, k] = [4 * pair.a, 4 * pair.b, 5 * number];
  const at = (i) => (CROSS[k + i] >= 0 ? whole[CROSS[k + i]] : 0);
  made.ee = own[a] + own[b] - 2 * at(0);
  made.en = own[a + 1] + own[b + 1] - at(1) - at(2);
  made.nn = own[a + 2] + own[b + 2] - 2 * at(3);
  made.uu = own[a + 3] + own[b + 3] - 2 * at(4);
}

// What of a pair's plan is held against the limit, m.
function planOf(c, pair, scale) {
  if (ASKED.measure === "distance") {
    const along = pair.e ** 2 * c.ee + 2 * pair.e * pair.n * c.en + pair.n ** 2 * c.nn;
    return scale.height * Math.sqrt(Math.max(along, 0));
  }
  const half = Math.hypot((c.nn - c.ee) / 2, c.en);
  const middle = (c.ee + c.nn) / 2;
  const major = scale.ellipse * Math.sqrt(middle + half);
  if (ASKED.measure !== "circle") return major;
  return circle(major, scale.ellipse * Math.sqrt(Math.max(middle - half, 0)), ASKED.confidence);
}

// Limits of each pair, plan and height; without a specification the plan alone counts, or
// in a job of heights the height.
const PAIR_LIMITS = PAIRS.map((pair) =>
  ASKED.name ? [limitOver(ASKED.plan, pair.distance), limitOver(ASKED.height, pair.distance)] : [1, pair.plan ? NaN : 1],
);

// The pair that takes most of its limit, and how many are over; without a specification
// the pair with the largest ellipse.
function worstPair(state, factor) {
  const scale = multipliers(factor, ASKED.multipliers ?? LIMITS);
  const [own, c] = [ownOf(state), {}];
  let [worst, over] = [{ share: -1 }, 0];
  PAIRS.forEach((pair, k) => {
    between(state.covariance, own, k, pair, c);
    const [plan, height] = PAIR_LIMITS[k];
    const sizes = [pair.plan ? planOf(c, pair, scale) : NaN, pair.height ? scale.height * Math.sqrt(Math.max(c.uu, 0)) : NaN];
    for (let i = 0; i < 2; i++) {
      const share = sizes[i] / (i ? height : plan);
      if (share > 1 && ASKED.name) over++;
      if (share > worst.share) worst = { a: pair.a, b: pair.b, share, part: i ? "height" : "plan", size: sizes[i], limit: i ? height : plan };
    }
  });
  return { ...worst, over };
}
