// What the reader has chosen, and the same in the link: a link that is opened gives the same answer. A link is
// somebody else's text: what it says is taken only where it is one of the choices, or a number within its range.
'use strict';

/**
 * @typedef {{size: number, through: string, own: {a: number, b: number}|null, told: string, ab: [string, string],
 *   limit: number, full: boolean, ceiling: number|null, fans: number, tiled: boolean, only: string,
 *   flow: string, pressure: string, table: boolean, beyond: number|null}} Settings `beyond`: a limit that a link told and nobody measured
 */

Stillroom.settings = (function () {
  var OWN = 'own';
  var COEFFICIENTS = 'coefficients';
  var MOST_FANS = 9;
  var MOST_RESISTANCE = 1e9;

  /** @param {any} est @param {any} release @returns {Settings} */
  function usual(est, release) {
    var limits = est.limits;
    var middle = hasLimits(est) ? Math.round((limits.low + limits.high) / 2) : 0;
    var wanted = release.usual || {};
    var through = named(est, wanted.through) ? wanted.through : (est.obstacles[0] || { name: '' }).name;
    return {
      size: est.sizes.indexOf(wanted.size) >= 0 ? wanted.size : est.sizes[0],
      through: through, own: null, told: '', ab: ['', ''],
      limit: within(wanted.limit, limits.low, limits.high) ? wanted.limit : middle,
      full: !hasLimits(est), ceiling: null, fans: 1, tiled: false, only: '',
      flow: release.shown.flow, pressure: release.shown.pressure, table: false, beyond: null
    };
  }

  /** Whether the release knows any fan's sound. @param {any} est */
  function hasLimits(est) {
    return typeof est.limits.low === 'number' && typeof est.limits.high === 'number';
  }

  /** @param {any} est @param {string} name */
  function named(est, name) {
    return est.obstacles.filter(function (/** @type {any} */ each) { return each.name === name; })[0] || null;
  }

  /** @param {*} value @param {number} low @param {number} high */
  function within(value, low, high) {
    return typeof value === 'number' && isFinite(value) && value >= low && value <= high;
  }

  /** A number as a person writes it; NaN for anything else. @param {string|null} text @returns {number} */
  function numeral(text) {
    var plain = (text || '').trim().replace(/[\u2009\u202f\u00a0 ]/g, '').replace(/^(\d*),(\d+)$/, '$1.$2');
    return /^\d*\.?\d+(e-?\d+)?$|^\d+\.$/i.test(plain) ? parseFloat(plain) : NaN;
  }

  /**
   * "20 Pa at 60 m³/h" as a resistance Δp = k Q², or why it can't be read.
   * @param {string} text @param {any} release
   * @returns {{a: number, b: number}|string}
   */
  function resistance(text, release) {
    var hit = /^\s*([\d.,e-]+)\s*(\S+)\s+(?:at|@)\s+([\d.,e-]+)\s*(\S+)\s*$/i.exec(text);
    if (!hit) return 'Write a pressure and a flow, such as “20 Pa at 60 m³/h”.';
    var pressure = unitNamed(release.units.pressure, hit[2]);
    var flow = unitNamed(release.units.flow, hit[4]);
    var drop = numeral(hit[1]);
    var at = numeral(hit[3]);
    if (!pressure) return '“' + hit[2] + '” is no unit of pressure here: ' + symbols(release.units.pressure) + '.';
    if (!flow) return '“' + hit[4] + '” is no unit of flow here: ' + symbols(release.units.flow) + '.';
    if (!(drop >= 0) || !(at > 0)) return 'Both must be numbers, the flow above zero.';
    var b = drop * pressure.factor / Math.pow(at * flow.factor, 2);
    return b <= MOST_RESISTANCE ? { a: 0, b: b } : 'Nothing gets through so dense an obstacle.';
  }

  /**
   * Coefficients a and b of Δp = a Q + b Q², in the units shown, as a resistance in SI; or why they can't be read.
   * @param {[string, string]} ab @param {any} release @param {Settings} s
   * @returns {{a: number, b: number}|string}
   */
  function coefficients(ab, release, s) {
    var pressure = unitNamed(release.units.pressure, s.pressure).factor;
    var flow = unitNamed(release.units.flow, s.flow).factor;
    var a = ab[0].trim() === '' ? 0 : numeral(ab[0]) * pressure / flow;
    var b = ab[1].trim() === '' ? 0 : numeral(ab[1]) * pressure / (flow * flow);
    if (!(a >= 0 && b >= 0 && isFinite(a + b))) return 'Both must be numbers, none below zero.';
    if (a === 0 && b === 0) return 'One of the two must be above zero.';
    return a <= MOST_RESISTANCE && b <= MOST_RESISTANCE ? { a: a, b: b } : 'Nothing gets through so dense an obstacle.';
  }

  /** @param {any[]} units @param {string} word */
  function unitNamed(units, word) {
    var plain = word.toLowerCase().replace('³', '3').replace('₂', '2');
    return units.filter(function (each) { return each.words.indexOf(plain) >= 0; })[0] || null;
  }

  /** @param {any[]} units */
  function symbols(units) {
    return units.map(function (each) { return each.symbol; }).join(' or ');
  }

  /** The resistance that the reader told, or null; an error is left to the form. @param {Settings} s @param {any} release */
  function own(s, release) {
    var found = null;
    if (s.through === OWN) found = resistance(s.told, release);
    if (s.through === COEFFICIENTS) found = coefficients(s.ab, release, s);
    return typeof found === 'string' ? null : found;
  }

  /** The settings as a link says them; what is usual is left out. @param {Settings} s @param {any} est @param {any} release */
  function asLink(s, est, release) {
    var told = usual(est, release);
    var said = new URLSearchParams();
    if (s.size !== told.size) said.set('size', String(s.size));
    if (s.through !== told.through) said.set('through', s.through === '' ? 'free air' : s.through);
    if (s.through === OWN) said.set('resistance', s.told);
    if (s.through === COEFFICIENTS) { said.set('a', s.ab[0]); said.set('b', s.ab[1]); }
    if (s.full) said.set('noise', 'any');
    else said.set('noise', String(s.limit));
    if (s.ceiling !== null) said.set('price', String(s.ceiling));
    if (s.fans !== 1) said.set('fans', String(s.fans));
    if (s.fans !== 1 && s.tiled) said.set('area', 'each');
    if (s.only) said.set('only', s.only);
    if (s.flow !== told.flow) said.set('flow', s.flow);
    if (s.pressure !== told.pressure) said.set('pressure', s.pressure);
    if (s.table) said.set('as', 'table');
    return said.toString();
  }

  /** The settings that a link tells, the usual ones where it tells none. @param {string} text @param {any} est @param {any} release @returns {Settings} */
  function fromLink(text, est, release) {
    var s = usual(est, release);
    var said = new URLSearchParams(text.slice(0, 2000));
    var size = numeral(said.get('size'));
    if (est.sizes.indexOf(size) >= 0) s.size = size;
    var through = said.get('through');
    if (through === 'free air') s.through = '';
    else if (through === OWN || through === COEFFICIENTS || (through && named(est, through))) s.through = through;
    if (said.has('resistance')) s.told = (said.get('resistance') || '').slice(0, 60);
    s.ab = [(said.get('a') || '').slice(0, 20), (said.get('b') || '').slice(0, 20)];
    s.full = said.get('noise') === 'any' || !hasLimits(est);
    var limit = numeral(said.get('noise'));
    if (hasLimits(est) && within(limit, est.limits.low, est.limits.high)) s.limit = limit;
    else if (!s.full && isFinite(limit)) {
      s.beyond = limit;
      s.limit = limit < est.limits.low ? est.limits.low : est.limits.high;
    }
    var ceiling = numeral(said.get('price'));
    if (within(ceiling, 0, 1e6)) s.ceiling = ceiling;
    var fans = numeral(said.get('fans'));
    if (within(fans, 1, MOST_FANS) && Number.isInteger(fans)) s.fans = fans;
    s.tiled = said.get('area') === 'each';
    s.only = (said.get('only') || '').slice(0, 300);
    ['flow', 'pressure'].forEach(function (kind) {
      var unit = unitNamed(release.units[kind], said.get(kind) || '');
      if (unit) /** @type {any} */ (s)[kind] = unit.symbol;
    });
    s.table = said.get('as') === 'table';
    s.own = own(s, release);
    return s;
  }

  /** The same for the estimate. @param {Settings} s @param {any} est */
  function asked(s, est) {
    var isOwn = s.through === OWN || s.through === COEFFICIENTS;
    return {
      size: s.size, obstacle: isOwn ? '' : s.through, resistance: isOwn ? s.own : null,
      limit: s.full ? null : s.limit, fans: s.fans, tiles: s.fans > 1 && s.tiled ? s.fans : 1,
      ceiling: s.ceiling, only: s.only.trim() ? matching(s.only, est) : null
    };
  }

  /** The fans whose name holds one of the words that were told, parted by commas. @param {string} only @param {any} est @returns {number[]} */
  function matching(only, est) {
    var words = only.split(',').map(function (each) { return each.trim().toLowerCase(); }).filter(Boolean);
    return est.fans.filter(function (/** @type {any} */ fan) {
      var name = (fan.name + ' ' + (fan.maker || '')).toLowerCase();
      return words.some(function (word) { return name.indexOf(word) >= 0; });
    }).map(function (/** @type {any} */ fan) { return fan.index; });
  }

  return { OWN: OWN, hasLimits: hasLimits, COEFFICIENTS: COEFFICIENTS, MOST_FANS: MOST_FANS, usual: usual, named: named, within: within,
    numeral: numeral, resistance: resistance, coefficients: coefficients, own: own, asLink: asLink,
    fromLink: fromLink, asked: asked, unitNamed: unitNamed };
})();
