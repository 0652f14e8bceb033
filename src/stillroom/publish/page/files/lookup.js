"use strict";
/**
 * Looks up what the release computed about one fan: no physics here, and nothing of the page.
 *
 * A fan's airflow is a table over the opening u and the linear share f of a load aQ + bQ²; its speed at a noise limit
 * a table over limits. Errors come in three parts: a fan's own, those of sources that all fans share (as components),
 * and those of the sound (by source).
 */
const StillroomLookup = (() => {
  const FORMAT = "stillroom/estimate/1", NORMAL = 1.959963984540054;
  const FULL = 1, LOW_FULL = 2, HIGH_FULL = 4, AT_LEAST = 8, HEARD_SHORT = 16, TWO_SPEEDS = 32, MAY_BE_LOUD = 64;
  const BEYOND = 0.03, SLIGHTLY = 0.0052, SHORT_OF_FULL = 0.1, READ = 0.01, SAME = 1e-6;
  const SEVERAL_FROM = 0.05, STEP = 1.01, WIDER = 1.02, STEEPEST = 2.2, ONE_SIDED = 0.9, TURNS = 8;

  const { allUnpacked, rpm, clamp, normal, along } = StillroomColumns;

  /** @param {any} data what data.js sets */
  function open(data) {
    if (data.format !== FORMAT) throw new Error(`data of another form: ${data.format}, not ${FORMAT}`);
    const { openings, shares, rough, components, bandKnots } = data.grid;
    const cells = openings * shares, dims = components + 2;
    const air = allUnpacked(data.airflow.columns), sound = allUnpacked(data.sound.columns);
    const records = data.airflow.fan.length, scales = data.airflow.scales;
    const number = (/** @type {number} */ which, /** @type {number} */ r) => air.numbers[which * records + r];

    const airflowOf = data.fans.name.map(() => ({}));
    data.airflow.fan.forEach((fan, r) => { airflowOf[fan][data.airflow.mounted[r]] = r; });
    const noAirflow = data.fans.name.map(() => ({}));
    for (const [fan, way, word] of data.airflow.gone) noAirflow[fan][way] = data.words[word];
    const soundOf = data.fans.name.map(() => ({}));
    data.sound.fan.forEach((fan, r) => { soundOf[fan][data.heard[data.sound.heard[r]]] = r; });
    const several = new Map(data.airflow.several.map((r, at) => [r, at]));
    const missing = new Map(data.airflow.missing.map(([r, ...at]) => [r, new Set(at)]));
    const firstKnot = [0], firstEffect = [0], firstMounting = [0];
    data.sound.knots.forEach((n, r) => firstKnot.push(firstKnot[r] + n));
    data.sound.sources.forEach((each, r) => firstEffect.push(firstEffect[r] + each.length));
    data.airflow.counts.forEach((each, r) => firstMounting.push(firstMounting[r] + each.reduce((sum, n) => sum + n, 0)));
    const saidOf = data.airflow.marks.map((each) => each.map((at) => data.words[at]));
    const everyOne = data.airflow.fan.map((_, r) => chosen(r, Infinity));

    /** Cell and shares of a load in a table over u and f. */
    function placed(u, f) {
      const x = u * (openings - 1), y = f * (shares - 1);
      const i = Math.min(Math.floor(x), openings - 2), j = Math.min(Math.floor(y), shares - 2);
      return { i, j, x: x - i, y: y - j };
    }

    const lookedUp = (table, start, p) => cornered(table, start + p.j * openings + p.i, p.x, p.y);

    /** The same on one side of a jump: read from the knots of that side alone. */
    function besideJump(table, start, p, sides, right) {
      const rows = [p.j, p.j + 1].map((j) => {
        const at = right ? Math.max(p.i, sides[j]) : Math.min(p.i, sides[j] - 2);
        const from = clamp(at, 0, openings - 2), x = p.i + p.x - from, first = start + j * openings + from;
        return table[first] + (table[first + 1] - table[first]) * clamp(x, -2, 3);
      });
      return rows[0] * (1 - p.y) + rows[1] * p.y;
    }

    /** What is kept of the band in which a record has several operating points, at a load and a speed. */
    function bandAt(r, f, speed) {
      const at = several.get(r);
      if (at === undefined) return null;
      const share = between(r, speed), y = f * (shares - 1), j = Math.min(Math.floor(y), shares - 2), part = y - j;
      const read = (table, width, which) => {
        const value = (s, row) => table[((at * 2 + s) * shares + row) * width + which];
        const row = (n) => value(0, n) * (1 - share) + value(1, n) * share;
        return row(j) * (1 - part) + row(j + 1) * part;
      };
      const sides = air.sides.subarray(at * shares, (at + 1) * shares);
      return { at, j, part, low: read(air.edges, 2, 0), high: read(air.edges, 2, 1), jump: read(air.jump, 1, 0), sides };
    }

    /** t of the operating point alone. */
    function operatingT(r, a, b, speed) {
      if (several.has(r)) return flowAt(r, a, b, speed).t;
      const volume = air.numbers[r], head = air.numbers[records + r];
      const linear = (a * volume) / (speed * head), square = (b * volume * volume) / head;
      const u = 2 / (linear + Math.sqrt(linear * linear + 4 * (1 + square)));
      const x = u * (openings - 1), y = linear + square > 0 ? (linear / (linear + square)) * (shares - 1) : 0;
      const i = Math.min(Math.floor(x), openings - 2), j = Math.min(Math.floor(y), shares - 2);
      const at = r * cells + j * openings + i;
      const factor = cornered(air.factor, at, x - i, y - j), exponent = cornered(air.exponent, at, x - i, y - j);
      return u * factor * Math.pow(speed / air.numbers[2 * records + r], exponent);
    }

    function cornered(table, at, x, y) {
      const low = table[at] * (1 - x) + table[at + 1] * x;
      const high = table[at + openings] * (1 - x) + table[at + openings + 1] * x;
      return low * (1 - y) + high * y;
    }

    /** Where a speed lies between the least and the greatest tested, by its logarithm. */
    function between(r, speed) {
      const low = number(3, r), high = number(4, r);
      return high > low ? clamp(Math.log(speed / low) / Math.log(high / low), 0, 1) : 0;
    }

    /** The operating point of a record's fan on a load at a speed. */
    function flowAt(r, a, b, speed) {
      const volume = number(0, r), head = number(1, r);
      const linear = (a * volume) / (speed * head), square = (b * volume * volume) / head;
      const u = 2 / (linear + Math.sqrt(linear * linear + 4 * (1 + square)));
      const f = linear + square > 0 ? linear / (linear + square) : 0;
      const p = placed(u, f), band = bandAt(r, f, speed), start = r * cells;
      const jumps = band !== null && band.sides[p.j] > 0 && band.sides[p.j + 1] > 0;
      const factor = jumps ? besideJump(air.factor, start, p, band.sides, u >= band.jump) : lookedUp(air.factor, start, p);
      const t = u * factor * Math.pow(speed / number(2, r), lookedUp(air.exponent, start, p));
      return { flow: t * volume * speed, t, u, p, band };
    }

    /** Speed at full setting of one mounting where its curve has t. */
    function fullAt(r, ratio, t) {
      const [zero, half, one] = [air.full[r], air.full[records + r], air.full[2 * records + r]];
      const bend = 2 * (zero - 2 * half + one);
      return ratio * (zero + (one - zero - bend) * t + bend * t * t);
    }

    /** The mountings that were tested near a speed, with their shares in the mean. */
    function usedAt(r, speed) {
      const { used, low, high } = everyOne[r];
      return speed === Infinity || (speed >= low && speed <= high) ? used : chosen(r, speed).used;
    }
    function chosen(r, speed) {
      const used = [];
      let least = 0, most = Infinity;
      let m = firstMounting[r];
      for (const count of data.airflow.counts[r]) {
        const own = [];
        for (let at = 0; at < count; at++, m++) {
          const low = number(3, r) * air.each[2 * m], high = number(4, r) * air.each[2 * m + 1];
          least = Math.max(least, low * (1 - BEYOND));
          most = Math.min(most, high * (1 + BEYOND));
          if (speed === Infinity || (speed >= low * (1 - BEYOND) && speed <= high * (1 + BEYOND))) own.push({ m, low, high });
        }
        if (own.length) used.push(own);
      }
      const weighed = used.flatMap((own) => own.map((each) => ({ ...each, weight: 1 / own.length / used.length })));
      return { used: weighed, low: least, high: most };
    }

    /** The mean over mountings at a speed, none faster than at full setting; speed Infinity: at full setting. */
    function meanAt(r, a, b, speed, used) {
      const held = air.full[r] > 0 && (data.airflow.topIsFull[r] || speed === Infinity);
      let flow = 0, turning = 0, atFull = 0, before = 0, t = 0;
      for (const { m, high, weight } of used) {
        const capped = held ? speed : Math.min(speed, high * (1 + BEYOND));
        let n = capped;
        if (capped < Infinity && capped !== before) t = operatingT(r, a, b, capped);
        before = capped;
        if (held && (capped === Infinity || fullAt(r, air.ratios[m], t) < capped)) {
          before = 0;
          n = fullAt(r, air.ratios[m], capped === Infinity ? 0.7 : t);
          for (let turn = 0, last = 0; turn < TURNS && n !== last; turn++) {
            last = n;
            n = fullAt(r, air.ratios[m], operatingT(r, a, b, n));
          }
          t = operatingT(r, a, b, n);
          atFull += weight;
        }
        flow += t * air.numbers[r] * n * weight;
        turning += n * weight;
      }
      return { flow, speed: turning, atFull };
    }

    /** The speed that a limit allows, or why none. */
    function speedAt(r, limit) {
      const from = firstKnot[r], last = firstKnot[r + 1] - 1;
      if (limit < sound.limits[from]) return { why: data.words[data.sound.loud[r]] };
      let low = from, high = last;
      while (high - low > 1) {
        const middle = (low + high) >> 1;
        if (sound.limits[middle] <= limit) low = middle;
        else high = middle;
      }
      if (limit >= sound.limits[last]) low = last;
      const next = Math.min(low + 1, last), width = sound.limits[next] - sound.limits[low];
      const share = width > 0 ? clamp((limit - sound.limits[low]) / width, 0, 1) : 0;
      const joined = (column) => sound[column][low] * (1 - share) + sound[column][next] * share;
      const flags = sound.flags[low] | ((sound.flags[low] | sound.flags[next]) & HIGH_FULL);
      const speed = Math.exp(Math.log(sound.speed[low]) * (1 - share) + Math.log(sound.speed[next]) * share);
      return {
        speed, down: joined("down"), up: joined("up"), sd: joined("sd"), own: joined("own"), flags,
        top: sound.speed[last],
      };
    }

    function resistanceOf(obstacle, scale, flow) {
      if (!obstacle) return { a: 0, b: 0 };
      if (!obstacle.power) return { a: obstacle.a * scale, b: obstacle.b * scale * scale };
      const [c, n] = obstacle.power, each = flow * scale, bend = clamp(n, 1, 2);
      const drop = c * Math.pow(each, n);
      return { a: (drop / each) * (2 - bend) * scale, b: (drop / each / each) * (bend - 1) * scale * scale };
    }

    /** Relative changes of an obstacle's drop at a flow through one piece, by component. */
    function changesOf(obstacle, flow) {
      const out = new Array(dims).fill(0);
      if (!obstacle || !obstacle.effects) return out;
      const drop = obstacle.a * flow + obstacle.b * flow * flow;
      const weights = obstacle.power ? [1 / obstacle.power[0], Math.log(flow)] : [flow / drop, (flow * flow) / drop];
      for (let k = 0; k < dims; k++) out[k] = obstacle.effects[0][k] * weights[0] + obstacle.effects[1][k] * weights[1];
      return out;
    }

    /** What is asked, once for all fans. */
    function question(settings) {
      const named = settings.resistance ? null : data.obstacles.find((each) => each.name === settings.obstacle) || null;
      if (!settings.resistance && settings.obstacle && !named) throw new Error(`no obstacle ${settings.obstacle}`);
      const own = settings.resistance ? { a: settings.resistance.a, b: settings.resistance.b } : null;
      const mounted = named ? named.mounted : 0, fans = settings.fans || 1, tiles = settings.tiles || 1;
      const through = Boolean(own || named), limit = settings.limit == null ? null : settings.limit;
      return {
        named, load: mounted ? null : own || named, mounted, fans, tiles, through, limit,
        own: Boolean(own), scale: fans / tiles, each: limit === null ? null : limit - 10 * Math.log10(fans),
        kind: (through ? 0 : 2) + (limit === null ? 0 : 1), heard: named ? named.words : "",
      };
    }

    /** Everything about one fan under a question, in flows of all fans together; or why it has no value. */
    function fanAt(fan, q) {
      const r = airflowOf[fan][q.mounted];
      if (r === undefined) return { why: noAirflow[fan][q.mounted] || "no run that can be used" };
      const said = saidOf[r].slice();
      let speed = Infinity, at = null, s;
      if (q.each !== null) {
        s = soundOf[fan][q.heard];
        if (s === undefined) s = soundOf[fan][""];
        if (s === undefined) return { why: noSound(fan) };
        at = speedAt(s, q.each);
        if (at.why) return at;
        for (const mark of data.sound.marks[s]) said.push(data.words[mark]);
        if (q.through && data.sound.heard[s] === 0) said.push("free-air noise");
        const short = at.flags & FULL && fullAt(r, 1, 0.7) > at.top * (1 + SHORT_OF_FULL);
        at.short = Boolean(short || at.flags & HEARD_SHORT);
        at.full = Boolean(at.flags & FULL) && !short;
        speed = at.full ? Infinity : at.speed;
        soundWords(at, s, short, said);
      }
      if (speed === Infinity && !(air.full[r] > 0)) return { why: "no sweep at full setting that can be used" };
      const used = usedAt(r, speed);
      const words = (one) => `airflow tested from ${rpm(one.low)} to ${rpm(one.high)} rpm`;
      if (!used.length) return { why: `speed ${rpm(speed)} rpm: ${words({ low: number(3, r), high: number(4, r) })}` };
      if (used.length < firstMounting[r + 1] - firstMounting[r]) said.push("a mounting could not be used");
      if (speed < Infinity)
        for (const one of used)
          if (speed < one.low * (1 - SLIGHTLY) || speed > one.high * (1 + SLIGHTLY)) said.push(`modelled: ${words(one)}`);
      return valued(fan, r, s, at, speed, q, said, used);
    }

    function soundWords(at, s, short, said) {
      const topping = data.words[data.sound.topping[s]];
      if (at.full || at.flags & HEARD_SHORT) said.push(topping);
      else if (short) said.push(`its sound was measured only up to ${rpm(at.top)} rpm`);
      else if (at.flags & AT_LEAST) said.push("the limit lies in the noise floor");
      if (at.flags & TWO_SPEEDS) said.push("two speeds possible");
      if (at.flags & MAY_BE_LOUD) said.push("may not run this quiet");
    }

    function noSound(fan) {
      const with_ = Object.keys(soundOf[fan]), word = data.sound.gone[fan];
      return with_.length ? `sound measured only with ${with_.sort().join(", ")}` : data.words[word] || "no sound measured";
    }

    function valued(fan, r, s, at, speed, q, said, used) {
      let { a, b } = resistanceOf(q.load, q.scale, 0.01);
      let found = meanAt(r, a, b, speed, used);
      if (q.load && q.load.power) {
        for (let turn = 0; turn < TURNS; turn++) {
          ({ a, b } = resistanceOf(q.load, q.scale, found.flow));
          found = meanAt(r, a, b, speed, used);
        }
      }
      const flow = found.flow, n = found.speed, point = flowAt(r, a, b, n);
      if (missing.has(r) && missing.get(r).has((point.p.j + (point.p.y > 0.5 ? 1 : 0)) * openings + point.p.i + 1))
        return { why: "no operating point within what was tested" };
      const ratio = (load, turn) =>
        Math.log((operatingT(r, a * load, b * load, n * turn) / operatingT(r, a / load, b / load, n / turn)) * turn * turn);
      const bySpeed = clamp(ratio(1, STEP) / (2 * Math.log(STEP)), 0, STEEPEST);
      const byLoad = a + b > 0 ? clamp(ratio(WIDER, 1) / (2 * Math.log(WIDER)), -STEEPEST, 0) : 0;
      const shared = sharedOf(r, point.u, n, found.atFull, bySpeed);
      const changes = changesOf(q.load && !q.own ? q.load : null, flow * q.scale);
      let obstacle = 0;
      for (let k = 0; k < dims; k++) {
        shared[k] += byLoad * changes[k];
        if (k >= components) obstacle += byLoad * byLoad * changes[k] * changes[k];
      }
      const own = ownOf(r, point.u, obstacle, found.atFull * bySpeed, q.kind);
      const range = rangeOf(point, r, a, b, at);
      const heard = s === undefined ? { down: 0, up: 0, sd: 0, own: 1 } : heardOf(r, a, b, at, found, bySpeed, used);
      if (range && s !== undefined) withinRange(range, heard, at);
      const value = flow * q.fans;
      if (range) said.push("not unique");
      const extrapolated = point.t > number(5, r) * (1 + READ)
        || Boolean(q.load && !q.own && flow * q.scale > q.load.reach * (1 + READ));
      if (extrapolated) said.push("extrapolated");
      if (at && !at.full && n < speed * (1 - SAME)) said.push("at full setting: its speed behind the obstacle lies under the limit’s");
      if (q.fans > 1) said.push(`modelled for ${q.fans} fans side by side`);
      if (q.tiles !== 1) said.push(`modelled for ${q.tiles} tiles of the obstacle`);
      const tile = q.named && q.named.tile;
      if (tile && data.fans.size[fan] && Math.abs(tile - data.fans.size[fan]) > 0.5)
        said.push(`${q.named.words} measured on a piece of ${Math.round(tile)} mm`);
      const marks = said.filter((each, place) => said.indexOf(each) === place);
      const open_ = Boolean(at && (at.short || at.flags & AT_LEAST));
      return {
        fan, r, s, value, speed: n, marks, shared, bySound: heard.sd * Math.sqrt(Math.max(0, 1 - heard.own)),
        variance: own.variance + heard.sd * heard.sd * heard.own,
        down: Math.sqrt(own.down + heard.down * heard.down * heard.own),
        up: Math.sqrt(own.up + heard.up * heard.up * heard.own),
        heardDown: heard.down * Math.sqrt(Math.max(0, 1 - heard.own)), heardUp: heard.up * Math.sqrt(Math.max(0, 1 - heard.own)),
        parts: own.parts, bound: range ? "range" : open_ ? "at least" : "",
        lowValue: range ? value * range.low : value, highValue: range ? value * range.high : open_ ? Infinity : value,
        deeper: range ? Math.max(0, range.low - range.deep) : 0, higher: range ? Math.max(0, range.rise - range.high) : 0, how: howOf(q, extrapolated, marks),
      };
    }

    function howOf(q, extrapolated, marks) {
      if (q.own || q.fans > 1 || q.tiles !== 1 || extrapolated || marks.some((each) => each.startsWith("modelled"))) return "modelled";
      return q.load || q.each !== null ? "interpolated" : "measured";
    }

    /** Relative loadings on the components. */
    function sharedOf(r, u, n, atFull, bySpeed) {
      const share = between(r, n), out = new Array(dims).fill(0);
      const size = rough.length, plane = records * 2 * size;
      for (let k = 0; k < components; k++) {
        const start = k * plane + r * 2 * size;
        const here = along(rough, air.loadings, start, u) * (1 - share) + along(rough, air.loadings, start + size, u) * share;
        out[k] = scales[k] * (here + atFull * bySpeed * air.fullLoadings[k * records + r]);
      }
      return out;
    }

    /** Relative variance and squared half-widths of what is a fan's own, but for its sound. */
    function ownOf(r, u, obstacle, byFull, kind) {
      const told = data.kinds[kind], counts = data.airflow.counts[r], size = rough.length;
      const reading = (which) => along(rough, air.readings, (which * records + r) * size, u);
      const [sd, down, up] = [reading(0), reading(1), reading(2)];
      const inverse = counts.reduce((sum, each) => sum + 1 / each, 0), samples = counts.length;
      const weight = inverse / samples / samples, full = (byFull * air.fullSd[r]) ** 2 + air.bridged[r] ** 2;
      const sample = air.samples[r * data.kinds.length + kind] ** 2, readings = sd * sd + full;
      const lacking = (times) => Math.max(0, weight * told.mounting ** 2 * times - readings - weight * obstacle);
      const spread = (sample / samples) * told.sampleT ** 2 + lacking(told.mountingFactor) / told.mountingFactor * told.mountingT ** 2;
      return {
        variance: (sample / samples) * told.sampleFactor + lacking(told.mountingFactor) + readings,
        down: spread + down * down + NORMAL * NORMAL * full, up: spread + up * up + NORMAL * NORMAL * full,
        parts: { sample, mounting: Math.max(told.mounting ** 2, readings / weight + obstacle), counts },
      };
    }

    /** What the sound makes of the flow: relative half-widths and standard deviation. */
    function heardOf(r, a, b, at, found, bySpeed, used) {
      const slow = at.flags & LOW_FULL && at.full ? Infinity : at.speed * Math.exp(-at.down);
      const fast = at.flags & HIGH_FULL && !at.short ? Infinity : at.speed * Math.exp(at.up);
      const down = Math.max(0, 1 - meanAt(r, a, b, slow, used).flow / found.flow) * (at.full ? ONE_SIDED : 1);
      const up = Math.max(0, meanAt(r, a, b, fast, used).flow / found.flow - 1);
      const plain = (Math.exp(at.up) - Math.exp(-at.down)) * bySpeed;
      const sd = plain > 0 ? at.sd * bySpeed * clamp((down + up) / plain, 0, 1.5) : 0;
      return { down, up, sd, own: at.own };
    }

    /** A range already holds the flows beyond a jump: the speed does not bring them in a second time. */
    function withinRange(range, heard, at) {
      heard.down = Math.min(heard.down, STEEPEST * (1 - Math.exp(-at.down)));
      heard.up = Math.min(heard.up, STEEPEST * (Math.exp(at.up) - 1));
      range.deep = range.low - Math.sqrt(Math.max(0, (range.low - range.deep) ** 2 - (range.alone ? heard.down ** 2 : 0)));
      range.rise = range.high + Math.sqrt(Math.max(0, (range.rise - range.high) ** 2 - (range.alone ? heard.up ** 2 : 0)));
    }

    /**
     * The range that stands for a value inside the band, as shares of it; null outside. A speed that isn't sure may
     * bring it there too: then the other points lie beyond the interval of a value that itself is the only one.
     */
    function rangeOf({ u, band }, r, a, b, at) {
      if (band === null) return null;
      const place = (x) => clamp((x - band.low) / (band.high - band.low), 0, 1) * (bandKnots - 1);
      const jumps = band.jump > 0, w = jumps ? Math.max(place(u), Math.ceil(place(band.jump))) : place(u);
      const k = Math.min(Math.floor(w), bandKnots - 2);
      const row = (table, n, knot) => table[(band.at * shares + n) * bandKnots + knot];
      const across = (table, knot) => row(table, band.j, knot) * (1 - band.part) + row(table, band.j + 1, knot) * band.part;
      const most = Math.max(...Array.from({ length: bandKnots }, (_, knot) => across(air.deep, knot)));
      if (u >= band.low && u <= band.high) {
        if (jumps && u < band.jump) return { low: 1, high: 1, deep: 1, rise: Math.exp(most), alone: true };
        const [low, high, deep, rise] = [air.low, air.high, air.deep, air.rise]
          .map((table) => across(table, k) * (1 - w + k) + across(table, k + 1) * (w - k));
        return { low: Math.exp(-low), high: Math.exp(high), deep: Math.exp(-deep), rise: Math.exp(rise) };
      }
      if (!at) return null;
      const reach = [at.speed * Math.exp(-at.down), at.speed * Math.exp(at.up)].map((n) => flowAt(r, a, b, n).u);
      const sd = Math.abs(reach[1] - reach[0]) / 2 / NORMAL;
      if (!(sd > 0) || normal((band.high - u) / sd) - normal((band.low - u) / sd) <= SEVERAL_FROM) return null;
      return { low: 1, high: 1, deep: u > band.high ? Math.exp(-most) : 1, rise: u < band.low ? Math.exp(most) : 1, alone: true };
    }

    return { question, fanAt, dims, effects: sound.effects, firstEffect };
  }
  return { open, NORMAL, clamp };
})();
