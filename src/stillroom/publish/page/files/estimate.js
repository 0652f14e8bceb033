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
  /** From how many fans on a source of the sound counts as one that all may have. */
  const MANY = 32;
  /** How many fans on either side in the order tell a fan's correlation. */
  const BESIDE = 16;
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
      return price[0] > ceiling ? `price above ${money(ceiling)}: ${price[0].toFixed(2)} ${price[1]}` : "";
    }

    /** A price that a reader writes: whole, or with two decimals. @param {number} told */
    function money(told) { return Number.isInteger(told) ? String(told) : told.toFixed(2); }

    /**
     * The shared parts of fans as rows of numbers whose products are covariances: components, and the sources of the
     * sound that many have. What only a few have, such as a day, is told by fan: the later fans and the products.
     */
    function sharedParts(there) {
      const n = there.length, members = new Map();
      there.forEach((each, i) => {
        if (each.s === undefined) return;
        data.sound.sources[each.s].forEach((source, m) => {
          if (!members.has(source)) members.set(source, []);
          members.get(source).push({ i, part: (each.value * each.bySound * effects[firstEffect[each.s] + m]) / 127 });
        });
      });
      const usual = [...members.values()].filter((own) => own.length > MANY), width = dims + usual.length;
      const parts = new Float64Array(n * width), squares = new Float64Array(n), few = new Map();
      there.forEach((each, i) => { for (let k = 0; k < dims; k++) parts[i * width + k] = each.shared[k] * each.value; });
      usual.forEach((own, k) => { for (const { i, part } of own) parts[i * width + dims + k] = part; });
      for (let i = 0, at = 0; i < n; i++) for (let k = 0; k < width; k++, at++) squares[i] += parts[at] * parts[at];
      for (const own of members.values())
        if (own.length <= MANY)
          own.forEach(({ i, part }, x) => {
            squares[i] += part * part;
            if (!few.has(i)) few.set(i, []);
            for (let y = x + 1; y < own.length; y++) few.get(i).push({ j: own[y].i, product: part * own[y].part });
          });
      return { parts, width, squares, few };
    }

    /** Squared shared part of the difference of two fans: Σ(cᵢ − cⱼ)². */
    function apart(i, j, { parts, width, squares, few }) {
      let sum = 0;
      for (let k = 0, x = i * width, y = j * width; k < width; k++) sum += parts[x + k] * parts[y + k];
      const beside = few.get(Math.min(i, j));
      if (beside) for (const each of beside) if (each.j === Math.max(i, j)) sum += each.product;
      return Math.max(0, squares[i] + squares[j] - 2 * sum);
    }

    const squared = (x) => x * x;
    const deepest = (each) => squared(each.value) * (squared(each.down) + squared(each.deeper));
    const highest = (each) => squared(each.value) * (squared(each.up) + squared(each.higher));

    /** Half-widths of the 95 % interval of the difference of two fans, below and above. */
    const below = (x, y, shared) => Math.sqrt(deepest(x) + highest(y) + NORMAL * NORMAL * shared);
    const above = (x, y, shared) => Math.sqrt(highest(x) + deepest(y) + NORMAL * NORMAL * shared);

    const marginOf = (x, y) => (data.margin * (x.value + y.value)) / 2;

    /** Whether the interval of the difference excludes 0, and the difference is beyond the margin. */
    function isAhead(x, y, shared) {
      const least = x.lowValue - y.highValue;
      return least > marginOf(x, y) && least > below(x, y, shared);
    }

    /** The difference of two fans with its interval, and the word for the first. */
    function judged(x, y, shared) {
      const least = x.lowValue - y.highValue, most = x.highValue - y.lowValue, margin = marginOf(x, y);
      const down = below(x, y, shared), up = above(x, y, shared), part = TIE / NORMAL;
      const tie = { low: least - part * down, high: most + part * up };
      const tied = tie.low > -margin && tie.high < margin;
      const word = isAhead(x, y, shared) ? "ahead" : isAhead(y, x, shared) ? "behind" : tied ? "tied" : "not resolved";
      return { least, most, low: least - down, high: most + up, margin, tie, word };
    }

    /** Value of a table over rising abscissas, between two of them. */
    function bracket(values, x) {
      let at = 0;
      while (at < values.length - 2 && values[at + 1] < x) at++;
      return [at, clamp((x - values[at]) / (values[at + 1] - values[at]), 0, 1)];
    }

    const logs = data.critical.counts.map(Math.log);

    function criticals(count, correlation) {
      const { correlations, best, ranks } = data.critical;
      const [i, x] = bracket(logs, Math.log(count)), [j, y] = bracket(correlations, correlation);
      const row = (/** @type {number[]} */ each) => each[j] * (1 - y) + each[j + 1] * y;
      return { best: row(best[i]) * (1 - x) + row(best[i + 1]) * x, rank: ranks[i] * (1 - x) + ranks[i + 1] * x };
    }

    /**
     * Who may be the best, and between which ranks each lies. The fans stand in order, so only an earlier one can be
     * clearly better than a later one; two are looked at closely only where a bound of their spread doesn't tell.
     */
    function places(there, shared) {
      const n = there.length, better = new Int32Array(n), worse = new Int32Array(n), best = new Array(n).fill(true);
      const own = Float64Array.from(there, (each) => each.variance * each.value * each.value);
      const most = own.map((each, i) => Math.sqrt(each + shared.squares[i]));
      const overall = n > 1 ? criticals(n, 0).rank : Infinity;
      const limits = own.map((each, i) => (n > 1 ? criticals(n, correlation(i, own, shared)).best : Infinity));
      const lows = Float64Array.from(there, (each) => each.lowValue), highs = Float64Array.from(there, (each) => each.highValue);
      for (let i = 0; i < n; i++)
        for (let j = i + 1; j < n; j++) {
          const gap = lows[i] - highs[j], limit = limits[j], least = Math.min(limit, overall);
          if (!(gap > 0) || gap * gap <= least * least * (own[i] + own[j])) continue;
          let clear = Infinity;
          if (gap <= Math.max(limit, overall) * (most[i] + most[j]))
            clear = gap / Math.sqrt(own[i] + own[j] + apart(i, j, shared));
          if (clear > limit) best[j] = false;
          if (clear > overall) { better[j]++; worse[i]++; }
        }
      return { best, ranks: there.map((_, i) => [1 + better[i], n - worse[i]]) };
    }

    /** Mean share of a fan's own variance in its differences from those that stand next to it. */
    function correlation(i, own, shared) {
      const first = Math.max(0, i - BESIDE), last = Math.min(own.length - 1, i + BESIDE);
      let sum = 0;
      for (let j = first; j <= last; j++) if (j !== i) sum += own[i] / (own[i] + own[j] + apart(i, j, shared));
      return sum / (last - first);
    }

    /** @param {Settings} settings @returns {{rows: Row[], left: Left[], best: number[]}} */
    function rank(settings) {
      const { there, left } = field(settings, question(settings));
      const shared = sharedParts(there), { best: possible, ranks } = places(there, shared), best = [];
      const rows = there.map((each, i) => {
        let verdict = "leader";
        if (i > 0) verdict = !possible[i] && isAhead(there[0], each, apart(0, i, shared)) ? "behind" : "too close";
        if (verdict !== "behind") best.push(each.fan);
        const common = NORMAL * NORMAL * shared.squares[i];
        const bySound = each.value * each.bySound * NORMAL;
        const rest = Math.max(0, common - bySound * bySound) / (each.value * each.value);
        const down = Math.sqrt(each.down ** 2 + each.deeper ** 2 + each.heardDown ** 2 + rest);
        const up = Math.sqrt(each.up ** 2 + each.higher ** 2 + each.heardUp ** 2 + rest);
        return {
          fan: each.fan, value: each.value, low: each.lowValue - down * each.value,
          high: each.highValue === Infinity ? null : each.highValue + up * each.value, bound: each.bound,
          ends: each.bound === "range" ? [each.lowValue, each.highValue] : null,
          speed: each.speed, how: each.how, marks: each.marks, verdict, rank: ranks[i],
        };
      });
      return { rows, left, best };
    }

    // --- two fans ------------------------------------------------------------------------------------
    const WORDS = {
      tied: "Any gap between them is too small to notice.",
      ahead: "The gap is larger than its uncertainty, and large enough to notice.",
    };
    const FURTHER = {
      "the gap sits on the margin": "The gap sits on what one would notice: no measurement would settle it.",
      "out of reach": "No number of mountings or samples would settle it.",
    };

    /** @param {number} i @param {number} j @param {Settings} settings */
    function pair(i, j, settings) {
      const q = question(settings), x = fanAt(i, q), y = fanAt(j, q);
      const why = [[i, x], [j, y]].filter(([, each]) => each.why).map(([fan, each]) => `${data.fans.name[fan]}: ${each.why}`);
      if (why.length)
        return { difference: null, low: null, high: null, margin: null, verdict: "unknown", words: why.join("; "), further: "" };
      const shared = apart(0, 1, sharedParts([x, y])), told = judged(x, y, shared);
      const open_ = (/** @type {number} */ end) => (Number.isFinite(end) ? end : null);
      const settled = told.word !== "not resolved";
      return {
        difference: x.value - y.value, low: open_(told.low), high: open_(told.high), margin: told.margin,
        verdict: told.word === "ahead" || told.word === "behind" ? told.word : "too close",
        words: gapWords(told.word, { ...told, difference: x.value - y.value }),
        further: settled ? "" : further(x, y, told, shared),
      };
    }

    /** What a gap means; an end that is null or infinite is open. */
    function gapWords(word, { difference, low, high, margin }) {
      const known = WORDS[word === "behind" ? "ahead" : word];
      if (known) return known;
      if ((low ?? -Infinity) <= 0 && (high ?? Infinity) >= 0) return "The gap is within its uncertainty: either may be the better one.";
      return Math.abs(difference) <= margin ? "One is better, but by too little to notice." : "The gap is not sure to be large enough to notice.";
    }

    /** What would settle a gap, by the lab's word for it. @param {string} settles @param {number} count */
    function furtherWords(settles, count) {
      const kind = { "more mountings": "mounting", "more samples": "sample" }[settles];
      if (kind) return `${count} more ${kind}${count > 1 ? "s" : ""} of each would settle it.`;
      return FURTHER[settles] || "";
    }

    /** What would settle a gap, if the flows measured stay as they are. */
    function further(x, y, told, shared) {
      const { win, tie, onMargin, most } = data.settling;
      const single = told.least === told.most, gap = single ? Math.abs(told.least) : 0;
      const beyond = gap > told.margin * (1 + onMargin), inside = gap < told.margin * (1 - onMargin);
      if (single && !beyond && !inside) return furtherWords("the gap sits on the margin", 0);
      const room = beyond ? gap : told.margin - gap;
      const width = beyond ? ((told.high - told.low) / 2) * win : ((told.tie.high - told.tie.low) / 2) * tie;
      const now = shared + after(x, 0, false) + after(y, 0, false);
      const goal = single ? (room / width) ** 2 * now : 0;
      for (const samples of [false, true])
        for (let count = 1; count <= most; count++)
          if (shared + after(x, count, samples) + after(y, count, samples) < goal)
            return furtherWords(samples ? "more samples" : "more mountings", count);
      return furtherWords("out of reach", 0);
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
    return { fans, obstacles, limits, sizes, units, margin, lab, rank, pair, gapWords, furtherWords };
  }
  return { open };
})();
