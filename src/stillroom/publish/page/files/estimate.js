"use strict";
/**
 * Ranks and compares fans as the release would, from what `lookup.js` finds of each.
 *
 * The variance of a difference is own² + own² + Σ(cᵢ − cⱼ)². A fan is ahead where the 95 % interval of the difference
 * excludes 0 and the difference is beyond the margin; behind the leader only where it is also out of the possible bests.
 *
 * @typedef {{a: number, b: number}} Resistance dp = aQ + bQ² [Pa s/m³], [Pa s²/m⁶]
 * @typedef {{size?: number|null, obstacle?: string, resistance?: Resistance|null, limit?: number|null, fans?: number,
 *   tiles?: number, ceiling?: number|null, only?: number[]|null}} Settings sizes in mm, limit in dB(A), null: full setting
 * @typedef {{fan: number, value: number, low: number|null, high: number|null, bound: string, ends: number[]|null,
 *   speed: number, how: string, marks: string[], verdict: string, rank: number[]}} Row SI; an open end is null
 * @typedef {{fan: number, why: string}} Left
 */
const StillroomEstimate = (() => {
  const TIE = 1.6448536269514722;
  const { NORMAL, clamp } = StillroomLookup;

  /** @param {any} data what data.js sets */
  function open(data) {
    const { question, fanAt, dims, effects, firstEffect } = StillroomLookup.open(data);

    // --- all fans ------------------------------------------------------------------------------------
    /** The fans that are asked for, each with its value, and why others have none. */
    function field(settings, q) {
      const there = [], left = [];
      const size = settings.size == null ? data.usualSize : settings.size;
      data.fans.name.forEach((_, fan) => {
        if (settings.only && !settings.only.includes(fan)) return;
        const why = whyNot(fan, size, settings.ceiling);
        const found = why ? { why } : fanAt(fan, q);
        if (found.why) left.push({ fan, why: found.why });
        else there.push(found);
      });
      there.sort((x, y) => y.value - x.value || (data.fans.name[x.fan] < data.fans.name[y.fan] ? -1 : 1));
      return { there, left };
    }

    function whyNot(fan, size, ceiling) {
      const own = data.fans.size[fan], price = data.fans.price[fan];
      if (own && size && Math.abs(own - size) > 0.5) return `${Math.round(own)} mm, not ${Math.round(size)} mm`;
      if (ceiling == null) return "";
      if (!price) return "price unknown";
      return price[0] > ceiling ? `price above ${ceiling}: ${price[0]} ${price[1]}` : "";
    }

    /** Covariances of the fans' shared parts, n × n, in squared flow; the diagonal holds their variances. */
    function covariances(there) {
      const n = there.length, out = new Float64Array(n * n), members = new Map();
      const parts = there.map((each) => each.shared.map((c) => c * each.value));
      for (let i = 0; i < n; i++)
        for (let j = i; j < n; j++) {
          let sum = 0;
          for (let k = 0; k < dims; k++) sum += parts[i][k] * parts[j][k];
          out[i * n + j] = sum;
        }
      there.forEach((each, i) => {
        if (each.s === undefined) return;
        data.sound.sources[each.s].forEach((source, m) => {
          if (!members.has(source)) members.set(source, []);
          const effect = effects[firstEffect[each.s] + m] / 127;
          members.get(source).push([i, each.value * each.bySound * effect]);
        });
      });
      for (const own of members.values())
        for (let x = 0; x < own.length; x++)
          for (let y = x; y < own.length; y++) {
            const [i, j] = own[x][0] <= own[y][0] ? [own[x][0], own[y][0]] : [own[y][0], own[x][0]];
            out[i * n + j] += own[x][1] * own[y][1];
          }
      for (let i = 0; i < n; i++) for (let j = 0; j < i; j++) out[i * n + j] = out[j * n + i];
      return out;
    }

    /** Squared shared part of the difference of two fans. */
    const apart = (cov, n, i, j) => Math.max(0, cov[i * n + i] + cov[j * n + j] - 2 * cov[i * n + j]);

    /** The difference of two fans with its interval, and the verdict on the first. */
    function difference(x, y, shared, times) {
      const scale = times / NORMAL, common = NORMAL * NORMAL * shared;
      const half = (one, other, first, second) =>
        scale * Math.sqrt((one.value * first) ** 2 + (other.value * second) ** 2 + common);
      const deep = (each) => Math.hypot(each.down, each.deeper), rise = (each) => Math.hypot(each.up, each.higher);
      const least = x.lowValue - y.highValue, most = x.highValue - y.lowValue;
      return { least, most, low: least - half(x, y, deep(x), rise(y)), high: most + half(x, y, rise(x), deep(y)) };
    }

    function judged(x, y, shared) {
      const margin = (data.margin * (x.value + y.value)) / 2;
      const wide = difference(x, y, shared, NORMAL), tie = difference(x, y, shared, TIE);
      const ahead = wide.low > 0 && wide.least > margin, behind = wide.high < 0 && wide.most < -margin;
      const tied = tie.low > -margin && tie.high < margin;
      return { ...wide, margin, tie, word: ahead ? "ahead" : behind ? "behind" : tied ? "tied" : "not resolved" };
    }

    /** Value of a table over rising abscissas, between two of them. */
    function bracket(values, x) {
      let at = 0;
      while (at < values.length - 2 && values[at + 1] < x) at++;
      return [at, clamp((x - values[at]) / (values[at + 1] - values[at]), 0, 1)];
    }

    function criticals(count, correlation) {
      const { counts, correlations, best, ranks } = data.critical;
      const [i, x] = bracket(counts.map(Math.log), Math.log(count)), [j, y] = bracket(correlations, correlation);
      const row = (/** @type {number[]} */ each) => each[j] * (1 - y) + each[j + 1] * y;
      return { best: row(best[i]) * (1 - x) + row(best[i + 1]) * x, rank: ranks[i] * (1 - x) + ranks[i + 1] * x };
    }

    /** Who may be the best, and between which ranks each lies. */
    function places(there, cov) {
      const n = there.length, better = new Int32Array(n), worse = new Int32Array(n), best = new Array(n).fill(true);
      const own = there.map((each) => each.variance * each.value * each.value);
      const overall = n > 1 ? criticals(n, 0).rank : Infinity, spread = new Float64Array(n);
      for (let i = 0; i < n; i++) {
        let mean = 0;
        for (let j = 0; j < n; j++) {
          spread[j] = Math.sqrt(own[i] + own[j] + apart(cov, n, i, j));
          if (j !== i) mean += own[i] / (spread[j] * spread[j]);
        }
        const limit = n > 1 ? criticals(n, mean / (n - 1)).best : Infinity;
        for (let j = 0; j < n; j++) {
          if (j === i || there[i].highValue === Infinity) continue;
          const clear = (there[j].lowValue - there[i].highValue) / spread[j];
          if (clear > limit) best[i] = false;
          if (clear > overall) { better[i]++; worse[j]++; }
        }
      }
      return there.map((_, i) => ({ best: best[i], rank: [1 + better[i], n - worse[i]] }));
    }

    /** @param {Settings} settings @returns {{rows: Row[], left: Left[], best: number[]}} */
    function rank(settings) {
      const { there, left } = field(settings, question(settings));
      const cov = covariances(there), n = there.length, place = places(there, cov), best = [];
      const rows = there.map((each, i) => {
        let verdict = "leader";
        if (i > 0) {
          const word = judged(there[0], each, apart(cov, n, 0, i)).word;
          verdict = word === "ahead" && !place[i].best ? "behind" : "too close";
        }
        if (verdict !== "behind") best.push(each.fan);
        const common = NORMAL * NORMAL * cov[i * n + i];
        const bySound = each.value * each.bySound * NORMAL;
        const rest = Math.max(0, common - bySound * bySound) / (each.value * each.value);
        const down = Math.sqrt(each.down ** 2 + each.deeper ** 2 + each.heardDown ** 2 + rest);
        const up = Math.sqrt(each.up ** 2 + each.higher ** 2 + each.heardUp ** 2 + rest);
        return {
          fan: each.fan, value: each.value, low: each.lowValue - down * each.value,
          high: each.highValue === Infinity ? null : each.highValue + up * each.value, bound: each.bound,
          ends: each.bound === "range" ? [each.lowValue, each.highValue] : null,
          speed: each.speed, how: each.how, marks: each.marks, verdict, rank: place[i].rank,
        };
      });
      return { rows, left, best };
    }

    // --- two fans ------------------------------------------------------------------------------------
    const WORDS = {
      tied: "Any gap between them is too small to notice.",
      ahead: "The gap is larger than its uncertainty, and large enough to notice.",
    };

    /** @param {number} i @param {number} j @param {Settings} settings */
    function pair(i, j, settings) {
      const q = question(settings), x = fanAt(i, q), y = fanAt(j, q);
      const why = [[i, x], [j, y]].filter(([, each]) => each.why).map(([fan, each]) => `${data.fans.name[fan]}: ${each.why}`);
      if (why.length)
        return { difference: null, low: null, high: null, margin: null, verdict: "unknown", words: why.join("; "), further: "" };
      const cov = covariances([x, y]), shared = apart(cov, 2, 0, 1), told = judged(x, y, shared);
      const open_ = (/** @type {number} */ end) => (Number.isFinite(end) ? end : null);
      const settled = told.word !== "not resolved";
      const small = Math.abs(x.value - y.value) <= told.margin;
      const words = WORDS[told.word === "behind" ? "ahead" : told.word]
        || (told.low <= 0 && told.high >= 0 ? "The gap is within its uncertainty: either may be the better one."
          : small ? "One is better, but by too little to notice." : "The gap is not sure to be large enough to notice.");
      return {
        difference: x.value - y.value, low: open_(told.low), high: open_(told.high), margin: told.margin,
        verdict: told.word === "ahead" || told.word === "behind" ? told.word : "too close",
        words, further: settled ? "" : further(x, y, told, shared),
      };
    }

    /** What would settle a gap, if the flows measured stay as they are. */
    function further(x, y, told, shared) {
      const { win, tie, onMargin, most } = data.settling;
      const single = told.least === told.most, gap = single ? Math.abs(told.least) : 0;
      const beyond = gap > told.margin * (1 + onMargin), inside = gap < told.margin * (1 - onMargin);
      if (single && !beyond && !inside) return "The gap sits on what one would notice: no measurement would settle it.";
      const room = beyond ? gap : told.margin - gap;
      const width = beyond ? ((told.high - told.low) / 2) * win : ((told.tie.high - told.tie.low) / 2) * tie;
      const now = shared + after(x, 0, false) + after(y, 0, false);
      const goal = single ? (room / width) ** 2 * now : 0;
      for (const samples of [false, true])
        for (let count = 1; count <= most; count++)
          if (shared + after(x, count, samples) + after(y, count, samples) < goal)
            return `${count} more ${samples ? "sample" : "mounting"}${count > 1 ? "s" : ""} of each would settle it.`;
      return "No number of mountings or samples would settle it.";
    }

    /** Own variance of a fan after further samples, or mountings of those at hand. */
    function after(each, count, samples) {
      const told = [...each.parts.counts];
      for (let more = 0; more < count; more++) {
        if (samples) told.push(1);
        else told[told.indexOf(Math.min(...told))]++;
      }
      const inverse = told.reduce((sum, n) => sum + 1 / n, 0);
      return (each.value ** 2 * (each.parts.sample + (each.parts.mounting * inverse) / told.length)) / told.length;
    }

    const fans = data.fans.name.map((/** @type {string} */ name, /** @type {number} */ index) => {
      const price = data.fans.price[index];
      return {
        index, name, maker: data.fans.maker[index], model: data.fans.model[index], size: data.fans.size[index],
        thickness: data.fans.thickness[index], samples: data.fans.samples[index], mountings: data.fans.mountings[index],
        price: price && { value: price[0], currency: price[1], date: price[2], region: price[3] },
        marks: data.fans.marks[index].map((/** @type {number} */ at) => data.words[at]), file: `fans/${index}.js`,
      };
    });
    const obstacles = data.obstacles.map(({ name, words, a, b, how }) => ({ name, words, a, b, how }));
    const { limits, sizes, units, margin, lab } = data;
    return { fans, obstacles, limits, sizes, units, margin, lab, rank, pair };
  }
  return { open };
})();
