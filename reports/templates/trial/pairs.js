// Pairs of marks against the specification: how much of its limit each takes.

const ASKED = DATA.specification;

// The pairs that the specification asks for; those near each other in the covariance follow
// each other.
function pairsAsked() {
  const made = [];
  const put = (a, b) => {
    const pair = pairOf(a, b);
    if (pair && !(ASKED.within && pair.distance > ASKED.within)) made.push(pair);
  };
  const last = (i) => Math.max(...DATA.marks[i].unknowns);
  const order = [...DATA.marks.keys()].sort((a, b) => last(a) - last(b));
  if (ASKED.pairs !== "all") for (const [a, b] of ASKED.pairs) put(a, b);
  else order.forEach((a, i) => order.slice(0, i).forEach((b) => put(Math.min(a, b), Math.max(a, b))));
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

// Limits of a pair, plan and height; without a specification the plan alone counts, or in
// a job of heights the height. NaN where nothing counts.
function limitsOf({ plan, height, distance }) {
  const limits = ASKED.name ? [limitOver(ASKED.plan, distance), limitOver(ASKED.height, distance)] : [1, plan ? NaN : 1];
  return [plan ? limits[0] : NaN, height ? limits[1] : NaN];
}

// Where the figures of a pair stand in the covariance: of its plan the cross terms, then
// of both heights. −1 where a mark is fixed.
function crossOf({ a, b }) {
  const [p, q] = [DATA.marks[a].unknowns, DATA.marks[b].unknowns];
  const at = (i, j) => (p[i] >= 0 && q[j] >= 0 ? packed(p[i], q[j]) : -1);
  return [at(0, 0), at(0, 1), at(1, 0), at(1, 1), at(2, 2)];
}

// The pairs as columns: a hundred thousand of them are looked at after each switch.
const PAIRS = columned(pairsAsked());

function columned(pairs) {
  const ends = Int32Array.from(pairs.flatMap(({ a, b }) => [a, b]));
  const ways = Float64Array.from(pairs.flatMap(({ e, n }) => [e, n]));
  const limits = Float64Array.from(pairs.flatMap(limitsOf));
  return { count: pairs.length, ends, ways, limits, cross: Int32Array.from(pairs.flatMap(crossOf)) };
}

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

// Covariance of second minus first, into `made`: east, east–north, north, up (the
// horizons taken as parallel).
function between(whole, own, pair, made) {
  const { ends, cross } = PAIRS;
  const [a, b, k] = [4 * ends[2 * pair], 4 * ends[2 * pair + 1], 5 * pair];
  const at = (i) => (cross[k + i] >= 0 ? whole[cross[k + i]] : 0);
  made[0] = own[a] + own[b] - 2 * at(0);
  made[1] = own[a + 1] + own[b + 1] - at(1) - at(2);
  made[2] = own[a + 2] + own[b + 2] - 2 * at(3);
  made[3] = own[a + 3] + own[b + 3] - 2 * at(4);
}

// What of a pair's plan is held against the limit, m. A circle is within its ellipse and
// around its error along the major axis: where these say on which side of the limit it is,
// and that it is not the worst, it is not worked out, as it takes long.
function planOf(c, pair, scale, limit, worst) {
  const [ee, en, nn] = c;
  if (ASKED.measure === "distance") {
    const [e, n] = [PAIRS.ways[2 * pair], PAIRS.ways[2 * pair + 1]];
    return scale.height * Math.sqrt(Math.max(e * e * ee + 2 * e * n * en + n * n * nn, 0));
  }
  const half = Math.sqrt((nn - ee) ** 2 / 4 + en * en);
  const middle = (ee + nn) / 2;
  const major = scale.ellipse * Math.sqrt(middle + half);
  if (ASKED.measure !== "circle") return major;
  const least = (major * ASKED.multipliers.height) / ASKED.multipliers.ellipse;
  if (major < worst * limit && (major < limit || least > limit)) return least;
  return circle(major, scale.ellipse * Math.sqrt(Math.max(middle - half, 0)), ASKED.confidence);
}

// The pair that takes most of its limit, and how many are over; without a specification
// the pair with the largest ellipse. A pair's whole variance says that it is far from its
// limit, or from the worst: then it needs no root and no circle.
function worstPair(state, factor) {
  const scale = multipliers(factor, ASKED.multipliers ?? LIMITS);
  const most = Math.max(scale.ellipse, scale.height) ** 2;
  const [own, c] = [ownOf(state), new Float64Array(4)];
  let [share, worst, over, least] = [-1, { share: -1 }, 0, 0];
  const held = (pair, part, size, limit) => {
    if (size > limit && ASKED.name) over++;
    if (!(size / limit > share)) return;
    share = size / limit;
    least = ASKED.name ? Math.min(share, 1) : share;
    worst = { a: PAIRS.ends[2 * pair], b: PAIRS.ends[2 * pair + 1], share, part, size, limit };
  };
  for (let pair = 0; pair < PAIRS.count; pair++) {
    between(state.covariance, own, pair, c);
    const [plan, height] = [PAIRS.limits[2 * pair], PAIRS.limits[2 * pair + 1]];
    if (most * (c[0] + c[2]) >= (least * plan) ** 2) held(pair, "plan", planOf(c, pair, scale, plan, share), plan);
    if (most * c[3] >= (least * height) ** 2) held(pair, "height", scale.height * Math.sqrt(Math.max(c[3], 0)), height);
  }
  return { ...worst, over };
}
