// How likely a larger statistic is by chance alone.

// ln Γ(x), Lanczos with seven terms (g = 5; Numerical Recipes, from memory): 2e-10.
function logGamma(x) {
  const terms = [
    76.18009172947146, -86.50532032941677, 24.01409824083091, -1.231739572450155,
    0.001208650973866179, -0.000005395239384953,
  ];
  const t = x + 5.5 - (x + 0.5) * Math.log(x + 5.5);
  const sum = terms.reduce((total, term, k) => total + term / (x + 1 + k), 1.000000000190015);
  return -t + Math.log((2.5066282746310005 * sum) / x);
}

// Of chi-square with p degrees of freedom: the upper incomplete gamma function, by its
// series or its continued fraction.
function chanceOfChiSquare(value, p) {
  const [a, x] = [p / 2, value / 2];
  if (!(x > 0)) return 1;
  const front = Math.exp(-x + a * Math.log(x) - logGamma(a));
  if (x < a + 1) {
    let term = 1 / a;
    let sum = term;
    for (let k = 1; k < 500 && Math.abs(term) > 1e-16 * sum; k++) sum += term *= x / (a + k);
    return 1 - sum * front;
  }
  let b = x + 1 - a;
  let c = 1e300;
  let d = 1 / b;
  let h = d;
  for (let k = 1; k < 500; k++) {
    const factor = -k * (k - a);
    b += 2;
    d = 1 / (factor * d + b);
    c = b + factor / c;
    h *= d * c;
    if (Math.abs(d * c - 1) < 1e-15) break;
  }
  return front * h;
}

// Of Fisher's F with p and q degrees of freedom: the incomplete beta function.
function chanceOfFisher(value, p, q) {
  if (!(value > 0)) return 1;
  return betaShare(q / (q + p * value), q / 2, p / 2);
}

function betaShare(x, a, b) {
  if (x <= 0 || x >= 1) return x <= 0 ? 0 : 1;
  const front = Math.exp(
    logGamma(a + b) - logGamma(a) - logGamma(b) + a * Math.log(x) + b * Math.log(1 - x),
  );
  return x < (a + 1) / (a + b + 2)
    ? (front * betaFraction(x, a, b)) / a
    : 1 - (front * betaFraction(1 - x, b, a)) / b;
}

function betaFraction(x, a, b) {
  const firm = (value) => (Math.abs(value) < 1e-300 ? 1e-300 : value);
  let c = 1;
  let d = 1 / firm(1 - ((a + b) * x) / (a + 1));
  let h = d;
  for (let k = 1; k < 500; k++) {
    const even = (k * (b - k) * x) / ((a + 2 * k - 1) * (a + 2 * k));
    d = 1 / firm(1 + even * d);
    c = firm(1 + even / c);
    h *= d * c;
    const odd = (-(a + k) * (a + b + k) * x) / ((a + 2 * k) * (a + 2 * k + 1));
    d = 1 / firm(1 + odd * d);
    c = firm(1 + odd / c);
    h *= d * c;
    if (Math.abs(d * c - 1) < 1e-15) break;
  }
  return h;
}
