// How well marks are placed, and where.

// What standard axes and heights are multiplied by.
function multipliers(factor, limits = LIMITS) {
  const stated = { kind: "stated", ellipse: limits.ellipse, height: limits.height };
  const freedom = factor.degrees_of_freedom;
  if (limits.ellipses_from === "stated" || freedom < 1) return stated;
  // Few degrees of freedom say little, unless they say that the stated is wrong.
  const few = freedom < 10 && limits.ellipses_from === "larger";
  if (few && factor.verdict !== "fails") return stated;
  const s0 = Math.sqrt(factor.value);
  const estimated = {
    kind: "estimated",
    ellipse: s0 * limits.ellipse_estimated[freedom - 1],
    height: s0 * limits.height_estimated[freedom - 1],
  };
  if (limits.ellipses_from !== "larger") return estimated;
  const larger = estimated.ellipse >= stated.ellipse ? estimated : stated;
  return { ...larger, height: Math.max(estimated.height, stated.height) };
}

// East, north, up of a mark: its covariance (NaN where not estimated, 0 where held) and
// its shift.
function placeOf(state, mark) {
  const at = mark.unknowns;
  const held = heldComponents(state, mark);
  const covariance = new Float64Array(9);
  for (let i = 0; i < 3; i++)
    for (let j = 0; j < 3; j++) {
      if (!(mark.estimated[i] && mark.estimated[j])) covariance[3 * i + j] = NaN;
      else if (at[i] >= 0 && at[j] >= 0 && !(held[i] || held[j])) covariance[3 * i + j] = state.covariance[packed(at[i], at[j])];
    }
  const shift = at.map((u, i) => (u >= 0 ? state.shift[u] : mark.estimated[i] ? 0 : NaN));
  return { covariance, shift };
}

// Standard ellipse of a mark in plan.
function planEllipse({ covariance }, { unknowns, estimated }) {
  if (!(estimated[0] && estimated[1])) return ellipseOf(NaN, NaN, NaN);
  const [e, n] = unknowns;
  const own = (u) => (u < 0 || isHeld(covariance, u) ? 0 : covariance[packed(u, u)]);
  const [ee, nn] = [own(e), own(n)];
  return ellipseOf(ee, ee && nn && covariance[packed(e, n)], nn);
}

// Standard ellipse: semi-axes, and azimuth of the major one from north, radians.
function ellipseOf(ee, en, nn) {
  const [middle, half] = [(ee + nn) / 2, Math.sqrt((nn - ee) ** 2 / 4 + en * en)];
  let azimuth = 0.5 * Math.atan2(2 * en, nn - ee);
  if (azimuth < 0) azimuth += Math.PI;
  if (half <= 1e-9 * middle || azimuth > Math.PI - 1e-9) azimuth = 0;
  return { major: Math.sqrt(middle + half), minor: Math.sqrt(Math.max(middle - half, 0)), azimuth };
}

// Radius of the circle that holds the ellipse's probability, by bisection: the same
// integral as the program's.
function circle(major, minor, confidence = LIMITS.confidence) {
  if (!(major > 0)) return major;
  const standard = Math.sqrt(-2 * Math.log(1 - confidence));
  const [a, b] = [major / standard, minor / standard];
  const squares = Array.from({ length: 64 }, (_, i) => {
    const angle = ((i + 0.5) * Math.PI) / 128;
    return Math.max((a * Math.cos(angle)) ** 2 + (b * Math.sin(angle)) ** 2, 1e-300);
  });
  let [low, high] = [0.7 * major, 1.05 * major];
  for (let k = 0; k < 40; k++) {
    const middle = (low + high) / 2;
    const outside = squares.reduce((sum, s) => sum + Math.exp((-middle * middle) / (2 * s)), 0) / 64;
    if (1 - outside < confidence) low = middle;
    else high = middle;
  }
  return (low + high) / 2;
}

