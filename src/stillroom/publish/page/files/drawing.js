// Line charts by a few dozen lines of our own: curves with bands, limits, points; the words beside the lines.
'use strict';

/**
 * @typedef {{x: number[], y: number[], low?: number[], high?: number[], words?: string, kind: string}} Line
 * @typedef {{x: number, y: number, words: string, low?: number, high?: number, kind: string}} Point
 */

Stillroom.drawing = (function () {
  var P = Stillroom.parts;
  var WIDE = 680;
  var HIGH = 380;
  var NARROW = 300;
  var WIDEST = 780;
  var ROOM = { left: 56, right: 16, top: 16, bottom: 46 };
  var LETTER = 7.2;

  /** How wide drawings are, so that letters keep their size from a phone to a wide window. */
  function wide() {
    return Math.max(NARROW, Math.min(WIDEST, document.documentElement.clientWidth - 40));
  }

  /**
   * A line chart as a figure with its words.
   * @param {{title: string, alt: string, xLabel: string, yLabel: string, lines: Line[], points?: Point[],
   *   levels?: {y: number, words: string}[], bands?: {low: number, high: number, words: string}[],
   *   x?: [number, number], y?: [number, number]}} told
   */
  function chart(told) {
    WIDE = wide();
    HIGH = Math.round(Math.max(280, Math.min(400, WIDE * 0.56)));
    var span = reach(told);
    var xs = P.ticks(span.x[0], span.x[1], WIDE < 500 ? 4 : 7);
    var ys = P.ticks(span.y[0], span.y[1], 6);
    var ends = { x: [xs[0], xs[xs.length - 1]], y: [ys[0], ys[ys.length - 1]] };
    /** @param {number} value */
    function x(value) { return ROOM.left + (value - ends.x[0]) / (ends.x[1] - ends.x[0]) * (WIDE - ROOM.left - ROOM.right); }
    /** @param {number} value */
    function y(value) { return HIGH - ROOM.bottom - (value - ends.y[0]) / (ends.y[1] - ends.y[0]) * (HIGH - ROOM.top - ROOM.bottom); }
    /** @type {any[]} */ var taken = [];
    var parts = [].concat(
      /** @type {any} */ ((told.bands || []).map(function (band) { return avoided(band, x, y, ends, taken); })),
      /** @type {any} */ (frame(xs, ys, x, y, told)),
      /** @type {any} */ (told.lines.filter(function (l) { return l.low; }).map(function (l) { return ribbon(l, x, y); })),
      /** @type {any} */ (told.lines.map(function (l) { return P.svg('path', { d: path(l.x, l.y, x, y), class: 'line ' + l.kind }); })),
      /** @type {any} */ ((told.levels || []).map(function (level) { return limit(level, x, y, ends, taken); })),
      /** @type {any} */ ((told.points || []).map(function (point) { return dot(point, x, y, taken); })),
      /** @type {any} */ (told.lines.map(function (l) { return named(l, x, y, taken); })));
    return P.el('div', { class: 'chart' }, P.fill(P.svg('svg', { viewBox: '0 0 ' + WIDE + ' ' + HIGH, role: 'img',
      'aria-label': told.alt, class: 'plot', focusable: 'false' }), {}, parts));
  }

  /** @param {any} told */
  function reach(told) {
    /** @param {number[]} some */
    function ends(some) {
      return [Math.min.apply(null, some), Math.max.apply(null, some)];
    }
    /** @type {number[]} */ var xs = [];
    /** @type {number[]} */ var ys = [];
    told.lines.forEach(function (/** @type {Line} */ l) { if (l.kind !== 'load') { xs = xs.concat(l.x); ys = ys.concat(l.y, l.high || [], l.low || []); } });
    (told.points || []).forEach(function (/** @type {Point} */ p) { xs.push(p.x); ys.push(p.y); });
    (told.levels || []).forEach(function (/** @type {any} */ each) { ys.push(each.y); });
    return { x: told.x || ends(xs), y: told.y || ends(ys) };
  }

  /** @param {number[]} xs @param {number[]} ys @param {any} x @param {any} y @param {any} told */
  function frame(xs, ys, x, y, told) {
    var right = x(xs[xs.length - 1]);
    var bottom = y(ys[0]);
    var xWords = P.tickWords(xs);
    var yWords = P.tickWords(ys);
    return ys.map(function (tick, at) {
      return P.svg('g', { class: 'grid' }, P.svg('line', { x1: x(xs[0]), x2: right, y1: y(tick), y2: y(tick) }),
        P.svg('text', { x: ROOM.left - 8, y: y(tick) + 4, 'text-anchor': 'end' }, yWords[at]));
    }).concat(xs.map(function (tick, at) {
      return P.svg('g', { class: 'grid' }, P.svg('line', { x1: x(tick), x2: x(tick), y1: bottom, y2: bottom + 4 }),
        P.svg('text', { x: x(tick), y: bottom + 18, 'text-anchor': at === xs.length - 1 ? 'end' : 'middle' }, xWords[at]));
    }), [P.svg('line', { class: 'base', x1: x(xs[0]), x2: right, y1: bottom, y2: bottom }),
      P.svg('text', { class: 'label', x: right, y: HIGH - 8, 'text-anchor': 'end' }, told.xLabel),
      P.svg('text', { class: 'label', x: ROOM.left + 6, y: ROOM.top - 3 }, told.yLabel)]);
  }

  /** @param {number[]} xs @param {number[]} ys @param {any} x @param {any} y */
  function path(xs, ys, x, y) {
    return xs.map(function (each, at) { return (at ? 'L' : 'M') + x(each).toFixed(1) + ' ' + y(ys[at]).toFixed(1); }).join('');
  }

  /** @param {any} l @param {any} x @param {any} y */
  function ribbon(l, x, y) {
    var back = l.x.slice().reverse();
    var low = l.low.slice().reverse();
    return P.svg('path', { class: 'ribbon ' + l.kind, d: path(l.x, l.high, x, y) + path(back, low, x, y).replace('M', 'L') + 'Z' });
  }

  /** @param {any} band @param {any} x @param {any} y @param {any} ends @param {any[]} taken */
  function avoided(band, x, y, ends, taken) {
    var left = x(Math.max(band.low, ends.x[0]));
    var right = x(Math.min(band.high, ends.x[1]));
    var top = y(ends.y[1]);
    return P.svg('g', { class: 'avoid' }, P.svg('rect', { x: left, width: Math.max(1, right - left), y: top, height: y(ends.y[0]) - top }),
      text(band.words, (left + right) / 2, top + 16, 'middle', taken));
  }

  /** @param {any} level @param {any} x @param {any} y @param {any} ends @param {any[]} taken */
  function limit(level, x, y, ends, taken) {
    return P.svg('g', { class: 'limit' }, P.svg('line', { x1: x(ends.x[0]), x2: x(ends.x[1]), y1: y(level.y), y2: y(level.y) }),
      text(level.words, x(ends.x[0]) + 6, y(level.y) - 6, 'start', taken));
  }

  /** @param {Point} point @param {any} x @param {any} y @param {any[]} taken */
  function dot(point, x, y, taken) {
    var low = point.low === undefined ? point.x : point.low;
    var high = point.high === undefined ? point.x : point.high;
    var place = x(point.x) > WIDE * 0.6 ? 'end' : 'start';
    return P.svg('g', { class: 'dot ' + point.kind }, high > low ? P.svg('line', { x1: x(low), x2: x(high), y1: y(point.y), y2: y(point.y) }) : null,
      P.svg('circle', { cx: x(point.x), cy: y(point.y), r: point.words ? 5 : 3 }),
      point.words ? text(point.words, x(point.x) + (place === 'end' ? -8 : 8), y(point.y) + 20, place, taken) : null);
  }

  /** A line's words where it ends, within the frame. @param {Line} l @param {any} x @param {any} y @param {any[]} taken */
  function named(l, x, y, taken) {
    if (!l.words) return null;
    var shown = l.x.map(function (each, at) { return [x(each), y(l.y[at])]; }).filter(function (each) {
      return each[0] <= WIDE - ROOM.right + 1 && each[1] >= ROOM.top - 1;
    });
    if (!shown.length) return null;
    var isEnd = l.kind === 'load';
    var place = isEnd ? shown[shown.length - 1] : shown[Math.min(shown.length - 1, Math.round(shown.length * 0.12))];
    var anchor = isEnd && place[0] > WIDE * 0.4 ? 'end' : 'start';
    return P.svg('g', { class: 'named ' + l.kind }, text(l.words, place[0] + (anchor === 'end' ? -8 : 8), place[1] + (isEnd ? -6 : -8), anchor, taken));
  }

  /** A text that moves down until it lies over no other. @param {string} words @param {number} x @param {number} y @param {string} anchor @param {any[]} taken */
  function text(words, x, y, anchor, taken) {
    var wide = words.length * LETTER;
    var left = anchor === 'end' ? x - wide : anchor === 'middle' ? x - wide / 2 : x;
    if (left < ROOM.left) { left = ROOM.left + 2; x = anchor === 'end' ? left + wide : anchor === 'middle' ? left + wide / 2 : left; }
    if (left + wide > WIDE) { left = WIDE - wide; x = anchor === 'end' ? WIDE : anchor === 'middle' ? left + wide / 2 : left; }
    y = Math.max(y, ROOM.top + 8);
    for (var tries = 0; tries < 20 && taken.some(function (b) { return left < b[0] + b[2] && left + wide > b[0] && Math.abs(y - b[1]) < 16; }); tries += 1) {
      y += 8;
    }
    taken.push([left, y, wide]);
    return P.svg('text', { x: x, y: y, 'text-anchor': anchor }, words);
  }

  return { chart: chart, wide: wide };
})();
