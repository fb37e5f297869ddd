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

// Covariance of second minus first, east, north, up (the horizons taken as parallel).
function between(state, pair) {
  const [p, q] = [DATA.marks[pair.a].unknowns, DATA.marks[pair.b].unknowns];
  const at = (u, v) => (u >= 0 && v >= 0 ? state.covariance[packed(u, v)] : 0);
  const of = (i, j) => at(p[i], p[j]) + at(q[i], q[j]) - at(p[i], q[j]) - at(q[i], p[j]);
  return { ee: of(0, 0), en: of(0, 1), nn: of(1, 1), uu: of(2, 2) };
}

// What of a pair is held against the limits: plan and height, m.
function measured(state, pair, scale) {
  const c = between(state, pair);
  const height = scale.height * Math.sqrt(Math.max(c.uu, 0));
  if (ASKED.measure === "distance") {
    const along = pair.e ** 2 * c.ee + 2 * pair.e * pair.n * c.en + pair.n ** 2 * c.nn;
    return { plan: scale.height * Math.sqrt(Math.max(along, 0)), height };
  }
  const { major, minor } = ellipseOf(c.ee, c.en, c.nn);
  const plan = ASKED.measure === "circle" ? circle(scale.ellipse * major, scale.ellipse * minor) : scale.ellipse * major;
  return { plan, height };
}

// The pair that takes most of its limit, and how many are over; without a specification
// the pair with the largest ellipse.
function worstPair(state, factor) {
  const scale = multipliers(factor, ASKED.multipliers ?? LIMITS);
  let worst = { share: -1, over: 0 };
  let over = 0;
  for (const pair of PAIRS) {
    const size = measured(state, pair, scale);
    for (const part of ["plan", "height"]) {
      if (!pair[part]) continue;
      const limit = ASKED.name ? limitOver(ASKED[part], pair.distance) : part === "plan" || !pair.plan ? 1 : NaN;
      const share = size[part] / limit;
      if (ASKED.name && share > 1) over++;
      if (share > worst.share) worst = { ...pair, share, part, size: size[part], limit };
    }
  }
  return { ...worst, over };
}
