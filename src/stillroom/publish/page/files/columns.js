"use strict";
/** Numbers as a release packed them, and the little arithmetic of reading them. */
const StillroomColumns = (() => {
  /** @param {string} text base64 @returns {Uint8Array} */
  function bytes(text) {
    const raw = atob(text);
    const out = new Uint8Array(raw.length);
    for (let i = 0; i < raw.length; i++) out[i] = raw.charCodeAt(i);
    return out;
  }

  /** A column of numbers from its codes. @param {any} column @returns {Float64Array} */
  function unpacked(column) {
    const data = bytes(column.data), wide = column.bits === 16;
    const count = wide ? data.length / 2 : data.length, mask = wide ? 65535 : 255;
    const row = column.row || count || 1, out = new Float64Array(count);
    for (let i = 0, code = 0; i < count; i++) {
      if (i % row === 0) code = 0;
      code = (code + (wide ? data[i] * 256 + data[count + i] : data[i])) & mask;
      if (column.log) out[i] = code === 0 ? 0 : column.low * Math.exp(column.step * (code - 1));
      else out[i] = column.low + column.step * code;
    }
    return out;
  }

  /** @param {any} columns @returns {Object<string, Float64Array>} */
  const allUnpacked = (columns) =>
    Object.fromEntries(Object.entries(columns).map(([name, each]) => [name, unpacked(each)]));

  /** A speed [1/s] in words: "1,100". @param {number} speed */
  function rpm(speed) {
    const text = String(Math.round(speed * 60));
    return text.length > 3 ? `${text.slice(0, -3)},${text.slice(-3)}` : text;
  }

  const clamp = (/** @type {number} */ x, /** @type {number} */ low, /** @type {number} */ high) =>
    Math.min(Math.max(x, low), high);

  /** The normal distribution, to 1e-7: Abramowitz & Stegun, 26.2.17. @param {number} x */
  function normal(x) {
    const t = 1 / (1 + 0.2316419 * Math.abs(x));
    const tail = ((((1.330274429 * t - 1.821255978) * t + 1.781477937) * t - 0.356563782) * t + 0.31938153) * t;
    const above = (tail * Math.exp((-x * x) / 2)) / Math.sqrt(2 * Math.PI);
    return x > 0 ? 1 - above : above;
  }

  /** Value at x of a table over rising knots. */
  function along(knots, table, start, x) {
    let at = 0;
    while (at < knots.length - 2 && knots[at + 1] < x) at++;
    const share = clamp((x - knots[at]) / (knots[at + 1] - knots[at]), 0, 1);
    return table[start + at] * (1 - share) + table[start + at + 1] * share;
  }

  return { allUnpacked, rpm, clamp, normal, along };
})();
