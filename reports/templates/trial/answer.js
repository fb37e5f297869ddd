// The present answer, as the object that `brasscap adjust --json` prints.

const mm = (value) => (Number.isFinite(value) ? Math.round(value * 1e7) / 1e4 : null);
const ratio = (value) => (Number.isFinite(value) ? Math.round(value * 1e6) / 1e6 : null);
const seven = (value) => (Number.isFinite(value) ? Number(value.toPrecision(7)) : null);
const metres = (value) => (Number.isFinite(value) ? Math.round(value * 1e6) / 1e6 : null);

function answer(state, found, settings) {
  const scale = multipliers(found.factor);
  const marks = DATA.marks.map((mark, i) => markObject(state, found, mark, scale, settings));
  const known = knownRows(state);
  const verdicts = [found.factor.verdict, ...found.rows.map((row) => row.verdict)];
  const worst = ["fails", "query", "unchecked"].find((word) => verdicts.includes(word)) ?? "meets";
  return {
    schema: "brasscap/adjust/1",
    datum: DATA.datum,
    held: DATA.marks.filter((mark) => heldComponents(state, mark).some(Boolean)).map((mark) => mark.station),
    frame: DATA.frame,
    verdict: worst,
    units: { length: "m" },
    dimension: DATA.dimension,
    tests_from: LIMITS.tests_from,
    variance_factor: {
      ...found.factor,
      value: ratio(found.factor.value),
      vtpv: ratio(found.factor.vtpv),
      lower: ratio(found.factor.lower),
      upper: ratio(found.factor.upper),
      confidence: LIMITS.confidence,
    },
    marks,
    observations: found.rows.map(observationObject),
    parameters: [],
    known_minus_survey: known,
    observations_count: null,
    unknowns_count: null,
    iterations: null,
    reciprocal_condition: null,
    findings: [],
  };
}

// Which of east, north, up of a mark are held in a state: the origin of a minimal
// solution, or known and held firmly.
function heldComponents(state, mark) {
  return mark.unknowns.map((u, i) => {
    if (u < 0) return mark.estimated[i];
    return isHeld(state.covariance, u);
  });
}
const isHeld = (covariance, u) => covariance[packed(u, u)] <= 1.5 * DATA.held_sd ** 2;
const knownRows = () => [];

function markObject(state, found, mark, scale, settings) {
  const { covariance, shift } = placeOf(state, mark);
  const ellipse = ellipseOf(covariance[0], covariance[1], covariance[4]);
  const swings = (axis) => found.swings.has(mark.unknowns[axis]);
  const plan = mark.estimated[0] && mark.estimated[1];
  const checkedPlan = plan && !swings(0) && !swings(1);
  const checkedHeight = mark.estimated[2] && !swings(2);
  const all = (checkedPlan || !plan) && (checkedHeight || !mark.estimated[2]);
  return {
    station: mark.station,
    ...coordinates(mark, shift),
    use_plan: useSaid(mark.station, "plan", settings),
    use_height: useSaid(mark.station, "height", settings),
    covariance_enu_m2: [0, 1, 2].map((i) => [0, 1, 2].map((j) => seven(covariance[3 * i + j]))),
    covariance_kind: "stated",
    checked: all && (plan || mark.estimated[2]),
    checked_plan: checkedPlan,
    checked_height: checkedHeight,
    ellipse: {
      semi_major_mm: mm(scale.ellipse * ellipse.major),
      semi_minor_mm: mm(scale.ellipse * ellipse.minor),
      azimuth_deg: Number.isFinite(ellipse.major) ? Math.round((ellipse.azimuth * 180e3) / Math.PI) / 1e3 : null,
      probability: LIMITS.confidence,
      kind: scale.kind,
    },
    circle_mm: mm(circle(scale.ellipse * ellipse.major, scale.ellipse * ellipse.minor)),
    height_limit_mm: mm(scale.height * Math.sqrt(covariance[8])),
  };
}

// How a known mark is used, in the words of control.csv.
function useSaid(station, part, settings) {
  const known = KNOWN.get(label(`known mark ${part}`, station));
  const mark = DATA.marks.find((one) => one.station === station);
  const changedUse = known && settings.uses.get(`${known.keys[0]} ${part}`);
  if (changedUse === undefined) return mark[`use_${part}`];
  return changedUse || "check-only";
}

function coordinates(mark, shift) {
  const [e, n, u] = shift;
  const turn = mark.grid_turn;
  const plan = [0, 1].map((i) => mark.grid[i] + turn[2 * i] * e + turn[2 * i + 1] * n);
  const has = (i, value) => (mark.grid[i] === null ? null : metres(value));
  const made = { north_m: has(0, plan[0]), east_m: has(1, plan[1]), height_m: has(2, mark.grid[2] + u) };
  if (!mark.xyz) return made;
  const xyz = [0, 1, 2].map((k) => mark.xyz[k] + e * mark.axes[k] + n * mark.axes[3 + k] + u * mark.axes[6 + k]);
  const [x, y, z] = xyz.map(metres);
  const [latitude, longitude, height] = mark.geodetic;
  const degrees = (value) => (Number.isFinite(value) ? Math.round(value * 1e10) / 1e10 : null);
  return {
    ...made,
    x_m: x,
    y_m: y,
    z_m: z,
    latitude_deg: degrees(latitude + n * mark.degrees_per_metre[0]),
    longitude_deg: degrees(longitude + e * mark.degrees_per_metre[1]),
    ellipsoidal_height_m: metres(height + u),
  };
}

const UNITS = {
  rad: ["arcsec", (3600 * 180) / Math.PI],
  orientation: ["arcsec", (3600 * 180) / Math.PI],
  "vector turn": ["arcsec", (3600 * 180) / Math.PI],
  "distance scale": ["ppm", 1e6],
  "vector scale": ["ppm", 1e6],
  "undulation tilt": ["ppm", 1e6],
  refraction: ["ratio", 1],
};
const LENGTHS = ["slope distance", "horizontal distance", "level difference"];

// Unit and factor of a reading's own value; null for east, north, up.
function measureOf(one) {
  if (one.unit && UNITS[one.unit]) return UNITS[one.unit];
  return one.unit || LENGTHS.includes(one.kind) ? ["mm", 1000] : null;
}

function observationObject(row) {
  const { one } = row;
  const measure = row.kind.startsWith("set-up") ? null : measureOf(one);
  const more = detailed(row);
  const none = { statistic: NaN, limit: NaN, test: NaN };
  const rounded = (some) => ({ statistic: ratio(some.statistic), limit: ratio(some.limit), test: ratio(some.test) });
  const stated = row.unchecked ? { ...none, limit: LIMITS.chi_square[row.components - 1] } : statedBasis(row);
  const estimated = (row.unchecked ? null : estimatedBasis(row)) ?? none;
  const basis = LIMITS.tests_from === "estimated" ? estimated : stated;
  return {
    kind: row.kind,
    name: one.name,
    about: one.about,
    row: one.row,
    components: row.components,
    redundancy: more.redundancy === undefined ? null : ratio(more.redundancy),
    ...residualObject(more, measure),
    ...rounded(basis),
    probability: Number.isFinite(row.test) ? seven(chanceOf(basisOf(row), row)) : null,
    tests: { stated: rounded(stated), estimated: rounded(estimated) },
    family_probability: seven(familyOf(row)),
    ...sizes(row, more, measure),
    verdict: row.verdict,
  };
}

function residualObject(row, measure) {
  if (!row.residual) return { residual_m: null };
  if (!measure || measure[0] === "mm") return { residual_m: row.residual.map((v) => (Number.isFinite(v) ? Math.round(v * 1e8) / 1e8 : null)) };
  return { residual_m: null, [`residual_${measure[0]}`]: seven(measure[1] * row.residual[0]) };
}

function sizes(row, more, measure) {
  const none = [null, null, null];
  const enu = (values) => {
    const made = [...none];
    if (!measure && values) row.axes.forEach((axis, i) => (made[axis] = mm(values[i])));
    return made;
  };
  const made = {
    shift_enu_mm: enu(more.shift),
    sd_shift_enu_mm: enu(more.sd),
    smallest_detectable_mm: measure ? null : mm(row.smallest),
    smallest_detectable_enu_mm: enu(more.along),
  };
  if (!measure) return made;
  const [unit, factor] = measure;
  return {
    ...made,
    [`shift_value_${unit}`]: more.shift ? seven(factor * more.shift[0]) : null,
    [`sd_shift_value_${unit}`]: more.sd ? seven(factor * more.sd[0]) : null,
    [`smallest_detectable_${unit}`]: seven(factor * row.smallest),
  };
}
