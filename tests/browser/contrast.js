// Returns what falls short of WCAG's contrast: text, ratio, colours.
const channels = text => text.match(/[\d.]+/g).map(Number);
const linear = v => (v /= 255) <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4;
const light = ([r, g, b]) => 0.2126 * linear(r) + 0.7152 * linear(g) + 0.0722 * linear(b);
const ground = e => {
  for (; e; e = e.parentElement) {
    const [r, g, b, a = 1] = channels(getComputedStyle(e).backgroundColor);
    if (a > 0.5) return [r, g, b];
  }
  return channels(getComputedStyle(document.documentElement).colorScheme === "dark"
    ? "rgb(18, 18, 18)" : "rgb(255, 255, 255)");
};
const short = [];
for (const e of document.body.querySelectorAll("*")) {
  const own = [...e.childNodes].some(n => n.nodeType === 3 && n.data.trim());
  const style = getComputedStyle(e);
  if (!own || style.visibility === "hidden" || !e.getClientRects().length) continue;
  if (e.closest("style, script, title")) continue;
  const ink = channels(e.closest("svg") ? style.fill : style.color);
  const [a, b] = [light(ink), light(ground(e))].sort((x, y) => y - x);
  const size = parseFloat(style.fontSize);
  const large = size >= 24 || (size >= 18.66 && style.fontWeight >= 700);
  const ratio = (a + 0.05) / (b + 0.05);
  if (ratio < (large ? 3 : 4.5)) {
    short.push(`${e.textContent.trim().slice(0, 40)}: ${ratio.toFixed(2)} ${ink}`);
  }
}
return short;
