// A fan's curves: pressure against airflow with the chosen obstacle, level against speed with the limit, speed
// against its setting, temperature rise against speed. Each with its numbers in a table.
'use strict';

Stillroom.curves = (function () {
  var P = Stillroom.parts;
  var W = Stillroom.words;
  var C = Stillroom.conditions;
  var RPM = 60;
  var LOAD_POINTS = 60;

  /** A figure: drawing, words below it, its numbers for those who want them. */
  function figure(/** @type {any} */ drawing, /** @type {string[]} */ words, /** @type {any} */ table) {
    return P.el('figure', {}, drawing, P.fill(P.el('figcaption', {}), {}, words.filter(Boolean).map(function (each) { return P.el('p', {}, each); })),
      table ? P.el('details', { class: 'numbers' }, P.el('summary', {}, 'The numbers'), table) : null);
  }

  /** @param {number[]} all @param {number} by */
  function scaled(all, by) { return all.map(function (each) { return each * by; }); }

  /** @param {any} fan @param {any} s @param {any} est @param {any} release @param {any} row the fan's answer, or null */
  function pressure(fan, s, est, release, row) {
    var told = fan.curves;
    if (!told || told.why) return P.el('p', {}, P.el('em', {}, 'unknown'), ': ' + (told ? told.why : 'not measured') + '.');
    var q = C.unit(s, release, 'flow');
    var p = C.unit(s, release, 'pressure');
    var lines = told.lines.map(function (/** @type {any} */ l, /** @type {number} */ at) {
      return { x: scaled(l.flow, 1 / q.factor), y: scaled(l.pressure, 1 / p.factor), low: scaled(l.low, 1 / p.factor), high: scaled(l.high, 1 / p.factor),
        words: l.words, kind: at ? 'second' : 'first' };
    });
    var reach = Math.max.apply(null, told.lines.map(function (/** @type {any} */ l) { return Math.max.apply(null, l.flow); }));
    var top = Math.max.apply(null, told.lines.map(function (/** @type {any} */ l) { return Math.max.apply(null, l.high); }));
    var load = loadLine(s, est, reach, top);
    if (load) lines.push({ x: scaled(load.flow, 1 / q.factor), y: scaled(load.pressure, 1 / p.factor), words: load.words, kind: 'load' });
    var isOne = s.fans === 1 && row && load;
    var points = isOne ? [{ x: row.value / q.factor, y: (load.a * row.value + load.b * row.value * row.value) / p.factor, low: (row.low === null ? row.value : row.low) / q.factor,
      high: (row.high === null ? row.value : row.high) / q.factor, words: C.value(row, q), kind: 'met' }] : [];
    var answer = isOne ? C.setting(s) + ' ' + C.through(s, est) + ': ' + C.value(row, q) + ' (' + C.interval(row.low, row.high, q) + '), ' + row.how + '.' : '';
    var drawing = Stillroom.drawing.chart({ title: 'PQ', alt: 'Static pressure against airflow of ' + fan.name + '. ' + alt(told, q, p) + ' ' + answer,
      xLabel: 'Airflow, ' + q.symbol, yLabel: 'Static pressure, ' + p.symbol, lines: lines, points: points,
      x: [0, reach / q.factor], y: [0, top / p.factor] });
    return figure(drawing, [answer, told.where + (s.fans > 1 ? ' One fan alone is drawn.' : '')], pressureTable(told, q, p, fan.name));
  }

  /** What the chosen obstacle asks for: Δp = a Q + b Q², within the frame. @param {any} s @param {any} est @param {number} reach @param {number} top */
  function loadLine(s, est, reach, top) {
    var named = Stillroom.settings.named(est, s.through);
    var r = s.own || (named && typeof named.a === 'number' ? named : null);
    if (!r || (!r.a && !r.b)) return null;
    var flow = [];
    for (var at = 0; at <= LOAD_POINTS; at += 1) flow.push(reach * at / LOAD_POINTS);
    flow = flow.filter(function (f) { return r.a * f + r.b * f * f <= top; });
    return { a: r.a, b: r.b, flow: flow, pressure: flow.map(function (f) { return r.a * f + r.b * f * f; }), words: C.through(s, est).replace(/^through /, '') };
  }

  /** @param {any} told @param {any} q @param {any} p */
  function alt(told, q, p) {
    return told.lines.map(function (/** @type {any} */ l) {
      var last = l.flow.length - 1;
      return W.sentence(l.words + ' from ' + W.withUnit(W.bare(l.pressure[0] / p.factor), p.symbol) + ' at no airflow to ' + W.withUnit(W.bare(l.flow[last] / q.factor), q.symbol));
    }).join(' ');
  }

  /** @param {any} told @param {any} q @param {any} p @param {string} name */
  function pressureTable(told, q, p, name) {
    /** @type {any[]} */ var rows = [];
    told.lines.forEach(function (/** @type {any} */ l) {
      l.flow.forEach(function (/** @type {number} */ flow, /** @type {number} */ at) {
        if (at % 3 && at !== l.flow.length - 1) return;
        rows.push([l.words, W.bare(flow / q.factor), W.rounded(l.pressure[at] / p.factor, l.low[at] / p.factor, l.high[at] / p.factor), C.interval(l.low[at], l.high[at], p)]);
      });
    });
    return P.table('Pressure against airflow of ' + name, ['Curve', 'Airflow, ' + q.symbol, 'Pressure, ' + p.symbol, '95 % interval'], rows, [1, 2, 3]);
  }

  /** The level's line cut where it begins or ends to be a bound: those stretches are dotted and have no band. @param {any} told @param {number[]} rpm */
  function stretches(told, rpm) {
    /** @type {any[]} */ var found = [];
    for (var first = 0, end; first < rpm.length; first = end) {
      for (end = first + 1; end < rpm.length && told.bound[end] === told.bound[first];) end += 1;
      var isBound = told.bound[first];
      var from = Math.max(0, first - 1);
      if (end - from > 1) {
        found.push({ x: rpm.slice(from, end), y: told.level.slice(from, end), kind: isBound ? 'atmost' : 'first',
          words: isBound && !found.some(function (each) { return each.words; }) ? 'at most' : '' });
      }
      if (!isBound && end - first > 1) {
        found.push({ x: rpm.slice(first, end), y: told.level.slice(first, end), low: told.low.slice(first, end), high: told.high.slice(first, end), kind: 'band' });
      }
    }
    return found;
  }

  /** @param {any} fan @param {any} s */
  function level(fan, s) {
    var told = fan.sound;
    if (!told || told.why) return P.el('p', {}, P.el('em', {}, 'unknown'), ': ' + (told ? told.why : 'not measured') + '.');
    var rpm = scaled(told.speed, RPM);
    var points = told.points.map(function (/** @type {any} */ each) { return { x: each[0] * RPM, y: each[1], words: '', kind: each[2] ? 'bound' : 'read' }; });
    var levels = s.full ? [] : [{ y: s.limit, words: 'your limit, ' + W.withUnit(String(s.limit), 'dBA') }];
    if (told.floor !== null) levels.push({ y: told.floor, words: 'noise floor' });
    var drawing = Stillroom.drawing.chart({ title: 'level', alt: told.alt, xLabel: 'Speed, rpm', yLabel: 'Level, dBA ' + told.at,
      lines: stretches(told, rpm), points: points, levels: levels,
      bands: told.avoid.map(function (/** @type {any} */ band) { return { low: band.low * RPM, high: band.high * RPM, words: band.words }; }) });
    var rows = told.speed.map(function (/** @type {number} */ speed, /** @type {number} */ at) {
      return [C.rpm(speed), (told.bound[at] ? 'at most ' : '') + W.rounded(told.level[at], told.low[at], told.high[at]), W.interval(told.low[at], told.high[at])];
    }).filter(function (/** @type {any} */ _, /** @type {number} */ at) { return at % 4 === 0 || at === told.speed.length - 1; });
    return figure(drawing, [told.title + '.', told.where].concat(told.notes),
      P.table('Level against speed of ' + fan.name, ['Speed', 'Level, dBA ' + told.at, '95 % interval'], rows, [0, 1, 2]));
  }

  /** @param {any} fan */
  function response(fan) {
    var told = fan.control;
    if (!told || told.why) return P.el('p', {}, P.el('em', {}, 'unknown'), ': ' + (told ? told.why : 'not measured') + '.');
    var drawing = Stillroom.drawing.chart({ title: 'response', alt: told.alt, xLabel: told.x + ', ' + told.unit, yLabel: 'Speed, rpm',
      lines: told.lines.map(function (/** @type {any} */ l, /** @type {number} */ at) { return { x: l.setting, y: l.speed, words: l.words, kind: at ? 'second' : 'first' }; }) });
    /** @type {any[]} */ var rows = [];
    told.lines.forEach(function (/** @type {any} */ l) {
      l.setting.forEach(function (/** @type {number} */ each, /** @type {number} */ at) { rows.push([l.words, W.withUnit(W.bare(each), told.unit), C.rpm(l.speed[at] / RPM)]); });
    });
    return figure(drawing, [told.title + '.', told.marks.length ? W.sentence(told.marks.join('; ')) : ''].concat(told.notes),
      P.table('Speed against its setting of ' + fan.name, ['Direction', told.x, 'Speed'], rows, [1, 2]));
  }

  /** @param {any} fan */
  function heat(fan) {
    var told = fan.heat;
    if (!told || told.why) return P.el('p', {}, P.el('em', {}, 'unknown'), ': ' + (told ? told.why : 'not measured') + '.');
    var points = told.steps.map(function (/** @type {any} */ each) { return { x: each.speed * RPM, y: each.rise, words: '', kind: each.how === 'measured' ? 'read' : 'bound' }; });
    var drawing = Stillroom.drawing.chart({ title: 'heat', alt: told.alt, xLabel: 'Speed, rpm', yLabel: 'Temperature rise, K', lines: [], points: points });
    var rows = told.steps.map(function (/** @type {any} */ each) {
      return [each.mounting, C.rpm(each.speed), W.rounded(each.rise, each.low, each.high), W.interval(each.low, each.high), each.how];
    });
    return figure(drawing, [told.where], P.table('Temperature rise of ' + fan.name, ['Mounting', 'Speed', 'Rise, K', '95 % interval of its readings', 'How'], rows, [1, 2, 3]));
  }

  return { pressure: pressure, level: level, response: response, heat: heat };
})();
