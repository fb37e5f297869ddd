// The figures at the top, and the table of marks.

const SAID_OF = { meets: "bubble between the lines", query: "bubble on the line", fails: "bubble beyond the line", unchecked: "no bubble" };

// Puts a level vial's bubble where the verdict is.
function vial(id, verdict, place = 0.5, low = false) {
  const svg = byId(id);
  set(svg, "class", `vial ${verdict}`);
  set(svg, "aria-label", `${verdict}: ${SAID_OF[verdict]}`);
  const bubble = svg.querySelector(".bubble");
  const at = { meets: 32 + 32 * Math.min(Math.max(place, 0), 1), query: low ? 22 : 74, fails: 86 }[verdict];
  set(bubble, "visibility", verdict === "unchecked" ? "hidden" : "visible");
  if (at !== undefined) set(bubble, "cx", at.toFixed(1));
}

function write(id, words) {
  const where = byId(id);
  if (where.textContent !== words) where.textContent = words;
}

function figures(now, first) {
  factorFigure(now.found.factor, first.found.factor);
  pairFigure(now.found, first.found.worst);
  testFigure(now.found, first.found);
  uncheckedFigure(now.found, first.found);
  shiftFigure(now);
}

const factorSaid = (factor) => (factor.value === null ? "cannot be judged" : factor.value.toFixed(2));

function factorFigure(factor, before) {
  const inside = factor.value === null ? 0 : (factor.value - factor.lower) / (factor.upper - factor.lower);
  vial("vial-factor", factor.verdict, inside, factor.value < factor.lower);
  write("factor", factorSaid(factor));
  write("factor-verdict", factor.verdict);
  const limits = factor.value === null ? "no degrees of freedom" : `limits ${factor.lower.toFixed(2)} … ${factor.upper.toFixed(2)}, ${factor.degrees_of_freedom} degrees of freedom`;
  write("factor-more", `${limits}; at the start ${factorSaid(before)}`);
}

const pairSaid = (worst) => (worst.share < 0 ? "no pair" : `${(1000 * worst.size).toFixed(1)} mm`);

// Precision that rests on a solution which fails its own tests says nothing.
const isSound = (found) => found.factor.verdict !== "fails" && !found.rows.some((row) => row.verdict === "fails");

function pairFigure(found, before) {
  const { worst } = found;
  const names = worst.share < 0 ? "" : [worst.a, worst.b].map((i) => DATA.marks[i].station).join(" – ");
  write("pair", pairSaid(worst));
  if (!ASKED.name) {
    byId("vial-pair").style.display = "none";
    set(byId("vial-pair"), "aria-label", "no specification is stated");
    write("pair-verdict", "");
    return write("pair-more", `${names}; no specification is stated; at the start ${pairSaid(before)}`);
  }
  const sound = isSound(found);
  const verdict = worst.share > 1 ? "fails" : worst.share < 0 || !sound ? "unchecked" : "meets";
  vial("vial-pair", verdict, worst.share);
  write("pair-verdict", verdict);
  const limit = worst.share < 0 ? "" : `${worst.part}, ${(100 * worst.share).toFixed(0)} % of ${(1000 * worst.limit).toFixed(1)} mm; ${worst.over} over; `;
  const why = sound ? "" : "cannot be judged while the tests fail; ";
  return write("pair-more", `${names}, ${limit}${why}at the start ${pairSaid(before)}`);
}

function largest(found) {
  return found.rows.reduce((most, row) => (row.test > (most?.test ?? -1) ? row : most), null);
}

function testFigure(found, before) {
  const [row, was] = [largest(found), largest(before)];
  vial("vial-test", row?.verdict ?? "unchecked", row?.test);
  write("test", row ? row.test.toFixed(2) : "nothing is tested");
  write("test-verdict", row?.verdict ?? "unchecked");
  write("test-more", `${row ? `${label(row.kind, row.one.name)}; 1 is the limit; ` : ""}at the start ${was ? was.test.toFixed(2) : "none"}`);
}

function uncheckedFigure(found, before) {
  const count = uncheckedCount(found);
  const names = found.rows.filter((row) => row.verdict === "unchecked" && row.kind !== "set-up height").map((row) => label(row.kind, row.one.name));
  vial("vial-unchecked", count ? "unchecked" : "meets");
  write("unchecked", String(count));
  write("unchecked-verdict", count ? "unchecked" : "meets");
  const listed = names.slice(0, 3).join(", ") + (names.length > 3 ? " …" : "");
  write("unchecked-more", `${listed ? `${listed}; ` : ""}at the start ${uncheckedCount(before)}`);
}

// How far a mark has moved from the start, m.
function shiftSize(shift, unknowns) {
  let sum = 0;
  for (const u of unknowns) if (u >= 0) sum += shift[u] ** 2;
  return Math.sqrt(sum);
}

function shiftFigure(now) {
  const sizes = DATA.marks.map((mark) => shiftSize(now.state.shift, mark.unknowns));
  const at = sizes.indexOf(Math.max(...sizes));
  const most = Math.max(sizes[at] ?? 0, 0);
  const about = isApproximate(most) ? "≈ " : "";
  write("shift", `${about}${(1000 * most).toFixed(1)} mm`);
  const words = about ? "≈ so large a shift bends the network: adjust --trial gives the full figures" : "equal to a full adjustment to 0.01 mm";
  write("shift-more", most > 5e-6 ? `${DATA.marks[at].station}; ${words}` : "no mark has moved");
}

// Whether the network bends so much that the page is no longer equal to a full adjustment
// to 0.01 mm: beyond 0.1 m, or where a sight turns or stretches by as much.
function isApproximate(most) {
  const bend = DATA.shortest_sight ? (most * most) / (2 * DATA.shortest_sight) : 0;
  return most > 0.1 || bend > 1e-5;
}

const MARK_ROWS = [];

function buildMarks() {
  for (const mark of DATA.marks) {
    const cells = Array.from({ length: 8 }, () => element("td"));
    byId("marks").append(element("tr", {}, element("th", { scope: "row" }, mark.station), ...cells));
    MARK_ROWS.push({ mark, cells });
  }
}

// A tenth, with the minus of print, and none before a zero.
const tenth = (value, factor = 1000) =>
  Number.isFinite(value) ? (Math.round(10 * factor * value) / 10 + 0).toFixed(1).replace("-", "−") : "–";

function markRows() {
  const scales = [FIRST, present].map((one) => multipliers(one.found.factor));
  for (const { mark, cells } of MARK_ROWS) {
    const before = placeOf(FIRST.state, mark);
    const now = placeOf(present.state, mark);
    const major = (place, k) => scales[k].ellipse * ellipseOf(place.covariance[0], place.covariance[1], place.covariance[4]).major;
    const height = (place, k) => scales[k].height * Math.sqrt(place.covariance[8]);
    const swings = mark.unknowns.some((u) => present.found.swings.has(u));
    const words = [...now.shift.map((v) => tenth(v)), tenth(major(before, 0)), tenth(major(now, 1)), tenth(height(before, 0)), tenth(height(now, 1)), swings ? "not fully" : "yes"];
    words.forEach((word, i) => cells[i].textContent !== word && (cells[i].textContent = word));
  }
}
